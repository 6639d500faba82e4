// What the server says about cases, findings and impressions (docs/openapi.json).
import type { Body } from '../chest/geometry';
import type { Basis, Clothing, Posture, Presence, Room, Sex, Side } from '../generated/bedside';
export type { Basis, Posture, Side };

export interface Person {
  age_years: number;
  sex: Sex;
  height_cm: number;
  weight_kg: number;
  muscle: number;
  half_chest_breadth_cm: number;
  chest_depth_cm: number;
  lung_height_cm: number;
}
export interface CaseSummary {
  id: string;
  title: string;
  setting: string;
  person: Person;
  is_in_use?: boolean;
  is_own?: boolean; // of the instructor's own folder
}
export interface Told {
  id: string;
  presence: Presence;
  basis: Basis;
  side: Side;
}
export interface Case extends CaseSummary {
  story: string;
  posture: Posture;
  clothing: Clothing;
  room: Room;
  told: Told[];
  teaching_points: string[];
  conditions: { id: string; label: string; severity: number; side: string; lobe: string }[];
}

export interface FindingKind {
  id: string;
  label: string;
  meaning: string;
  found_by: Basis;
  look: string;
  first: number; // offered at once, in this order; 0: behind one step
  is_sided: boolean;
}

export const bodyOf = (person: Person): Body => ({
  ageYears: person.age_years,
  sex: person.sex,
  heightCm: person.height_cm,
  weightKg: person.weight_kg,
  muscle: person.muscle,
  halfBreadthCm: person.half_chest_breadth_cm,
  depthCm: person.chest_depth_cm,
  lungHeightCm: person.lung_height_cm,
});

const counted = (count: number, unit: string): string => `${count} ${unit}${count === 1 ? '' : 's'}`;
export function ageInWords(years: number): string {
  if (years < 1 / 12) return counted(Math.max(1, Math.round(years * 365)), 'day');
  if (years < 2) return counted(Math.round(years * 12), 'month');
  return `${Math.floor(years)} years`;
}
export function personInWords(person: Person): string {
  const noun = person.age_years >= 18
    ? { female: 'Woman', male: 'Man' }
    : person.age_years >= 2
    ? { female: 'Girl', male: 'Boy' }
    : { female: 'Baby girl', male: 'Baby boy' };
  return `${noun[person.sex]}, ${ageInWords(person.age_years)}, ${Math.round(person.weight_kg * 10) / 10} kg`;
}

// How plain a condition is: a word, from and to percent of the worst. The first is for drawing a patient only.
export const severities: readonly [string, number, number][] = [['any', 20, 95], ['mild', 10, 35], ['moderate', 35, 65],
  ['severe', 65, 90], ['life-threatening', 85, 100]];
export const severityInWords = (share: number): string =>
  severities.slice(1).find(([, , toPercent]) => 100 * share < toPercent)?.[0] ?? 'life-threatening';
