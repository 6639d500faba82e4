// Where a patient comes from: the server, or what this device has kept of it.
import { keptPatient, packetOfText, readPatient } from '../build/kept_patients';
import type { Site } from '../chest/landmarks';
import { loadAnswers } from '../engine/ask';
import { getBytes, getJson } from '../lib/api';
import type { TreatmentKind } from './treat';
import type { Case, FindingKind } from './types';

// One built on this device is made from its own text; all others are the server's to give.
export async function loadCase(id: string): Promise<Case> {
  const kept = keptPatient(id);
  return kept ? { ...(await readPatient(kept.text)).case, id } : getJson<Case>(`cases/${encodeURIComponent(id)}`);
}
export function loadConfig(id: string): Promise<ArrayBuffer> {
  const kept = keptPatient(id);
  return kept ? packetOfText(kept.text) : getBytes(`cases/${encodeURIComponent(id)}/config`);
}

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
