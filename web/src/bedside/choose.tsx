// Choosing a patient: a prepared case, one of one's own, a surprise by level, or one drawn within limits.
import { useEffect, useState } from 'preact/hooks';
import { keptPatient, keptPatients } from '../build/kept_patients';
import { fetchModule } from '../engine/engine';
import { getJson } from '../lib/api';
import { address, go } from '../lib/route';
import { all } from '../lib/store';
import { localTime } from '../lib/when';
import { keepForOffline, type Level, surprise } from './drawn';
import { loadVocabulary } from './patients';
import type { KeptRecordedCase } from './recorded_case';
import type { KeptEncounter } from './session';
import { type CaseSummary, personInWords } from './types';

const settingWords: Record<string, string> = { ems_adult: 'adult, ambulance', ems_child: 'child, ambulance',
  clinic: 'clinic' };

export function Choose() {
  const [cases, setCases] = useState<CaseSummary[] | null>(null);
  const [levels, setLevels] = useState<Level[]>([]);
  const [trouble, setTrouble] = useState('');
  const [open, setOpen] = useState<KeptEncounter[]>([]);
  const [ended, setEnded] = useState<KeptEncounter[]>([]);
  const [own, setOwn] = useState<KeptRecordedCase[]>([]);
  useEffect(() => {
    all<KeptEncounter>('encounters').then((kept) => {
      const own = kept.filter((one) => one.log.length > 0 && !one.case_id.startsWith('station ')).sort((a, b) =>
        a.started_at.localeCompare(b.started_at)
      );
      setOpen(own.filter((one) => !one.ended_at).slice(-3));
      setEnded(own.filter((one) => one.ended_at).slice(-3).reverse());
    }, () => {/* nothing is kept here */});
    all<KeptRecordedCase>('cases').then(setOwn, () => {/* nothing is kept here */});
    const lists = Promise.all([getJson<{ cases: CaseSummary[] }>('cases'), getJson<{ levels: Level[] }>('levels')]);
    lists.then(([known, drawn]) => {
      setCases(known.cases);
      setLevels(drawn.levels);
      void keepForOffline(known.cases.filter((one) => !one.is_in_use), drawn.levels);
    }, (error: Error) => setTrouble(error.message));
    void fetchModule().catch(() => {/* told when it is needed */});
    void loadVocabulary().catch(() => {/* told when it is needed */});
  }, []);
  const prepared = (cases ?? []).filter((one) => !one.is_own);
  const onServer = (cases ?? []).filter((one) => one.is_own);
  const built = [...keptPatients(), ...onServer.filter((one) => !keptPatient(one.id))];
  const draw = (level: Level) => {
    surprise(level.id).then((id) => go('bedside', id), (error: Error) => setTrouble(error.message));
  };
  return (
    <div class="stack">
      <div class="row">
        <h1 class="grow">Who is the patient?</h1>
        <a class="main-link" href="#/build">Build a patient</a>
      </div>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {open.length > 0 && (
        <section class="stack">
          <h2>Not finished</h2>
          <ul class="plain-list cases">
            {open.map((one) => (
              <li>
                <a class="case" href={address('bedside', one.case_id, 'again', one.id)}>
                  <strong>Go on: {one.title}</strong>
                  <span class="soft small">
                    begun {localTime(one.started_at)}, {one.log.length} step{one.log.length === 1 ? '' : 's'}
                  </span>
                </a>
              </li>
            ))}
          </ul>
        </section>
      )}
      {levels.length > 0 && (
        <section class="stack">
          <h2>Surprise me</h2>
          <ul class="plain-list cases">
            {levels.map((one) => (
              <li>
                <button class="case" onClick={() => draw(one)}>
                  <strong>{one.label}</strong>
                  <span class="soft small">{one.meaning}</span>
                </button>
              </li>
            ))}
          </ul>
        </section>
      )}
      {built.length > 0 && (
        <section class="stack">
          <h2>Built patients</h2>
          <ul class="plain-list cases">
            {built.map((one) => (
              <li class="choose-own">
                <a class="case" href={address('bedside', one.id)}>
                  <strong>{one.title}</strong>
                </a>
                <span class="row small">
                  <a href={address('build', one.id)}>Change</a>
                  <a href={address('build', 'copy', one.id)}>Copy</a>
                  <span class="soft">{one.id}</span>
                </span>
              </li>
            ))}
          </ul>
        </section>
      )}
      <section class="stack">
        <h2>Prepared patients</h2>
        <ul class="plain-list cases">
          {prepared.map((one) => (
            <li>
              <a class="case" href={address('bedside', one.id)}>
                <strong>{one.title}</strong>
                <span class="soft small">{personInWords(one.person)} · {settingWords[one.setting] ?? one.setting}</span>
                {one.is_in_use && <span class="small">in use at a station: learners do not see it here</span>}
              </a>
            </li>
          ))}
        </ul>
      </section>
      {ended.length > 0 && (
        <section class="stack">
          <h2>Finished</h2>
          <ul class="plain-list cases">
            {ended.map((one) => (
              <li>
                <a class="case" href={address('bedside', one.case_id, 'again', one.id)}>
                  <strong>Debrief: {one.title}</strong>
                  <span class="soft small">
                    {new Date(one.started_at).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' })},
                    {' '}
                    {one.log.length} steps
                  </span>
                </a>
              </li>
            ))}
          </ul>
        </section>
      )}
      {own.length > 0 && (
        <section class="stack">
          <h2>From your recordings</h2>
          <ul class="plain-list cases">
            {own.map((one) => (
              <li>
                <a class="case" href={`#/recorded/${one.id}`}>
                  <strong>{one.title}</strong>
                  <span class="soft small">{one.recordings.length} places recorded</span>
                </a>
              </li>
            ))}
          </ul>
        </section>
      )}
      <PatientCode />
      {cases && cases.length > 0 && (
        <details>
          <summary>Case sheets, for the instructor: they tell what is wrong</summary>
          <ul>
            {cases.map((one) => (
              <li>
                <a href={`#/sheet/${encodeURIComponent(one.id)}`}>{one.title}</a>
              </li>
            ))}
          </ul>
        </details>
      )}
    </div>
  );
}

// From the instructor: a code that tells nothing.
function PatientCode() {
  const [code, setCode] = useState('');
  return (
    <form class="row" onSubmit={(event) => {
      event.preventDefault();
      const words = code.trim().toLowerCase();
      if (words) go('bedside', words.startsWith('own-') ? words : 'own-' + words);
    }}>
      <label>
        Code of a patient{' '}
        <input type="text" autocomplete="off" autocapitalize="none" spellcheck={false} maxLength={64} value={code}
          onInput={(event) => setCode(event.currentTarget.value)} />
      </label>
      <button type="submit">Meet this patient</button>
    </form>
  );
}
