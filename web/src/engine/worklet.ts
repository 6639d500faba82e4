// The audio worklet: holds the engine and makes its sound, one render quantum at a time.
import type { FromEngine, HeardEvent, LobeNow, Now, ToEngine } from './protocol';
import { sounds } from './protocol';

declare const sampleRate: number;
declare class AudioWorkletProcessor { readonly port: MessagePort }
declare function registerProcessor(name: string, processor: new () => AudioWorkletProcessor): void;

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  phren_config_space(count: number): number;
  phren_make(seed: number, rateHz: number): number;
  phren_error(): number;
  phren_place(aspect: number, u: number, v: number): void;
  phren_lift(): void;
  phren_head(isBell: number): void;
  phren_cloth(thickness: number): void;
  phren_room(kind: number): void;
  phren_act(kind: number, index: number, side: number, seconds: number): number;
  phren_skip(seconds: number): void;
  phren_render(frames: number): number;
  phren_percuss(aspect: number, u: number, v: number): number;
  phren_state(): number;
  phren_findings(): number;
  phren_drain(): number;
  phren_events(): number;
}

const kReportFrames = 1024;
const kStateLength = 59;  // the first of src/app/engine/readout.h, all that is shown here

// The module needs no system; whatever it imports answers "not available".
function noSystem(module: WebAssembly.Module): WebAssembly.Imports {
  const imports: Record<string, Record<string, () => number>> = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) (imports[name] ??= {})[call] = () => 52;
  return imports;
}

class EngineProcessor extends AudioWorkletProcessor {
  private engine: Exports | null = null;
  private isPaused = false;
  private block = new Float32Array(kReportFrames);
  private filled = 0;

  constructor() {
    super();
    this.port.onmessage = (event: MessageEvent<ToEngine>) => this.hear(event.data);
  }

  private say(message: FromEngine, transfer: Transferable[] = []): void { this.port.postMessage(message, transfer); }

  private hear(message: ToEngine): void {
    if (message.do === 'start') { this.start(message.wasm, message.config, message.seed); return; }
    const engine = this.engine;
    if (!engine) return;
    switch (message.do) {
      case 'place': engine.phren_place(message.aspect, message.u, message.v); break;
      case 'lift': engine.phren_lift(); break;
      case 'head': engine.phren_head(message.isBell ? 1 : 0); break;
      case 'cloth': engine.phren_cloth(message.thickness); break;
      case 'room': engine.phren_room(message.kind); break;
      case 'percuss': engine.phren_percuss(message.aspect, message.u, message.v); break;
      case 'act': engine.phren_act(message.kind, message.index, message.side, message.seconds); break;
      case 'look': this.say({ say: 'signs', signs: JSON.parse(this.textAt(engine, engine.phren_findings())) as Record<string, number>, answers: message.finding }); break;
      case 'pause': this.isPaused = message.isPaused; break;
      case 'step': engine.phren_skip(message.seconds); this.report(); break;
      default: break;
    }
  }

  private start(wasm: ArrayBuffer, config: ArrayBuffer, seed: number): void {
    try {
      const module = new WebAssembly.Module(wasm);
      const engine = new WebAssembly.Instance(module, noSystem(module)).exports as unknown as Exports;
      engine._initialize();
      const numbers = new Float64Array(config);
      const at = engine.phren_config_space(numbers.length);
      new Float64Array(engine.memory.buffer, at, numbers.length).set(numbers);
      if (engine.phren_make(seed, sampleRate) !== 0) {
        this.say({ say: 'failed', message: 'The patient could not be made: ' + this.textAt(engine, engine.phren_error()) });
        return;
      }
      this.engine = engine;
      this.say({ say: 'ready' });
      this.report();
    } catch (error) {
      this.say({ say: 'failed', message: 'The engine could not be started: ' + String(error) });
    }
  }

  private textAt(engine: Exports, at: number): string {
    const bytes = new Uint8Array(engine.memory.buffer);
    let text = '';
    for (let i = at; bytes[i]; i++) text += String.fromCharCode(bytes[i]!);
    return text;
  }

  process(_inputs: Float32Array[][], outputs: Float32Array[][]): boolean {
    const engine = this.engine;
    const out = outputs[0]?.[0];
    if (!engine || !out || this.isPaused) return true;
    const at = engine.phren_render(out.length);
    out.set(new Float32Array(engine.memory.buffer, at, out.length));
    this.block.set(out, this.filled);
    this.filled += out.length;
    if (this.filled >= kReportFrames) { this.filled = 0; this.report(this.block.slice()); }
    return true;
  }

  private report(block: Float32Array | null = null): void {
    const engine = this.engine!;
    const n = new Float64Array(engine.memory.buffer, engine.phren_state(), kStateLength);
    this.say({ say: 'now', now: nowOf(n), block, startFrame: 0 }, block ? [block.buffer] : []);
    const count = engine.phren_drain();
    if (count > 0) this.say({ say: 'events', events: eventsOf(new Float64Array(engine.memory.buffer, engine.phren_events(), count * 8), count) });
  }
}

function nowOf(n: Float64Array): Now {
  const lobes: LobeNow[] = [];
  for (let i = 0; i < 5; i++) {
    const at = 15 + i * 8;
    lobes.push({ flow: n[at]!, volumeFraction: n[at + 1]!, radiusRatio: n[at + 2]!, limitation: n[at + 3]!, solid: n[at + 4]!, water: n[at + 5]!, secretions: n[at + 6]!, isBlocked: n[at + 7] !== 0 });
  }
  return {
    timeS: n[0]!, phase: n[1] as 0 | 1 | 2, breathCount: n[2]!, flow: n[3]!, volume: n[4]!, effort: n[5]!, throat: n[6]!, capnogram: n[7]!,
    vitals: { breathsPerMin: n[8]!, spo2: n[9]!, etco2: n[10]!, heartPerMin: n[11]!, systolic: n[12]!, diastolic: n[13]!, temperature: n[14]! },
    lobes, pleura: [{ gas: n[55]!, fluid: n[56]! }, { gas: n[57]!, fluid: n[58]! }],
  };
}

function eventsOf(n: Float64Array, count: number): HeardEvent[] {
  return Array.from({ length: count }, (_, i) => ({
    sound: sounds[n[i * 8]!]!, phase: n[i * 8 + 1]!, region: n[i * 8 + 2]!, startS: n[i * 8 + 3]!, endS: n[i * 8 + 4]!,
    pitchHz: n[i * 8 + 5]!, aboveDb: n[i * 8 + 6]!, isAudible: n[i * 8 + 7] !== 0,
  }));
}

registerProcessor('phren-engine', EngineProcessor);
