// What a patient may have, for the learner to choose from; kept on this device, so that it is there when
// the line is down.
import { getJson, postJson } from '../lib/api';
import { keep } from '../lib/settings';

export interface Condition {
  id: string;
  label: string;
}
const kKey = 'conditions';

function kept(): Condition[] {
  try {
    return JSON.parse(localStorage.getItem('phren.' + kKey) ?? '[]') as Condition[];
  } catch {
    return [];
  }
}

// Everything that a patient may have: what is weighed, by a weighing of nothing whose order is thrown away unseen, and
// what is not weighed.
export async function loadConditions(ageYears: number, sex: string): Promise<Condition[]> {
  try {
    const nothing = { schema_version: 1, case_id: '', seed: 0, age_years: ageYears, sex, setting: '', vital_signs: {},
      findings: [] };
    const { ranking } = await postJson<{ ranking: Condition[] }>('impression', nothing);
    const { conditions } = await getJson<{ conditions: Condition[] }>('conditions');
    const others = conditions.filter((one) => !ranking.some(({ id }) => id === one.id));
    const list = [...ranking, ...others].map(({ id, label }) => ({ id, label })).sort((a, b) =>
      a.label.localeCompare(b.label)
    );
    keep(kKey, JSON.stringify(list));
    return list;
  } catch (error) {
    const list = kept();
    if (list.length === 0) throw error;
    return list;
  }
}
