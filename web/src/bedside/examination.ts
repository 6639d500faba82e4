// The examination record (docs/examination.schema.json) from what was marked and measured by hand.
import { joined, type Mark } from './marks';
import type { Encounter } from './session';

interface Finding {
  id: string;
  presence: 'present' | 'absent';
  basis: string;
  side: string;
  site_ids: string[];
  confidence: number;
}
export interface Examination {
  schema_version: 1;
  case_id: string;
  seed: number;
  age_years: number;
  sex: string;
  setting: string;
  vital_signs: Record<string, number>;
  findings: Finding[];
}

// Marks of one finding at many sites become one finding a side.
export function findingsOf(marks: readonly Mark[]): Finding[] {
  const bySide = new Map<string, Mark[]>();
  for (const mark of marks) {
    const key = `${mark.finding_id}/${mark.side}`;
    bySide.set(key, [...(bySide.get(key) ?? []), mark]);
  }
  return [...bySide.values()].map((same) => {
    const { presence, sites } = joined(same);
    return { id: same[0]!.finding_id, presence: presence as 'present' | 'absent', basis: same[0]!.basis,
      side: same[0]!.side, site_ids: sites, confidence: 1 };
  });
}

// A vital sign counts once it was measured; those that stay on the patient are read as they are now.
export function examinationOf(encounter: Encounter): Examination {
  const { prepared } = encounter;
  const vitals: Record<string, number> = {};
  for (const entry of encounter.log.peek()) {
    if (entry.do === 'measure' && entry['value'] !== undefined) {
      vitals[String(entry['vital'])] = Number(entry['value']);
    }
  }
  const now = encounter.now.peek()?.vitals;
  const round = (value: number) => Math.round(value * 10) / 10;
  if (now && 'spo2_percent' in vitals) {
    vitals['spo2_percent'] = round(now.spo2);
    vitals['heart_rate_per_min'] = round(now.heartPerMin);
  }
  if (now && 'etco2_mmHg' in vitals) vitals['etco2_mmHg'] = round(now.etco2);
  return {
    schema_version: 1,
    case_id: prepared.id,
    seed: encounter.seed,
    age_years: prepared.person.age_years,
    sex: prepared.person.sex,
    setting: prepared.setting,
    vital_signs: vitals,
    findings: findingsOf(encounter.marks.peek()),
  };
}
