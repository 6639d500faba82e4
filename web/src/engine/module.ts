// The bedside's module (src/app/engine/exports.cc): one instance, its memory and its calls. It decides what a
// deed does, what a log says and what there was to hear; the pages draw what comes back.
import { type HeardEvent, kHeardEventLength, kNowLength, type LogEntry, type Now, type Questions, readHeardEvent,
  readNow } from '../generated/bedside';

// The rate the pages play at; replay uses it too, so that the samples are the same.
export const kEngineRate_hz = 48000;

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  phren_space(bytes: number): number;
  phren_error(): number;
  phren_sites(bytes: number): number;
  phren_make(packetBytes: number, logBytes: number, seed: number, rateHz: number): number;
  phren_perform(bytes: number): number;
  phren_ask(bytes: number): number;
  phren_run_to(timeS: number): void;
  phren_relived(): number;
  phren_render(frames: number): number;
  phren_state(): number;
  phren_seen(): number;
  phren_seen_length(): number;
  phren_drain(): number;
  phren_events(): number;
  phren_round_make(packetBytes: number, seed: number, rateHz: number): number;
  phren_round_hear(bytes: number): number;
  phren_round_allow(take: number, step: number, last: number): void;
  phren_round_standing(): number;
  phren_round_catch_up(): void;
  phren_round_live_again(): void;
}

export interface PlacedSite {
  id: string;
  name: string;
  aspect: string;
  u: number;
  v: number;
}
export interface Setup {
  wasm: ArrayBuffer;
  packet: ArrayBuffer; // the patient and what lies around, as the server packs it
  seed: number;
  sites: readonly PlacedSite[];
  history: readonly LogEntry[]; // what was done already
  untilS: number; // and until when
}

// The module needs no system; whatever it imports answers "not available".
export function noSystem(module: WebAssembly.Module): WebAssembly.Imports {
  const imports: Record<string, Record<string, () => number>> = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) {
    (imports[name] ??= {})[call] = () => 52;
  }
  return imports;
}

// Worklets have neither TextEncoder nor TextDecoder.
function bytesOf(text: string): Uint8Array {
  const escaped = unescape(encodeURIComponent(text));
  return Uint8Array.from(escaped, (c) => c.charCodeAt(0));
}

export class BedsideModule {
  private readonly calls: Exports;

  // In a worker or a worklet.
  static start(wasm: ArrayBuffer): BedsideModule {
    const module = new WebAssembly.Module(wasm);
    return new BedsideModule(new WebAssembly.Instance(module, noSystem(module)));
  }
  // In a page.
  static async load(wasm: ArrayBuffer): Promise<BedsideModule> {
    const module = await WebAssembly.compile(wasm);
    return new BedsideModule(await WebAssembly.instantiate(module, noSystem(module)));
  }
  private constructor(instance: WebAssembly.Instance) {
    this.calls = instance.exports as unknown as Exports;
    this.calls._initialize();
  }

  setSites(sites: readonly PlacedSite[]): void {
    const list = sites.map(({ id, name, aspect, u, v }) => ({ id, name, aspect, u, v }));
    if (this.calls.phren_sites(this.give(bytesOf(JSON.stringify(list)))) !== 0) throw this.error();
  }
  // Throws an Error that says why the patient could not be made.
  make(setup: Setup, rateHz: number): void {
    this.setSites(setup.sites);
    const log = bytesOf(JSON.stringify(setup.history)), packet = new Uint8Array(setup.packet);
    const both = new Uint8Array(packet.length + log.length);
    both.set(packet);
    both.set(log, packet.length);
    this.give(both);
    if (this.calls.phren_make(packet.length, log.length, setup.seed, rateHz) !== 0) {
      throw new Error('The patient could not be made: ' + this.error().message);
    }
  }
  // ---- a round: one body, a whole room ----

