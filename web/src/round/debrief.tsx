// After the round: one person's time with the patient, in one take, lived again with any moment to be heard.
import { useEffect, useState } from 'preact/hooks';
import { Debrief } from '../bedside/debrief';
import type { Mark } from '../bedside/marks';
import { loadCase, loadVocabulary, type Vocabulary } from '../bedside/patients';
import { Encounter } from '../bedside/session';
import type { Case } from '../bedside/types';
import type { LogEntry } from '../generated/bedside';
import { getJson, getText } from '../lib/api';
import { KeepIt } from './keep_it';

interface Known {
  title: string;
  case_id: string;
  seed: string;
  takes: number;
  created_ms: number;
  people: { id: string; name: string; role: string }[];
}

// The entries of a log's text, below its header.
export const logOf = (text: string): LogEntry[] =>
  text.split('\n').slice(1).filter(Boolean).map((line) => JSON.parse(line) as LogEntry);

const marksOf = (log: readonly LogEntry[]): Mark[] =>
  log.flatMap((one) =>
    one.do === 'report'
      ? (one.sites && one.sites.length > 0 ? one.sites : ['']).map((site_id) => ({ finding_id: one.finding,
        presence: one.presence ?? 'present', basis: one.basis ?? 'heard', side: one.side ?? 'midline', site_id,
        t_s: one.t, words: '' })
      )
      : []
  );

export class KeptRound extends Encounter {
  override async keep(): Promise<void> {/* the log of the round is the server's */}
  takeUp(log: LogEntry[]): void {
    this.restore({ ...this.kept(), log, marks: marksOf(log), left_s: log[log.length - 1]?.t ?? 0 });
  }
}

export function RoundDebrief({ id }: { id: string }) {
  const [known, setKnown] = useState<Known | null>(null);
  const [words, setWords] = useState<Vocabulary | null>(null);
  const [person, setPerson] = useState('');
  const [take, setTake] = useState(-1);
  const [encounter, setEncounter] = useState<Encounter | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    Promise.all([getJson<Known>(`rounds/${id}`), loadVocabulary()]).then(([found, vocabulary]) => {
      setKnown(found);
      setWords(vocabulary);
      setTake(found.takes - 1);
      setPerson(found.people.find((one) => one.role === 'listener')?.id ?? found.people[0]?.id ?? '');
    }, (error: Error) => setTrouble(error.message));
  }, [id]);
  useEffect(() => {
    if (!known || !words || !person) return;
    setEncounter(null);
    live(id, known, words, person, take).then(setEncounter, (error: Error) => setTrouble(error.message));
  }, [known, words, person, take]);
  return (
    <div class="stack">
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {known && (
        <div class="row no-print">
          <label class="row">
            Whose{' '}
            <select value={person} onChange={(event) => setPerson(event.currentTarget.value)}>
              {known.people.map((one) => (
                <option value={one.id}>
                  {one.name || `Listener ${one.id.replace(/^p/, '')}`}
                  {one.role === 'desk' && ' (desk)'}
                </option>
              ))}
            </select>
          </label>
          {known.takes > 1 && (
            <label class="row">
              Take{' '}
              <select value={take} onChange={(event) => setTake(Number(event.currentTarget.value))}>
                {Array.from({ length: known.takes }, (_, i) => <option value={i}>{i + 1}</option>)}
              </select>
            </label>
          )}
          <a download href={`/api/v1/rounds/${id}/log?person=${person}&take=${take}`}>The log, as a file</a>
        </div>
      )}
      {encounter && words
        ? (
          <>
            <Debrief key={`${person} ${take}`} encounter={encounter} treatments={words.treatments} />
            <KeepIt caseId={known!.case_id} encounter={encounter} treatments={words.treatments} />
          </>
        )
        : !trouble && <h1>Debrief</h1>}
    </div>
  );
}

// As bad as each illness was at its worst: at the beginning, or where the desk steered it.
export const worstOf = (conditions: Case['conditions'], log: readonly LogEntry[]): Case['conditions'] =>
  conditions.map((one, i) => ({ ...one, severity: log.reduce((worst, line) =>
    line.do === 'steer' && line.condition === i ? Math.max(worst, line.severity) : worst, one.severity) })
  );

async function live(id: string, known: Known, words: Vocabulary, person: string, take: number): Promise<Encounter> {
  const [prepared, text] = await Promise.all([loadCase(known.case_id),
    getText(`rounds/${id}/log?person=${encodeURIComponent(person)}&take=${take}`)]);
  const log = logOf(text);
  const encounter = new KeptRound(`${id}-${person}-${take}`, { ...prepared, title: known.title,
    conditions: worstOf(prepared.conditions, log) }, Number(known.seed), words.sites, words.kinds,
    new Date(known.created_ms).toISOString());
  encounter.takeUp(log);
  return encounter;
}
