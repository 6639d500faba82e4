// What a page and the server say to each other in a round (docs/round.md).
import type { Case } from '../bedside/types';
import type { RoundLine } from '../engine/protocol';
import type { Aspect, Deed } from '../generated/bedside';
export type { RoundLine };

export const kRoundPage = 1; // the server refuses pages of another way of speaking

export type RoundRole = 'desk' | 'listener' | 'projector';
export interface RoundPerson {
  id: string;
  name: string;
  role: RoundRole;
  is_crew: boolean;
  is_here: boolean;
}
export interface Point {
  aspect: Aspect;
  u: number;
  v: number;
}
export interface Question {
  words: string;
  options: string[];
}
export interface Truth {
  conditions: { id: string; label: string; severity: number; side: string; lobe: string }[];
  teaching_points: string[];
}
// One of these at a time.
export interface Word {
  clock?: 'run' | 'pause';
  skip_s?: number;
  go_back_s?: number;
  show?: { monitor?: boolean; names?: boolean };
  ask?: Question | null;
  listen?: Point | null;
  crew?: { person: string; is: boolean };
  away?: string[]; // people who lose their place
  door?: 'open' | 'closed'; // for new ones
  truth?: Truth | boolean | null;
  end?: true;
}

export interface Welcome {
  you: { id: string; name: string; role: RoundRole };
  round: { id: string; title: string; code: string };
  seed: string;
  patient: Omit<Case, 'id' | 'conditions' | 'teaching_points'>;
  packet: string; // base64
  own: number; // the last of one's own lines that the server has
  kept: number; // ... and has on disk
  take: number;
  last: number;
  people?: RoundPerson[]; // for a desk and a projector
  // for a desk:
  case_id?: string;
  truth?: Truth;
}

// What the room has answered: the server counts.
export interface Tally {
  question: number;
  given: number;
  counts: { value: string; count: number }[];
}

export type FromServer =
  | { welcome: Welcome }
  | { lines: RoundLine[] }
  | { own: RoundLine[] }
  | { beat: [take: number, step: number, last: number, isRunning: number] }
  | { ack: number }
  | { people: RoundPerson[] }
  | { count: number }
  | { tally: Tally | null }
  | { refused: { id: string; words: string } }
  | { trouble: string; person?: string }
  | { live_again: true }
  | { over: { why: 'page' | 'token' | 'elsewhere' | 'full' | 'away'; words: string } };

export type ToServer =
  | { hello: { token: string; have: number; page: number } }
  | { do: { id: string } & Deed }
  | { own: RoundLine[] }
  | { room: Word }
  | { sum: { take: number; step: number; sum: string } }
  | { missing: number };

export interface CameIn {
  round: { id: string; code: string; title: string };
  person: { id: string; name: string; role: RoundRole };
  token: string;
}
