// What an action of the encounter log does to the running engine. The same in the audio worklet, when
// an interrupted encounter goes on, and in the debrief's replay; src/bedside/replay.cc does
// likewise natively.
import type { Aspect } from '../chest/geometry';

// The rate the pages play at; replay uses it too, so that the samples are the same.
export const kEngineRate_hz = 48000;

export interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  phren_config_space(count: number): number;
  phren_make(seed: number, rateHz: number): number;
  phren_error(): number;
  phren_place(aspect: number, u: number, v: number): void;
  phren_lift(): void;
  phren_head(isBell: number): void;
  phren_press(pressure: number): void;
  phren_cloth(thickness: number): void;
  phren_room(kind: number): void;
  phren_act(kind: number, index: number, side: number, seconds: number): number;
  phren_run_to(timeS: number): void;
  phren_render(frames: number): number;
  phren_percuss(aspect: number, u: number, v: number): number;
  phren_state(): number;
  phren_state_length(): number;
  phren_signs(): number;
  phren_findings(): number;
  phren_finish(): void;
  phren_drain(): number;
  phren_events(): number;
}

// One line of the log (docs/formats/encounter.md); `t` is stamped when the engine has done it.
export interface LogEntry {
  id: string;
  t: number;
  do: string;
  [field: string]: string | number | readonly string[] | undefined;
}

export interface Setup {
  wasm: ArrayBuffer;
  config: ArrayBuffer; // the packed patient
  seed: number;
  room: number; // acoustics::Surroundings
  cloth: number; // thickness of the clothing the patient comes in
  treatments: readonly string[]; // ids in the order of the packed patient
  history: readonly LogEntry[]; // what was done already
  untilS: number; // and until when
}

const aspects: readonly Aspect[] = ['front', 'back', 'right_side', 'left_side', 'neck'];
const sides = ['right', 'left', 'midline'];
// Numbers of patient::ActionKind (src/patient/patient.h).
const kinds: Record<string, number> = {
  treat: 0,
  stop: 1,
  breathe_deeply: 2,
  breathe_normally: 3,
  hold_breath: 4,
  cough: 5,
  speak: 6,
  say_vowel: 7,
  forced_breath: 8,
  posture: 9,
};
const postures = ['sitting', 'reclined', 'lying'];

// Deeds that reach body or chestpiece; the rest are words.
const bodily = new Set(['place', 'lift', 'head', 'expose', 'cover', 'instruct', 'posture', 'tap', 'treat', 'stop']);
export const isBodily = (entry: { do: string }): boolean => bodily.has(entry.do);

// Cut to the millisecond: never later than the step at which the body felt it.
export const stamped = (timeS: number): number => Math.floor(timeS * 1000 + 1e-7) / 1000;

// The module needs no system; whatever it imports answers "not available".
function noSystem(module: WebAssembly.Module): WebAssembly.Imports {
  const imports: Record<string, Record<string, () => number>> = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) {
    (imports[name] ??= {})[call] = () => 52;
  }
  return imports;
}

export function textAt(engine: Exports, at: number): string {
  const bytes = new Uint8Array(engine.memory.buffer);
  let text = '';
  for (let i = at; bytes[i]; i++) text += String.fromCharCode(bytes[i]!);
  return text;
}

// Everything the engine and the hands are at one moment: all of it lies in the module's memory.
export interface Moment {
  timeS: number;
  memory: ArrayBuffer;
  aspect: Aspect | null;
  pressure: number;
  isAllBare: boolean;
  bare: string[];
}

export class Hands {
  readonly engine: Exports;
  private readonly setup: Setup;
  private aspect: Aspect | null = null; // where the chestpiece was last put
  private pressure = 0.6;
  private isAllBare: boolean;
  private readonly bare = new Set<string>();

