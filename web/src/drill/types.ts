// What the drill of the server asks and answers (docs/formats/class-api.md), and how a play is shown.
import type { Span } from '../bench/picture';
import type { Recording } from '../bench/recording';

export type Mode = 'name' | 'phase' | 'side' | 'lobe' | 'same' | 'weigh' | 'threat';

export interface Exercise {
  mode: Mode;
  name: string;
  words: string;
}
export const exercises: readonly Exercise[] = [
  { mode: 'name', name: 'Name it', words: 'One sound, and a healthy chest beside it. Say what it is.' },
  { mode: 'phase', name: 'When in the breath',
    words: 'One sound. Say whether it lies in the breath in, the breath out, or both.' },
  { mode: 'side', name: 'Which side', words: 'The same place, right and left. Say which side is changed.' },
  { mode: 'lobe', name: 'Which lobe',
    words: 'Six places of one chest, right and left. Say in which lobe the lung is changed.' },
  { mode: 'same', name: 'Same or different', words: 'Two sounds. Say whether they are of one kind.' },
  { mode: 'weigh', name: 'Weigh it',
    words: 'One sound. Say what it speaks for most, by the figures Phren weighs with; each says where it comes from.' },
  { mode: 'threat', name: 'First danger',
    words: 'A sound and what else was found. Say what must be thought of first, because it could kill first.' },
];

export interface Choice {
  id: string;
  label: string;
}
export interface Item {
  item_id: string;
  mode: Mode;
  question: string;
  sounds: string[];
  sound_labels: string[];
  has_one_gain: boolean;
  sound_only: boolean;
  choices: Choice[];
}
export interface DrillRules {
  modes: Mode[];
  skills: string[];
  new_per_day: number | null;
  sound_only: boolean;
  all_skills: Choice[];
}
export interface TruthEvent {
  sound: string;
  phase: string;
  start_s: number;
  end_s: number;
  pitch_hz: number;
  audible: boolean;
}
export interface Skill {
  mode: Mode;
  id: string;
  label: string;
  plays: number;
  recall: number | null;
  recent_share: number | null;
  is_mastered: boolean;
  due_in_days: number | null;
}
export interface Confusion {
  labels: string[];
  counts: number[][];
}
// What a wrong answer named, to be heard beside what was right.
export interface Named {
  label: string;
  sounds: string[];
  truth_events: TruthEvent[][];
}
export interface Answered {
  is_right: boolean;
  is_family_right: boolean;
  truth: string;
  truth_label: string;
  accepted: string[];
  answered: string;
  reason: string;
  explanation: string;
  heard: string[];
  truth_events: TruthEvent[][];
  named: Named | null;
  skill: Skill;
}

export interface DrillSound {
  label: string;
  recording: Recording;
  truth: readonly Span[];
}