  makeRound({ sites, packet, seed }: { sites: readonly PlacedSite[]; packet: ArrayBuffer; seed: number },
    rateHz: number): void
  {
    this.setSites(sites);
    if (this.calls.phren_round_make(this.give(new Uint8Array(packet)), seed, rateHz) !== 0) {
      throw new Error('The patient could not be made: ' + this.error().message);
    }
  }
  // The number of the line that is waited for next.
  roundHear(lines: readonly unknown[]): number {
    const next = this.calls.phren_round_hear(this.give(bytesOf(JSON.stringify(lines))));
    if (next < 0) throw this.error();
    return next;
  }
  roundAllow(take: number, step: number, last: number): void {
    this.calls.phren_round_allow(take, step, last);
  }
  roundStanding() {
    const n = new Float64Array(this.calls.memory.buffer, this.calls.phren_round_standing(), 10);
    const hex = (part: number) => part.toString(16).padStart(8, '0');
    return { take: n[0]!, step: n[1]!, allowed: n[2]!, isPlaying: n[3] === 1, hasTakenUp: n[4] === 1,
      sum: n[5] === 1 ? { take: n[6]!, step: n[7]!, sum: hex(n[8]!) + hex(n[9]!) } : null };
  }
  roundCatchUp(): void {
    this.calls.phren_round_catch_up();
  }
  roundLiveAgain(): void {
    this.calls.phren_round_live_again();
  }

  // The line as it stands in the log, with the time at which it was done.
  perform(entry: LogEntry): LogEntry {
    return JSON.parse(this.text(this.calls.phren_perform(this.give(bytesOf(JSON.stringify(entry)))))) as LogEntry;
  }
  ask<K extends keyof Questions>(what: K, needs: Questions[K]['needs']): Questions[K]['answer'] {
    const question = bytesOf(JSON.stringify({ ask: what, ...needs }));
    return JSON.parse(this.text(this.calls.phren_ask(this.give(question)))) as Questions[K]['answer'];
  }
  runTo(timeS: number): void {
    this.calls.phren_run_to(timeS);
  }
  relived<T>(): T {
    return JSON.parse(this.text(this.calls.phren_relived())) as T;
  }
  // Lies in the module's memory until the next call.
  render(frames: number): Float32Array {
    return new Float32Array(this.calls.memory.buffer, this.calls.phren_render(frames), frames);
  }
  now(): Now {
    return readNow(new Float64Array(this.calls.memory.buffer, this.calls.phren_state(), kNowLength));
  }
  // What figure.wasm is to show: a row of numbers that the pages only carry.
  seen(): Float64Array {
    return new Float64Array(this.calls.memory.buffer, this.calls.phren_seen(), this.calls.phren_seen_length()).slice();
  }
  // The truth events since the last call.
  drain(): HeardEvent[] {
    const count = this.calls.phren_drain();
    const numbers = new Float64Array(this.calls.memory.buffer, this.calls.phren_events(), count * kHeardEventLength);
    return Array.from({ length: count }, (_, i) => readHeardEvent(numbers, i * kHeardEventLength));
  }

  // Everything the encounter is at one moment lies in the module's memory.
  moment(): ArrayBuffer {
    return this.calls.memory.buffer.slice(0);
  }
  // Back, or on, to a moment of this same encounter.
  go(to: ArrayBuffer): void {
    const { memory } = this.calls;
    const missing = to.byteLength - memory.buffer.byteLength;
    if (missing > 0) memory.grow(missing / 65536);
    new Uint8Array(memory.buffer).set(new Uint8Array(to));
  }

  private give(bytes: Uint8Array): number {
    const at = this.calls.phren_space(bytes.length);
    new Uint8Array(this.calls.memory.buffer, at, bytes.length).set(bytes);
    return bytes.length;
  }
  private error(): Error {
    return new Error(this.textAt(this.calls.phren_error()));
  }
  private text(at: number): string {
    const text = this.textAt(at);
    if (!text) throw this.error();
    return text;
  }
  private textAt(at: number): string {
    const bytes = new Uint8Array(this.calls.memory.buffer);
    let escaped = '';
    for (let i = at; bytes[i]; i++) escaped += String.fromCharCode(bytes[i]!);
    return decodeURIComponent(escape(escaped));
  }
}
