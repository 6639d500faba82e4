// What the server says about classes, stations and encounters (docs/formats/class-api.md).
import type { Person, Posture, Told } from '../bedside/types';
import type { AbilityRow } from '../drill/ability';
import type { Confusion, Skill } from '../drill/types';
import type { Clothing, Room } from '../generated/bedside';
import type { Role } from '../lib/session';

export interface ClassSummary {
  id: string;
  title: string;
  my_role: Role;
  members: number;
  stations: number;
}
export interface StaffMember {
  person_id: string;
  login: string;
  name: string;
  role: Role;
}
export interface Member {
  person_id: string;
  login: string;
  name: string;
  key: string;
  extra_time_percent: number;
}
export type StationState = 'draft' | 'open' | 'closed' | 'released';
export interface StationSummary {
  id: string;
  title: string;
  state: StationState;
  join_code: string;
}
export interface ClassRoom {
  id: string;
  title: string;
  join_code: string;
  my_role: Role;
  staff: StaffMember[];
  members: Member[];
  stations: StationSummary[];
}

export interface KeptSummary {
  id: string;
  station_id: string;
  title: string;
  started_ms: number;
  has_ended: boolean;
  is_released: boolean;
  points: number | null;
  max_points: number | null;
  passed: boolean | null;
}
export interface Learner {
  person: { id: string; name: string };
  skills: Skill[];
  confusion: Confusion;
  ability_tests: AbilityRow[];
  encounters: KeptSummary[];
}

export interface Estimate {
  value: number | null;
  se: number | null;
  low: number | null;
  high: number | null;
}
export interface Report {
  title: string;
  learners: number;
  items: { id: string; text: string; difficulty: Estimate; discrimination: Estimate; upper_lower: Estimate;
    alpha_if_dropped: number | null; rasch: Estimate | null }[];
  statistics: { id: string; name: string; meaning: string; uncertainty: string; caution: string;
    estimate: Estimate | null; note: string }[];
  abilities: { person_id: string; name: string; score: number | null; ability: Estimate | null }[];
  unmarked: { person_id: string; name: string; why: string }[];
  cases: { case_id: string; learners: number; share: Estimate }[];
}

export interface ChecklistItem {
  id: string;
  text: string;
  rule: string;
  points?: number;
  critical?: boolean;
  why?: string;
  [detail: string]: string | number | boolean | string[] | undefined;
}
export interface Checklist {
  id: string;
  title: string;
  status: string;
  time_limit_s: number;
  pass_share: number;
  fits?: string[]; // conditions
  items: ChecklistItem[];
}
// What an item of a rule needs, and what it asks for in words (src/teaching/marking/checklist.h).
export interface ChecklistRule {
  name: string;
  needs: string;
  fields: string;
  words: string;
}
export interface StationPlan {
  title: string;
  case_ids: string[];
  checklist: Checklist;
  time_limit_s: number;
  patients: 'identical' | 'parallel';
  admission: 'roster' | 'open';
  instructions: string;
  shows_words: boolean;
}
export interface Station extends StationPlan {
  id: string;
  class_id: string;
  state: StationState;
  join_code: string;
  created_ms: number;
}

export interface BoardLearner {
  person_id: string;
  name: string;
  case_id: string;
  encounter_id: string;
  phase: 'absent' | 'joined' | 'under_way' | 'ended' | 'marked';
  started_ms: number;
  ends_ms: number;
  time_s: number;
  actions: number;
  last_action: string;
  heard_ms: number;
  examiner_marks: number;
  points: number | null;
  max_points: number | null;
  passed: boolean | null;
}
export interface Board {
  state: StationState;
  now_ms: number;
  learners: BoardLearner[];
}

export interface Standard {
  candidates: number;
  borderline_regression: { cut: Estimate; share: number | null; r_squared: number | null; warnings: string[] } | null;
  borderline_group: { mean: Estimate; median: number | null; candidates: number; warnings: string[] } | null;
  angoff: { cut: Estimate; share: number | null; judges: number } | null;
  notes: string[];
  pass_share: number;
}

export interface ServedPatient {
  title: string;
  setting: string;
  person: Person;
  story: string;
  posture: Posture;
  clothing: Clothing;
  room: Room;
  told: Told[];
}
export interface ServedEncounter {
  id: string;
  station_id: string;
  seed: string;
  started_ms: number;
  now_ms: number;
  time_limit_s: number;
  ends_ms: number;
  has_ended: boolean;
  is_released: boolean;
  actions: number;
  last_t: number;
  instructions: string;
  shows_words: boolean;
  patient: ServedPatient;
}
export interface MarkItem {
  id: string;
  text: string;
  verdict: 'met' | 'partly' | 'missed' | 'not judged';
  points: number;
  max_points: number;
  critical: boolean;
  reason: string;
  action_ids: string[];
  why: string;
  by: 'log' | 'examiner';
}
export interface Mark {
  state: 'ready';
  checklist_title: string;
  status: string;
  points: number;
  max_points: number;
  passed: boolean;
  over_time: boolean;
  critical_missed: string[];
  claim: 'none' | 'agrees' | 'contradicted';
  doubts: { rule: string; action_id: string; time_s: number; reason: string }[]; // for staff
  items: MarkItem[];
}
export interface ServedDebrief {
  end_s: number;
  stays: { site_id: string; aspect: string; start_s: number; end_s: number; head: string; through_clothing: boolean;
    heard: { sound: string; phase: string; events: number; seconds: number; loudest_db: number }[];
    found: { words: string } }[];
  marks: { finding: string; presence: string; side: string; sites: string[]; verdict: string; reason: string }[];
  missed: { finding: string; side: string; sites: string[]; words: string }[];
  deeds: { t: number; do: string; words: string }[];
  truth: { conditions: { id: string; label: string; severity: number; side: string; lobe: string }[];
    teaching_points: string[] };
}
export interface ExaminerMark {
  item_id: string;
  points: number;
  note: string;
}
export interface ExaminerSheet {
  learner: string;
  items: { item_id: string; text: string; max_points: number; rule: string; automatic_points: number | null }[];
  mine: { marks: ExaminerMark[]; global_rating: number; note: string };
  all: { examiner: string; marks: ExaminerMark[]; global_rating: number }[];
}
