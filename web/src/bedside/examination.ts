// The examination record (docs/examination.schema.json) from what was marked and measured by hand.
import type { Encounter, Mark } from './session';

interface Finding {
  id: string; presence: 'present' | 'absent'; basis: string; side: string; site_ids: string[]; confidence: number;
}
export interface Examination {
  schema_version: 1; case_id: string; seed: number; age_years: number; sex: string; setting: string;
  vital_signs: Record<string, number>; findings: Finding[];
}

// Marks of one finding at many sites become one finding a side; heard anywhere on a side is present.
export function findingsOf(marks: readonly Mark[]): Finding[] {
  const bySide = new Map<string, Mark[]>();
  for (const mark of marks) {
    const key = `${mark.finding_id}/${mark.side}`;
    bySide.set(key, [...(bySide.get(key) ?? []), mark]);
  }
  return [...bySide.values()].map((same) => {
    const present = same.filter((mark) => mark.presence === 'present');
    const counting = present.length > 0 ? present : same;
    const first = counting[0]!;
    return {
      id: first.finding_id, presence: first.presence, basis: first.basis, side: first.side,
      site_ids: [...new Set(counting.map((mark) => mark.site_id).filter(Boolean))], confidence: 1,
    };
  });
}

export function examinationOf(encounter: Encounter): Examination {
  const { prepared } = encounter;
  const vitals: Record<string, number> = {};
  const now = encounter.now.peek()?.vitals;
  const log = encounter.log.peek();
  const has = (device: string) => log.some((one) => one.do === 'attach' && one['device'] === device);
  const round = (value: number) => Math.round(value * 10) / 10;
  if (now && has('oximeter')) { vitals['spo2_percent'] = round(now.spo2); vitals['heart_rate_per_min'] = round(now.heartPerMin); }
  if (now && has('capnometer')) vitals['etco2_mmHg'] = round(now.etco2);
  if (now && has('cuff')) { vitals['systolic_mmHg'] = round(now.systolic); vitals['diastolic_mmHg'] = round(now.diastolic); }
  if (now && has('thermometer')) vitals['temperature_C'] = round(now.temperature);
  const counted = [...log].reverse().find((one) => one.do === 'count');
  if (counted) vitals['respiratory_rate_per_min'] = Number(counted['rate_per_min']);
  return {
    schema_version: 1, case_id: prepared.id, seed: encounter.seed, age_years: prepared.person.age_years, sex: prepared.person.sex,
    setting: prepared.setting, vital_signs: vitals, findings: findingsOf(encounter.marks.peek()),
  };
}
