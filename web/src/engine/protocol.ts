// What the page and the engine (in the audio worklet) say to each other.
import type { LogEntry, Setup } from './hands';

export const sounds = ['normal', 'bronchial', 'tracheal', 'wheeze', 'rhonchus', 'stridor', 'squawk', 'fine_crackle',
  'coarse_crackle', 'pleural_friction_rub', 'grunting', 'gurgling', 'heart', 'cough', 'voice'] as const;
export type SoundName = (typeof sounds)[number];
export const soundLabel: Record<SoundName, string> = {
  normal: 'normal (vesicular)',
  bronchial: 'bronchial breathing',
  tracheal: 'tracheal breathing',
  wheeze: 'wheeze',
  rhonchus: 'rhonchus',
  stridor: 'stridor',
  squawk: 'squawk',
  fine_crackle: 'fine crackle',
  coarse_crackle: 'coarse crackle',
  pleural_friction_rub: 'pleural friction rub',
  grunting: 'grunting',
  gurgling: 'gurgling',
  heart: 'heart sound',
  cough: 'cough',
  voice: 'voice',
};
export const phases = ['inspiration', 'expiration', 'pause'] as const;
export const regions = ['right upper lobe', 'right middle lobe', 'right lower lobe', 'left upper lobe',
  'left lower lobe', 'upper airway', 'trachea', 'heart', 'pleura', 'room'] as const;

export interface LobeNow {
  flow: number; // L/s, into the lung positive
  volumeFraction: number; // 0 at residual volume, 1 at total capacity
  radiusRatio: number; // airways against this person's healthy size
  limitation: number; // 0 free .. 1 flow-limited
  solid: number; // consolidation 0..1
  water: number; // 0..1
  secretions: number; // 0..1
  isBlocked: boolean;
}
export interface PleuraNow {
  gas: number;
  fluid: number;
} // L

export interface Vitals {
  breathsPerMin: number;
  spo2: number;
  etco2: number;
  heartPerMin: number;
  systolic: number;
  diastolic: number;
  temperature: number;
}

export interface Now {
  state: Float64Array; // all of it, as src/app/engine/readout.h lists it: for the body to look at
  signs: Float64Array;
  timeS: number; // patient time
  phase: 0 | 1 | 2;
  breathCount: number;
  flow: number; // at the mouth, L/s
  volume: number; // L
  effort: number; // inspiratory muscle pressure, cmH2O
  lobes: LobeNow[]; // right upper, middle, lower, left upper, lower
  pleura: [PleuraNow, PleuraNow];
  throat: number; // 0 open .. 1 shut
  capnogram: number; // mmHg at the mouth now
  vitals: Vitals;
}

export interface HeardEvent {
  sound: SoundName;
  phase: number;
  region: number;
  startS: number;
  endS: number;
  pitchHz: number;
  aboveDb: number;
  isAudible: boolean;
}

export type ToEngine =
  | { do: 'start'; setup: Setup }
  | { do: 'deed'; entry: LogEntry } // an action of the log, to be stamped
  | { do: 'look'; finding: string }
  | { do: 'pause'; isPaused: boolean }
  | { do: 'pass'; seconds: number }; // time passes unheard

export type FromEngine =
  | { say: 'ready' }
  | { say: 'done'; id: string; t: number } // when a deed reached the body
  | { say: 'now'; now: Now; block: Float32Array | null }
  | { say: 'events'; events: HeardEvent[] }
  // by finding id: 0 absent, 1 present, 2 right, 3 left
  | { say: 'signs'; signs: Record<string, number>; answers: string }
  | { say: 'failed'; message: string };
