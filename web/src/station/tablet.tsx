// The examiner's tablet: what only a person can judge, one tap each, saved at once. What the log says
// stands beside it. Marks that could not be sent stay on this device and are sent again.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { ExaminerMark, ExaminerSheet, Mark } from '../class/types';
import { getJson, getReady, putJson, Trouble } from '../lib/api';
import { MarkSheet } from './mark_view';

type Mine = ExaminerSheet['mine'];
// 1..5; the middle one sets the pass mark
const ratings = ['clearly not yet', 'not yet', 'borderline', 'good enough', 'excellent'] as const;
const kAgain_ms = 3000;
const keyOf = (id: string) => 'phren.tablet.' + id;

function unsent(id: string): Mine | null {
  try {
    return JSON.parse(localStorage.getItem(keyOf(id)) ?? 'null') as Mine | null;
  } catch {
    return null;
  }
}
function keepUnsent(id: string, mine: Mine | null): void {
  try {
    if (mine) localStorage.setItem(keyOf(id), JSON.stringify(mine));
    else localStorage.removeItem(keyOf(id));
  } catch { /* storage refused */ }
}

export function Tablet({ stationId, encounterId }: { stationId: string; encounterId: string }) {
  const [sheet, setSheet] = useState<ExaminerSheet | null>(null);
  const [mine, setMine] = useState<Mine>({ marks: [], global_rating: 0, note: '' });
  const [saved, setSaved] = useState('');
  const [trouble, setTrouble] = useState('');
  const [mark, setMark] = useState<Mark | null>(null);
  const [isWorking, setWorking] = useState(false);
  // The newest of all; what is on its way may be older. One request at a time, or an older one could
  // come last and overwrite what was given after it.
  const newest = useRef(mine);
  const isSending = useRef(false);
  const isGone = useRef(false);
  const timer = useRef<ReturnType<typeof setTimeout>>();

  const send = async () => {
    clearTimeout(timer.current);
    if (isSending.current) return;
    isSending.current = true;
    const sent = newest.current;
    let isDue = false;
    try {
      setSheet(await putJson<ExaminerSheet>(`encounters/${encounterId}/examiner`, sent));
      isDue = newest.current !== sent;
      if (JSON.stringify(unsent(encounterId)) === JSON.stringify(sent)) keepUnsent(encounterId, null);
      setSaved(isDue ? '' : 'Saved');
      setTrouble('');
    } catch (error) {
      setSaved('');
      setTrouble(`Not saved on the server yet: ${(error as Error).message} It is kept on this tablet.`);
      isDue = newest.current !== sent;
      if (!isGone.current && !(error instanceof Trouble && error.isFinal)) {
        timer.current = setTimeout(() => {
          void send();
        }, kAgain_ms);
      }
    } finally {
      isSending.current = false;
    }
    if (isDue && !isGone.current) void send();
  };
  useEffect(() => {
    getJson<ExaminerSheet>(`encounters/${encounterId}/examiner`).then((given) => {
      const left = unsent(encounterId);
      setSheet(given);
      newest.current = left ?? given.mine;
      setMine(newest.current);
      if (left) void send();
    }, (error: Error) => setTrouble(error.message));
    return () => {
      isGone.current = true;
      clearTimeout(timer.current);
    };
  }, [encounterId]);
  const change = (part: Partial<Mine>) => {
    newest.current = { ...newest.current, ...part };
    setMine(newest.current);
    setSaved('');
    keepUnsent(encounterId, newest.current);
    void send();
  };
  const give = (item_id: string, points: number) => {
    const { marks } = newest.current;
    const had = marks.find((one) => one.item_id === item_id);
    change({ marks: [...marks.filter((one) => one.item_id !== item_id), { item_id, points, note: had?.note ?? '' }] });
  };
  const compute = async () => {
    setWorking(true);
    setTrouble('');
    try {
      let made: Mark | null = null;
      for (let i = 0; i < 300 && !made; i++) {
        made = await getReady<Mark>(`encounters/${encounterId}/mark`);
        if (!made) await new Promise((wake) => setTimeout(wake, 700));
      }
      setMark(made);
    } catch (error) {
      setTrouble((error as Error).message);
    } finally {
      setWorking(false);
    }
  };
  if (!sheet) {
    return (
      <div class="stack">
        <h1>Mark</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }
  const forMe = sheet.items.filter((one) => one.rule === 'examiner');
  return (
    <div class="stack">
      <p class="small">
        <a href={`#/station/${stationId}`}>Back to the board</a>
      </p>
      <div class="row">
        <h1 class="grow">Mark {sheet.learner}</h1>
        <span role="status" class="small">{saved}</span>
      </div>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {forMe.length === 0 ?
        <p>This checklist is marked from the log alone. You can still rate the whole.</p>
        : (
          <ul class="plain-list">
            {forMe.map((item) => (
              <li class="item">
                <strong>{item.text}</strong>
                <PointChoice most={item.max_points} given={mine.marks.find((one) => one.item_id === item.item_id)}
                  onGive={(points) => give(item.item_id, points)} label={item.text} />
              </li>
            ))}
          </ul>
        )}
      <fieldset class="stack">
        <legend>Overall: would you trust this person on a call?</legend>
        <div class="choices">
          {ratings.map((words, i) => (
            <button aria-pressed={mine.global_rating === i + 1} onClick={() => change({ global_rating: i + 1 })}>
              {i + 1} {words}
            </button>
          ))}
        </div>
        <p class="small soft">
          The pass mark can be set from these ratings, so give them before you look at the points.
        </p>
      </fieldset>
      <label class="field">
        Note for the learner’s sheet<textarea rows={2} maxLength={1000} value={mine.note}
          onChange={(event) => change({ note: event.currentTarget.value })} />
      </label>
      {sheet.all.length > 1 && (
        <p class="small">
          {sheet.all.length} examiners have marked this encounter: {sheet.all.map((one) => one.examiner).join(', ')}.
        </p>
      )}
      <div class="row">
        <button disabled={isWorking} onClick={() => {
          void compute();
        }}>
          {isWorking ? 'Living the encounter again …' : 'Show what the log gives'}
        </button>
      </div>
      {mark && (
        <section class="card stack">
          <MarkSheet mark={mark} unmarked={forMe.filter((one) =>
            mark.items.find((item) =>
              item.id === one.item_id
            )?.verdict === 'not judged'
          ).length} />
        </section>
      )}
    </div>
  );
}

function PointChoice(
  { most, given, label, onGive }: { most: number; given: ExaminerMark | undefined; label: string;
    onGive: (points: number) => void },
) {
  const step = most <= 2 ? 0.5 : 1;
  const values = Array.from({ length: Math.round(most / step) + 1 }, (_, i) => i * step);
  return (
    <div class="choices" role="group" aria-label={`Points for: ${label}`}>
      {values.map((value) => (
        <button class="figures" aria-pressed={given?.points === value} onClick={() => onGive(value)}>{value}</button>
      ))}
    </div>
  );
}
