// Choosing a patient: a prepared case, or a surprise.
import { useEffect, useState } from 'preact/hooks';
import type { Site } from '../chest/landmarks';
import { fetchModule } from '../engine/engine';
import { getJson } from '../lib/api';
import { route } from '../lib/route';
import { Bedside } from './bedside';
import { Encounter } from './session';
import type { TreatmentKind } from './treat';
import { personInWords, type Case, type CaseSummary, type FindingKind } from './types';

interface Vocabulary { sites: Site[]; kinds: FindingKind[]; treatments: TreatmentKind[] }

async function loadVocabulary(): Promise<Vocabulary> {
  const [sites, findings, treatments] = await Promise.all([
    getJson<{ sites: Site[] }>('sites'), getJson<{ findings: FindingKind[] }>('findings'), getJson<{ treatments: TreatmentKind[] }>('treatments')]);
  return { sites: sites.sites, kinds: findings.findings, treatments: treatments.treatments };
}

const settingWords: Record<string, string> = { ems_adult: 'adult, ambulance', ems_child: 'child, ambulance', clinic: 'clinic' };
const newSeed = () => crypto.getRandomValues(new Uint32Array(1))[0]!;

export function BedsidePlace() {
  const caseId = route.value[1];
  return caseId ? <Opened key={route.value.join('/')} caseId={caseId} isSurprise={route.value[2] === 'surprise'} /> : <Choose />;
}

function Choose() {
  const [cases, setCases] = useState<CaseSummary[] | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ cases: CaseSummary[] }>('cases').then((answer) => setCases(answer.cases), (error: Error) => setTrouble(error.message));
    void fetchModule().catch(() => { /* told when it is needed */ });
    void loadVocabulary().catch(() => { /* told when it is needed */ });
  }, []);
  const surprise = cases && cases.length > 0 ? cases[newSeed() % cases.length]! : null;
  return <div class="stack">
    <h1>Who is the patient?</h1>
    {trouble && <p class="notice" role="alert">{trouble}</p>}
    <ul class="plain-list cases">
      {(cases ?? []).map((one) => <li><a class="case" href={`#/bedside/${encodeURIComponent(one.id)}`}>
        <strong>{one.title}</strong><span class="soft small">{personInWords(one.person)} · {settingWords[one.setting] ?? one.setting}</span></a></li>)}
      {surprise && <li><a class="case" href={`#/bedside/${encodeURIComponent(surprise.id)}/surprise`}><strong>Surprise me</strong><span class="soft small">One of these, without being told which</span></a></li>}
    </ul>
  </div>;
}

function Opened({ caseId, isSurprise }: { caseId: string; isSurprise: boolean }) {
  const [encounter, setEncounter] = useState<Encounter | null>(null);
  const [vocabulary, setVocabulary] = useState<Vocabulary | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    void fetchModule().catch(() => { /* told when it is needed */ });
    Promise.all([getJson<Case>(`cases/${encodeURIComponent(caseId)}`), loadVocabulary()]).then(([prepared, words]) => {
      setVocabulary(words);
      const shown = isSurprise ? { ...prepared, title: 'A patient' } : prepared;
      setEncounter(new Encounter(crypto.randomUUID(), shown, newSeed(), words.sites, words.kinds));
    }, (error: Error) => setTrouble(error.message));
  }, [caseId]);
  if (trouble) return <div class="stack"><h1>Bedside</h1><p class="notice" role="alert">{trouble}</p><a href="#/bedside">Choose another patient</a></div>;
  if (!encounter || !vocabulary) return <h1>Bedside</h1>;
  return <Bedside encounter={encounter} treatments={vocabulary.treatments} />;
}
