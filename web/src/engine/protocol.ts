// What the page and the engine (in the audio worklet) say to each other.
import type { FindingAnswer, HeardEvent, InstrumentAnswer, LogEntry, Now } from '../generated/bedside';
import type { Setup } from './module';

export type ToEngine =
  | { do: 'start'; setup: Setup }
  | { do: 'deed'; entry: LogEntry } // an action of the log, to be stamped
  | { do: 'look'; finding: string }
  | { do: 'pause'; isPaused: boolean }
  | { do: 'pass'; seconds: number }; // time passes unheard

export type FromEngine =
  | { say: 'ready'; instruments: InstrumentAnswer[] }
  | { say: 'done'; id: string; t: number } // when a deed reached the body
  | { say: 'now'; now: Now; seen: Float64Array; block: Float32Array | null } // seen: for the body, unread here
  | { say: 'events'; events: HeardEvent[] }
  | { say: 'findings'; findings: FindingAnswer[]; answers: string }
  | { say: 'failed'; message: string };
