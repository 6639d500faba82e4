// The desk of one station: open it, watch it, mark it, set the standard, release the results.
import { useEffect, useState } from 'preact/hooks';
import type { CaseSummary } from '../bedside/types';
import type { Board, ClassRoom, Station, StationState } from '../class/types';
import { getJson, postJson } from '../lib/api';
import { BoardView } from './board';
import { JoinSheet } from './join_sheet';
import { StandardView } from './standard';
import { stateInWords } from './station_place';

const views = ['Board', 'Join', 'Pass mark', 'Plan'] as const;
type View = (typeof views)[number];

// What may come next from each state, and how it is asked for.
const steps: Record<StationState, { to: StationState; words: string; isMain: boolean; ask?: string }[]> = {
  draft: [{ to: 'open', words: 'Open the station', isMain: true }],
  open: [{ to: 'closed', words: 'Close the station', isMain: true,
    ask: 'Close it? Nothing done after this counts; what was done before is still taken for a minute.' }],
  closed: [{ to: 'released', words: 'Release the results', isMain: true,
    ask: 'Release? Each learner then sees the mark, the reasons and what the patient had.' }, { to: 'open',
    words: 'Open again', isMain: false }],
  released: [{ to: 'closed', words: 'Take the release back', isMain: false }],
};

const learners = (count: number) => `${count} learner${count === 1 ? '' : 's'}`;
// What should be known before closing or releasing; empty where there is nothing to mind.
function leftToDo(board: Board, station: Station, to: StationState): string {
  const underWay = board.learners.filter((one) => one.phase === 'under_way').length;
  const needsExaminer = station.checklist.items.some((one) => one.rule === 'examiner');
  const unmarked = board.learners.filter((one) => one.encounter_id && one.examiner_marks === 0).length;
  return [
    ...(underWay > 0 ? [`${learners(underWay)} still under way.`] : []),
    ...(to === 'released' && needsExaminer && unmarked > 0
      ? [`${learners(unmarked)} without the examiner’s marks: those points are missing.`]
      : []),
  ].join(' ');
}

export function Desk({ stationId }: { stationId: string }) {
  const [station, setStation] = useState<Station | null>(null);
  const [view, setView] = useState<View>('Board');
  const [asking, setAsking] = useState<StationState | null>(null);
  const [mind, setMind] = useState('');
  const [isInstructor, setInstructor] = useState(false);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<Station>(`stations/${stationId}`).then((made) => {
      setStation(made);
      if (made.state === 'draft') setView('Plan');
      return getJson<ClassRoom>(`classes/${made.class_id}`);
    })
      .then((room) => setInstructor(room.my_role === 'instructor')).catch((error: Error) => setTrouble(error.message));
  }, [stationId]);
  if (!station) {
    return (
      <div class="stack">
        <h1>Station</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }

  const move = async (state: StationState) => {
    setAsking(null);
    setTrouble('');
    try {
      setStation(await postJson<Station>(`stations/${stationId}/state`, { state }));
      setView(state === 'open' ? 'Join' : 'Board');
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const ask = async (to: StationState) => {
    setMind(
      await getJson<Board>(`stations/${stationId}/board`).then((board) => leftToDo(board, station, to),
        () => 'Who is still under way could not be asked.'),
    );
    setAsking(to);
  };
  const asked = steps[station.state].find((one) => one.to === asking);
  return (
    <div class="stack">
      <p class="small no-print">
        <a href={`#/class/${station.class_id}`}>Back to the class</a>
      </p>
      <div class="row">
        <h1 class="grow">{station.title}</h1>
        <span role="status">
          <span class="small soft">now:{' '}</span>
          <strong>{stateInWords[station.state]}</strong>
        </span>
      </div>
      {isInstructor && (
        <div class="row">
          {steps[station.state].map((one) => (
            <button class={one.isMain ? 'main' : ''} onClick={() => {
              if (one.ask) void ask(one.to);
              else void move(one.to);
            }}>
              {one.words}
            </button>
          ))}
        </div>
      )}
      {asked && (
        <div class="notice row" role="alertdialog" aria-label={asked.words}>
          <span class="grow">{mind && <strong>{mind}{' '}</strong>}{asked.ask}</span>
          <button class="main" onClick={() => {
            void move(asked.to);
          }}>
            {asked.words}
          </button>
          <button onClick={() => setAsking(null)}>Not now</button>
        </div>
      )}
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="row" role="group" aria-label="Show">
        {views.map((one) => <button aria-pressed={view === one} onClick={() => setView(one)}>{one}</button>)}
      </div>
      {view === 'Board' && <BoardView station={station} />}
      {view === 'Join' && <JoinSheet station={station} isInstructor={isInstructor} />}
      {view === 'Pass mark' && <StandardView station={station} onChanged={setStation} />}
      {view === 'Plan' && <PlanView station={station} isInstructor={isInstructor} />}
    </div>
  );
}

function PlanView({ station, isInstructor }: { station: Station; isInstructor: boolean }) {
  const [cases, setCases] = useState<CaseSummary[]>([]);
  useEffect(() => {
    getJson<{ cases: CaseSummary[] }>(`classes/${station.class_id}/cases`).then((answer) => setCases(answer.cases),
      () => {/* ids, then */});
  }, [station.class_id]);
  const points = station.checklist.items.reduce((sum, one) => sum + (one.points ?? 1), 0);
  return (
    <section class="stack" aria-label="Plan">
      <ul>
        <li>
          {station.case_ids.length === 1 ? 'One patient' : `${station.case_ids.length} patients, dealt in turn`}:{' '}
          {station.case_ids.map((id) => cases.find((one) => one.id === id)?.title ?? id.replaceAll('_', ' ')).join(
            ', ',
          )}
        </li>
        <li>
          {station.time_limit_s > 0
            ? `${Math.round(station.time_limit_s / 60)} minutes, longer for learners with extra time`
            : 'No time limit'}
        </li>
        <li>
          {station.admission === 'open'
            ? 'Anybody with the code may come'
            : 'Only learners of the roster, each with a key'}
        </li>
        <li>
          {station.checklist.items.length} items, {points} points; passes with{' '}
          {Math.round(100 * station.checklist.pass_share)} %
        </li>
      </ul>
      <ol>
        {station.checklist.items.map((one) => (
          <li>
            {one.text}{' '}
            <span class="soft small">
              {one.points ?? 1} point{(one.points ?? 1) === 1 ? '' : 's'}
              {one.critical && ', critical'}
              {one.rule === 'examiner' && ', marked by the examiner'}
            </span>
          </li>
        ))}
      </ol>
      {isInstructor && (
        <p>
          <a class="button-link" href={`#/station/${station.id}/change`}>Change the plan</a>
        </p>
      )}
    </section>
  );
}
