// Where a patient comes from: the server, or what this device has kept of it.
import type { Site } from '../chest/landmarks';
import { loadAnswers } from '../engine/ask';
import { getBytes, getJson } from '../lib/api';
import type { TreatmentKind } from './treat';
import type { Case, FindingKind } from './types';

export const loadCase = (id: string): Promise<Case> => getJson<Case>(`cases/${encodeURIComponent(id)}`);
export const loadConfig = (id: string): Promise<ArrayBuffer> => getBytes(`cases/${encodeURIComponent(id)}/config`);

export interface Vocabulary {
  sites: Site[];
  kinds: FindingKind[];
  treatments: TreatmentKind[];
}
export async function loadVocabulary(): Promise<Vocabulary> {
  const [sites, findings, treatments] = await Promise.all([
    getJson<{ sites: Site[] }>('sites'),
    getJson<{ findings: FindingKind[] }>('findings'),
    getJson<{ treatments: TreatmentKind[] }>('treatments'),
  ]);
  await loadAnswers(sites.sites).catch(() => {/* told when the patient is needed */});
  return { sites: sites.sites, kinds: findings.findings, treatments: treatments.treatments };
}
