// The live board: who is where. It asks the server every two seconds and can be held still.
import { useEffect, useState } from 'preact/hooks';
import { clock } from '../bedside/marking';
import { points } from '../class/estimate';
import type { Board, BoardLearner, Station } from '../class/types';
import { deedLabel } from '../generated/bedside';
import { getJson } from '../lib/api';

const kEvery_ms = 2000;
const phases: Record<BoardLearner['phase'], string> = { absent: 'not here yet', joined: 'ready', under_way: 'under way',
  ended: 'finished', marked: 'marked' };

export function BoardView({ station }: { station: Station }) {
  const [board, setBoard] = useState<Board | null>(null);
  const [trouble, setTrouble] = useState('');
  const [isStill, setStill] = useState(false);
  useEffect(() => {
    let isGone = false;
    const ask = () =>
      getJson<Board>(`stations/${station.id}/board`).then((made) => {
        if (!isGone) {
          setBoard(made);
          setTrouble('');
        }
      }, (error: Error) => {
        if (!isGone) setTrouble(error.message);
      });
    void ask();
    if (isStill) {
      return () => {
        isGone = true;
      };
    }
    const timer = setInterval(() => {
      if (!document.hidden) void ask();
    }, kEvery_ms);
    return () => {
      isGone = true;
      clearInterval(timer);
    };
  }, [station.id, isStill, station.state]);
  if (!board) return <p role="status">{trouble || 'One moment …'}</p>;
  const count = (phase: BoardLearner['phase']) => board.learners.filter((one) => one.phase === phase).length;
  const here = board.learners.filter((one) => one.phase !== 'absent');
  const absent = board.learners.filter((one) => one.phase === 'absent');
  return (
    <section class="stack" aria-label="Board">
      <div class="row">
        <p class="grow figures board-count">
          {here.length} of {board.learners.length} here · {count('under_way')} under way ·{' '}
          {count('ended') + count('marked')} finished
        </p>
        <button aria-pressed={isStill} onClick={() => setStill(!isStill)}>Freeze</button>
      </div>
      {trouble && <p class="notice" role="alert">{trouble} What is shown is the last that was heard.</p>}
      {here.length === 0 && <p class="soft">Nobody is here yet. Show the code under Join.</p>}
      <ul class="plain-list board">
        {here.map((one) => (
          <BoardRow one={one} nowMs={board.now_ms} stationId={station.id}
            needsExaminer={station.checklist.items.some((item) => item.rule === 'examiner')} />
        ))}
      </ul>
      {absent.length > 0 && <p class="small soft">Not here yet: {absent.map((one) => one.name).join(', ')}</p>}
    </section>
  );
}

const kNotedLate_s = 60; // as the audit log notes it
const ago = (seconds: number) =>
  (seconds < 60 ? `${Math.round(seconds)} s` : `${Math.floor(seconds / 60)} min`) + ' ago';

// How old the newest step is that the server has; and whether it came long after the time it names.
function heard(one: BoardLearner, nowMs: number): string {
  const lateS = one.actions > 0 ? (one.heard_ms - one.started_ms) / 1000 - one.time_s : 0;
  return `last heard ${ago(Math.max(0, nowMs - one.heard_ms) / 1000)}${
    lateS > kNotedLate_s ? `, ${Math.round(lateS)} s after it was done` : ''
  }`;
}

// Until the examiner has given something, no points are shown: they would sway the rating.
export const isUnjudged = (one: BoardLearner): boolean => one.phase === 'marked' && one.examiner_marks === 0;

function BoardRow(
  { one, nowMs, stationId, needsExaminer }: { one: BoardLearner; nowMs: number; stationId: string;
    needsExaminer: boolean },
) {
  const leftS = one.ends_ms > 0 ? (one.ends_ms - nowMs) / 1000 : null;
  const isNear = one.phase === 'under_way' && leftS !== null && leftS < 60;
  return (
    <li class="board-row">
      <strong>{one.name}</strong>
      <span>
        {isUnjudged(one)
          ? (needsExaminer ? 'log marked, examiner’s points missing' : 'marked automatically; your rating is missing')
          : phases[one.phase]}
        {one.phase === 'under_way' && leftS !== null && (
          <>
            {' · '}
            <span class={isNear ? 'figures near' : 'figures'}>{clock(Math.max(0, leftS))} left</span>
          </>
        )}
      </span>
      <span class="small soft">
        {one.phase === 'under_way' || one.phase === 'ended'
          ? `${one.actions} step${one.actions === 1 ? '' : 's'}${
            one.last_action
              ? `, last: ${
                (deedLabel as Record<string, string>)[one.last_action] ?? one.last_action.replaceAll('_', ' ')
              }`
              : ''
          }`
          : ''}
        {one.phase === 'under_way' && <span class="figures">{' '}· {heard(one, nowMs)}</span>}
        {one.phase === 'marked' && !isUnjudged(one) && one.points !== null && (
          <span class="figures">
            {' '}
            {points(one.points)} of {points(one.max_points ?? 0)} points, {one.passed ? 'passed' : 'not passed'}
          </span>
        )}
      </span>
      {one.encounter_id
        ? (
          <a class="button-link" href={`#/station/${stationId}/mark/${one.encounter_id}`}>
            Mark<span class="unseen">{' '}{one.name}</span>
            {one.examiner_marks > 0 && <span>&nbsp;({one.examiner_marks} given)</span>}
          </a>
        )
        : <span />}
    </li>
  );
}
