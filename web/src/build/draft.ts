// A patient being built, and the case file that says the same (docs/case-format.md). The server reads files; the page
// only writes them.
import { ageInWords, type Case } from '../bedside/types';
import { type Clothing, type Lobe, type Posture, type Room, settingFor, type Sex,
  type Side } from '../generated/bedside';
import type { Shown } from '../show/types';

export type Wanted = Exclude<Side, 'midline'>;
export interface DraftCondition {
  id: string;
  severity: number;
  side: Wanted | null; // null: as the condition has it
  lobe: Lobe | null;
  severity_later: number | null; // null: its natural course
  change_over_min: number | null;
}
export interface DraftTreatment { // given before the encounter
  id: string;
  side: Wanted | null;
  minutes_before: number;
}
export interface Draft {
  title: string;
  story: string;
  teaching_points: string[];
  setting: string;
  posture: Posture;
  clothing: Clothing;
  room: Room;
  minutes_before: number;
  person: { age_years: number; sex: Sex; height_cm: number; weight_kg: number; muscle: number };
  conditions: DraftCondition[];
  treatments: DraftTreatment[];
  told: Record<'present' | 'absent' | 'seen_present' | 'seen_absent', string[]>;
}
export interface ReadDraft extends Draft {
  case: Case;
}

type Sizes = Shown['sizes'];
// Usual height and weight at that age, as data/draw.toml has them.
export function usualSize(sizes: Sizes, ageYears: number, sex: Sex): { height_cm: number; weight_kg: number } {
  const after = sizes.find((one) => one.age_years >= ageYears) ?? sizes[sizes.length - 1]!;
  const before = [...sizes].reverse().find((one) => one.age_years <= ageYears) ?? sizes[0]!;
  const span = after.age_years - before.age_years;
  const t = span > 0 ? (ageYears - before.age_years) / span : 0;
  const between = (key: 'height_cm' | 'weight_kg') => before[sex][key] + t * (after[sex][key] - before[sex][key]);
  return { height_cm: between('height_cm'), weight_kg: between('weight_kg') };
}
const tenth = (value: number) => Math.round(10 * value) / 10;
export function personOf({ sizes, builds, usual_muscle }: Shown, ageYears: number, sex: Sex,
  buildId: string): Draft['person']
{
  const usual = usualSize(sizes, ageYears, sex);
  const build = builds.find((one) => one.id === buildId);
  return { age_years: ageYears, sex, height_cm: Math.round(usual.height_cm),
    weight_kg: tenth(usual.weight_kg * (build?.weight_factor ?? 1)), muscle: build?.muscle ?? usual_muscle };
}

export const newDraft = (shown: Shown): Draft => ({
  title: '',
  story: '',
  teaching_points: [],
  setting: settingFor(40),
  posture: 'sitting',
  clothing: 'bare',
  room: 'quiet',
  minutes_before: 15,
  person: personOf(shown, 40, 'female', ''),
  conditions: [],
  treatments: [],
  told: { present: [], absent: [], seen_present: [], seen_absent: [] },
});

// What stands where nothing was written: it tells nothing.
export function plainTitle({ person }: Draft): string {
  const noun = person.age_years >= 18
    ? { female: 'A woman', male: 'A man' }
    : { female: 'A girl', male: 'A boy' };
  return person.age_years >= 2
    ? `${noun[person.sex]} of ${Math.floor(person.age_years)}`
    : `A baby of ${ageInWords(person.age_years)}`;
}
const plainStory = (draft: Draft): string => `Called to ${plainTitle(draft).replace(/^A/, 'a')}.`;

const quoted = (text: string): string => JSON.stringify(text).replaceAll('\u007f', '\\u007f');
const list = (words: readonly string[]): string => `[${words.map(quoted).join(', ')}]`;
export function toToml(draft: Draft): string {
  const { person } = draft;
  const lines = ['# A patient of our own. The person is invented.',
    `title = ${quoted(draft.title.trim() || plainTitle(draft))}`,
    `story = ${quoted(draft.story.trim() || plainStory(draft))}`];
  if (draft.teaching_points.length > 0) lines.push(`teaching_points = ${list(draft.teaching_points)}`);
  lines.push(`setting = ${quoted(draft.setting)}`, `posture = ${quoted(draft.posture)}`,
    `clothing = ${quoted(draft.clothing)}`, `room = ${quoted(draft.room)}`, `minutes_before = ${draft.minutes_before}`,
    '', '[person]', `age_years = ${person.age_years}`, `sex = ${quoted(person.sex)}`, `height_cm = ${person.height_cm}`,
    `weight_kg = ${person.weight_kg}`, `muscle = ${person.muscle}`);
  for (const one of draft.conditions) {
    lines.push('', '[[condition]]', `id = ${quoted(one.id)}`, `severity = ${one.severity}`);
    if (one.side) lines.push(`side = ${quoted(one.side)}`);
    if (one.lobe) lines.push(`lobe = ${quoted(one.lobe)}`);
    if (one.severity_later !== null) {
      lines.push(`severity_later = ${one.severity_later}`, `change_over_min = ${one.change_over_min ?? 0}`);
    }
  }
  for (const one of draft.treatments) {
    lines.push('', '[[treatment]]', `id = ${quoted(one.id)}`);
    if (one.side) lines.push(`side = ${quoted(one.side)}`);
    // The time before the encounter may have been made shorter meanwhile.
    lines.push(`minutes_before = ${Math.min(one.minutes_before, draft.minutes_before)}`);
  }
  const told = (Object.keys(draft.told) as (keyof Draft['told'])[]).filter((key) => draft.told[key].length > 0);
  if (told.length > 0) lines.push('', '[told]', ...told.map((key) => `${key} = ${list(draft.told[key])}`));
  return lines.join('\n') + '\n';
}
