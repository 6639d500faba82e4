// What the page and the engine (in the audio worklet) say to each other.
import type { FindingAnswer, HeardEvent, InstrumentAnswer, LogEntry, Now } from '../generated/bedside';
import type { PlacedSite, Setup } from './module';

// A line of a round (docs/round.md) as the engine reads it.
export interface RoundLine {
  n: number;
  take: number;
  step: number;
  by: string;
  do?: string;
  [field: string]: unknown;
}
export interface RoundSetup {
  wasm: ArrayBuffer;
  packet: ArrayBuffer;
  seed: number;
  sites: readonly PlacedSite[];
}

export type ToEngine =
  | { do: 'start'; setup: Setup }
  | { do: 'deed'; entry: LogEntry } // an action of the log, to be stamped
  | { do: 'look'; finding: string }
  | { do: 'pause'; isPaused: boolean }
  | { do: 'pass'; seconds: number } // time passes unheard
  // of a round:
  | { do: 'start_round'; setup: RoundSetup }
  | { do: 'lines'; lines: readonly RoundLine[] }
  | { do: 'beat'; take: number; step: number; last: number }
  | { do: 'catch_up' }
  | { do: 'live_again' };

export type FromEngine =
  | { say: 'ready'; instruments: InstrumentAnswer[] }
  | { say: 'done'; id: string; t: number } // when a deed reached the body
  | { say: 'now'; now: Now; seen: Float64Array; block: Float32Array | null } // seen: for the body, unread here
  | { say: 'events'; events: HeardEvent[] }
  | { say: 'findings'; findings: FindingAnswer[]; answers: string }
  | { say: 'failed'; message: string }
  // of a round:
  | { say: 'own'; entry: LogEntry; take: number; step: number } // a deed of the own chestpiece, stamped
  | { say: 'taken_up'; take: number; step: number } // the chestpiece was: put it where the hand holds it
  | { say: 'wants'; n: number } // the shared line that is waited for
  | { say: 'sum'; take: number; step: number; sum: string }
  | { say: 'playing'; isPlaying: boolean };
