// A chosen patient, made ready: a new encounter, or one that goes on.
import { effect } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import { fetchModule } from '../engine/engine';
import { newId } from '../lib/new_id';
import { address, route, visit } from '../lib/route';
import { get } from '../lib/store';
import { Bedside } from './bedside';
import { Choose } from './choose';
import { newSeed, seedIn } from './drawn';
import { loadCase, loadVocabulary, type Vocabulary } from './patients';
import { Encounter, type KeptEncounter } from './session';

// "#/bedside/CASE", "…/seed/NUMBER" for the same patient once more, "…/again/ID" to go on.
export function BedsidePlace() {
  const [, caseId, word, value] = route.value;
  if (!caseId) return <Choose />;
  return (
    <Opened key={visit} caseId={caseId} seed={word === 'seed' ? Number(value) : null}
      resumeId={word === 'again' ? value ?? '' : ''} />
  );
}

// An encounter may be open in one tab only, or the two would overwrite each other's log.
function holdAlone(id: string): Promise<boolean> {
  if (!navigator.locks) return Promise.resolve(true);
  return new Promise((resolve) => {
    void navigator.locks.request('encounter-' + id, { ifAvailable: true }, (lock) => {
      resolve(lock !== null);
      return lock === null
        ? undefined
        : new Promise<void>((release) => addEventListener('hashchange', () => release(), { once: true }));
    });
  });
}

// From the first step on, the address is that of this very encounter: a reload goes on with it.
function keepAddress(caseId: string, encounter: Encounter): () => void {
  const opened = location.hash;
  return effect(() => {
    if (encounter.log.value.length > 0 && location.hash === opened) {
      history.replaceState(null, '', address('bedside', caseId, 'again', encounter.id));
    }
  });
}

async function prepare(caseId: string, seed: number | null, resumeId: string, words: Vocabulary): Promise<Encounter> {
  const prepared = await loadCase(caseId);
  if (!resumeId) {
    const chosen = seed !== null && Number.isInteger(seed) && seed >= 0 ? seed : seedIn(caseId) ?? newSeed();
    const fresh = new Encounter(newId(), prepared, chosen, words.sites, words.kinds);
    await holdAlone(fresh.id);
    return fresh;
  }
  const kept = await get<KeptEncounter>('encounters', resumeId);
  if (!kept) throw new Error('That encounter is not on this device any more. Choose another patient.');
  if (!(await holdAlone(resumeId))) {
    throw new Error('This encounter is open in another tab. Go on there, or close that tab and load this page again.');
  }
  const encounter = new Encounter(kept.id, { ...prepared, title: kept.title }, kept.seed, words.sites, words.kinds,
    kept.started_at);
  encounter.restore(kept);
  return encounter;
}

function Opened({ caseId, seed, resumeId }: { caseId: string; seed: number | null; resumeId: string }) {
  const [encounter, setEncounter] = useState<Encounter | null>(null);
  const [vocabulary, setVocabulary] = useState<Vocabulary | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    void fetchModule().catch(() => {/* told when it is needed */});
    loadVocabulary().then(async (words) => {
      setVocabulary(words);
      setEncounter(await prepare(caseId, seed, resumeId, words));
    }).catch((error: Error) => setTrouble(error.message));
  }, [caseId]);
  useEffect(() => encounter ? keepAddress(caseId, encounter) : undefined, [encounter]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Bedside</h1>
        <p class="notice" role="alert">{trouble}</p>
        <a href="#/bedside">Choose another patient</a>
      </div>
    );
  }
  if (!encounter || !vocabulary) return <h1>Bedside</h1>;
  return <Bedside encounter={encounter} treatments={vocabulary.treatments} />;
}
