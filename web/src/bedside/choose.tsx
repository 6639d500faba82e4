// Choosing a patient: a prepared case, or a surprise.
import { useEffect, useState } from 'preact/hooks';
import type { Site } from '../chest/landmarks';
import { fetchModule } from '../engine/engine';
import { getBytes, getJson } from '../lib/api';
import { all, get } from '../lib/store';
import { route } from '../lib/route';
import { Bedside } from './bedside';
import { Encounter, type KeptEncounter } from './session';
import type { TreatmentKind } from './treat';
import { personInWords, type Case, type CaseSummary, type FindingKind } from './types';
import { newId } from '../lib/new_id';

export interface Vocabulary { sites: Site[]; kinds: FindingKind[]; treatments: TreatmentKind[] }

export async function loadVocabulary(): Promise<Vocabulary> {
  const [sites, findings, treatments] = await Promise.all([
    getJson<{ sites: Site[] }>('sites'), getJson<{ findings: FindingKind[] }>('findings'), getJson<{ treatments: TreatmentKind[] }>('treatments')]);
  return { sites: sites.sites, kinds: findings.findings, treatments: treatments.treatments };
}

const settingWords: Record<string, string> = { ems_adult: 'adult, ambulance', ems_child: 'child, ambulance', clinic: 'clinic' };
const newSeed = () => crypto.getRandomValues(new Uint32Array(1))[0]!;

export function BedsidePlace() {
  const caseId = route.value[1];
  return caseId ? <Opened key={route.value.join('/')} caseId={caseId} isSurprise={route.value[2] === 'surprise'} resumeId={route.value[2] === 'again' ? route.value[3] ?? '' : ''} /> : <Choose />;
}

function Choose() {
  const [cases, setCases] = useState<CaseSummary[] | null>(null);
  const [trouble, setTrouble] = useState('');
  const [open, setOpen] = useState<KeptEncounter[]>([]);
  useEffect(() => {
    all<KeptEncounter>('encounters').then((kept) => setOpen(kept.filter((one) => !one.ended_at && one.log.length > 0 && !one.case_id.startsWith('station ')).slice(-3)), () => { /* nothing is kept here */ });
    getJson<{ cases: CaseSummary[] }>('cases').then((answer) => { setCases(answer.cases); keepForOffline(answer.cases); }, (error: Error) => setTrouble(error.message));
    void fetchModule().catch(() => { /* told when it is needed */ });
    void loadVocabulary().catch(() => { /* told when it is needed */ });
  }, []);
  const surprise = cases && cases.length > 0 ? cases[newSeed() % cases.length]! : null;
  return <div class="stack">
    <h1>Who is the patient?</h1>
    {trouble && <p class="notice" role="alert">{trouble}</p>}
    {open.length > 0 && <section class="stack"><h2>Not finished</h2><ul class="plain-list cases">
      {open.map((one) => <li><a class="case" href={`#/bedside/${encodeURIComponent(one.case_id)}/again/${one.id}`}><strong>Go on: {one.title}</strong>
        <span class="soft small">begun {one.started_at.slice(0, 16).replace('T', ' ')}, {one.log.length} steps</span></a></li>)}</ul></section>}
    <ul class="plain-list cases">
      {(cases ?? []).map((one) => <li><a class="case" href={`#/bedside/${encodeURIComponent(one.id)}`}>
        <strong>{one.title}</strong><span class="soft small">{personInWords(one.person)} · {settingWords[one.setting] ?? one.setting}</span></a></li>)}
      {surprise && <li><a class="case" href={`#/bedside/${encodeURIComponent(surprise.id)}/surprise`}><strong>Surprise me</strong><span class="soft small">One of these, without being told which</span></a></li>}
    </ul>
  </div>;
}

// Asking for each patient once lets the service worker keep them for when the network is gone.
function keepForOffline(cases: readonly CaseSummary[]): void {
  if (!navigator.serviceWorker?.controller) return;
  void getJson('conditions').catch(() => { /* only a copy */ });
  for (const one of cases) {
    const id = encodeURIComponent(one.id);
    void getJson(`cases/${id}`).catch(() => { /* only a copy */ });
    void getBytes(`cases/${id}/config`).catch(() => { /* only a copy */ });
  }
}

// An encounter may be open in one tab only, or the two would overwrite each other's log.
function holdAlone(id: string): Promise<boolean> {
  if (!navigator.locks) return Promise.resolve(true);
  return new Promise((resolve) => {
    void navigator.locks.request('encounter-' + id, { ifAvailable: true }, (lock) => {
      resolve(lock !== null);
      return lock === null ? undefined : new Promise<void>((release) => addEventListener('hashchange', () => release(), { once: true }));
    });
  });
}

async function prepare(caseId: string, isSurprise: boolean, resumeId: string, words: Vocabulary): Promise<Encounter> {
  const prepared = await getJson<Case>(`cases/${encodeURIComponent(caseId)}`);
  const shown = isSurprise ? { ...prepared, title: 'A patient' } : prepared;
  if (!resumeId) {
    const fresh = new Encounter(newId(), shown, newSeed(), words.sites, words.kinds);
    await holdAlone(fresh.id);
    return fresh;
  }
  const kept = await get<KeptEncounter>('encounters', resumeId);
  if (!kept) throw new Error('That encounter is not on this device any more. Choose another patient.');
  if (!(await holdAlone(resumeId))) throw new Error('This encounter is open in another tab. Go on there, or close that tab and load this page again.');
  const encounter = new Encounter(kept.id, { ...shown, title: kept.title }, kept.seed, words.sites, words.kinds, kept.started_at);
  encounter.restore(kept);
  return encounter;
}

function Opened({ caseId, isSurprise, resumeId }: { caseId: string; isSurprise: boolean; resumeId: string }) {
  const [encounter, setEncounter] = useState<Encounter | null>(null);
  const [vocabulary, setVocabulary] = useState<Vocabulary | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    void fetchModule().catch(() => { /* told when it is needed */ });
    loadVocabulary().then(async (words) => {
      setVocabulary(words);
      setEncounter(await prepare(caseId, isSurprise, resumeId, words));
    }).catch((error: Error) => setTrouble(error.message));
  }, [caseId]);
  if (trouble) return <div class="stack"><h1>Bedside</h1><p class="notice" role="alert">{trouble}</p><a href="#/bedside">Choose another patient</a></div>;
  if (!encounter || !vocabulary) return <h1>Bedside</h1>;
  return <Bedside encounter={encounter} treatments={vocabulary.treatments} />;
}