  // Throws an Error that says why the patient could not be made.
  constructor(setup: Setup, rateHz: number) {
    const module = new WebAssembly.Module(setup.wasm);
    const engine = new WebAssembly.Instance(module, noSystem(module)).exports as unknown as Exports;
    engine._initialize();
    const numbers = new Float64Array(setup.config);
    const at = engine.phren_config_space(numbers.length);
    new Float64Array(engine.memory.buffer, at, numbers.length).set(numbers);
    if (engine.phren_make(setup.seed, rateHz) !== 0) {
      throw new Error('The patient could not be made: ' + textAt(engine, engine.phren_error()));
    }
    engine.phren_room(setup.room);
    this.engine = engine;
    this.setup = setup;
    this.isAllBare = setup.cloth <= 0;
  }

  get timeS(): number {
    return new Float64Array(this.engine.memory.buffer, this.engine.phren_state(), 1)[0]!;
  }

  perform(entry: { do: string; [field: string]: unknown }): void {
    const { engine } = this;
    switch (entry.do) {
      case 'place':
        this.aspect = entry['aspect'] as Aspect;
        this.pressure = Number(entry['pressure'] ?? 0.6);
        this.touch();
        engine.phren_place(aspects.indexOf(this.aspect), Number(entry['u']), Number(entry['v']));
        break;
      case 'lift':
        engine.phren_lift();
        break;
      case 'tap':
        engine.phren_percuss(aspects.indexOf(entry['aspect'] as Aspect), Number(entry['u']), Number(entry['v']));
        break;
      case 'head':
        engine.phren_head(entry['head'] === 'bell' ? 1 : 0);
        break;
      case 'expose':
        if (entry['part'] === undefined || entry['part'] === 'all') this.isAllBare = true;
        else this.bare.add(String(entry['part']));
        this.touch();
        break;
      case 'cover':
        this.isAllBare = false;
        this.bare.clear();
        this.touch();
        break;
      case 'instruct':
        this.act(String(entry['manoeuvre']), 0, 'midline', Number(entry['seconds'] ?? 20));
        break;
      case 'posture':
        this.act('posture', postures.indexOf(String(entry['posture'])), 'midline', 20);
        break;
      case 'treat':
      case 'stop':
        this.act(entry.do, this.setup.treatments.indexOf(String(entry['treatment'])),
          String(entry['side'] ?? 'midline'), 20);
        break;
      default:
        break; // words leave the body as it is
    }
  }

  moment(): Moment {
    const { aspect, pressure, isAllBare } = this;
    return { timeS: this.timeS, memory: this.engine.memory.buffer.slice(0), aspect, pressure, isAllBare,
      bare: [...this.bare] };
  }
  // Back, or on, to a moment of this same encounter.
  go(to: Moment): void {
    const { memory } = this.engine;
    const missing = to.memory.byteLength - memory.buffer.byteLength;
    if (missing > 0) memory.grow(missing / 65536);
    new Uint8Array(memory.buffer).set(new Uint8Array(to.memory));
    ({ aspect: this.aspect, pressure: this.pressure, isAllBare: this.isAllBare } = to);
    this.bare.clear();
    for (const one of to.bare) this.bare.add(one);
  }

  // Runs through what was done already, and on to `untilS`.
  catchUp(): void {
    for (const entry of this.setup.history) {
      this.engine.phren_run_to(entry.t);
      this.perform(entry);
    }
    while (this.timeS < this.setup.untilS) this.engine.phren_run_to(this.setup.untilS);
  }

  private touch(): void {
    if (this.aspect === null) return;
    const isBare = this.isAllBare || this.aspect === 'neck' || this.bare.has(this.aspect);
    this.engine.phren_cloth(isBare ? 0 : this.setup.cloth);
    this.engine.phren_press(this.pressure);
  }
  private act(kind: string, index: number, side: string, seconds: number): void {
    this.engine.phren_act(kinds[kind] ?? 3, index, sides.indexOf(side), seconds);
  }
}
