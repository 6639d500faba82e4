// The mark of one encounter: what was asked, what was done, why each point; then what was truly there.
import { useEffect, useState } from 'preact/hooks';
import { clock } from '../bedside/marking';
import { points } from '../class/estimate';
import type { Mark, MarkItem, ServedDebrief } from '../class/types';
import { getReady } from '../lib/api';

const sign: Record<MarkItem['verdict'], string> = { met: '✓', partly: '½', missed: '✗', 'not judged': '·' };

// Asks until the server has replayed the encounter.
export function useReady<T>(path: string): { value: T | null; trouble: string } {
  const [value, setValue] = useState<T | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    let timer: ReturnType<typeof setTimeout> | undefined;
    let isGone = false;
    const ask = () => {
      getReady<T>(path).then((made) => {
        if (isGone) return;
        if (made) setValue(made);
        else timer = setTimeout(ask, 700);
      }, (error: Error) => {
        if (!isGone) setTrouble(error.message);
      });
    };
    ask();
    return () => {
      isGone = true;
      clearTimeout(timer);
    };
  }, [path]);
  return { value, trouble };
}

export function verdictInWords(mark: Mark): string {
  const reasons = [
    ...(mark.critical_missed.length > 0
      ? [`${mark.critical_missed.length} critical item${mark.critical_missed.length === 1 ? '' : 's'} missed`]
      : []),
    ...(mark.over_time ? ['over time'] : []),
  ];
  return `${mark.passed ? 'Passed' : 'Not passed'}${reasons.length > 0 ? `: ${reasons.join(', ')}` : ''}`;
}

export function MarkView({ encounterId }: { encounterId: string }) {
  const mark = useReady<Mark>(`encounters/${encounterId}/mark`);
  const debrief = useReady<ServedDebrief>(`encounters/${encounterId}/debrief`);
  const trouble = mark.trouble || debrief.trouble;
  return (
    <article class="stack">
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {!mark.value && !trouble && (
        <>
          <h1>Result</h1>
          <p role="status">The server is living the encounter again, to mark what truly happened …</p>
        </>
      )}
      {mark.value && <MarkSheet mark={mark.value} />}
      {debrief.value && <Truth debrief={debrief.value} />}
      <div class="row no-print">
        <button onClick={() => print()}>Print or save as PDF</button>
      </div>
    </article>
  );
}

// `unmarked`: items that the examiner has yet to mark; until then there is no verdict.
export function MarkSheet({ mark, unmarked = 0 }: { mark: Mark; unmarked?: number }) {
  return (
    <>
      <h1>{mark.checklist_title}</h1>
      <p class="big">
        {points(mark.points)} of {points(mark.max_points)} points{' '}
        <span class="verdict">
          {unmarked === 0
            ? verdictInWords(mark)
            : `so far: ${unmarked} item${unmarked === 1 ? '' : 's'} for the examiner still open`}
        </span>
      </p>
      {mark.claim === 'contradicted' && (
        <p class="notice">
          What the browser said of the patient does not agree with the replay. The mark rests on the replay.
        </p>
      )}
      {mark.doubts.length > 0 && (
        <div class="notice">
          <p>Look at how this was done before you rely on it. The marks are not changed by it.</p>
          <ul>
            {mark.doubts.map((doubt) => <li key={doubt.rule}>At {doubt.time_s.toFixed(0)} s: {doubt.reason}.</li>)}
          </ul>
        </div>
      )}
      <ul class="plain-list marks">
        {mark.items.map((item) => (
          <li class={item.critical && item.verdict !== 'met' && item.verdict !== 'not judged' ? 'mark notice' : 'mark'}>
            <span class="mark-sign" aria-hidden="true">{sign[item.verdict]}</span>
            <span>
              <strong>{item.text}</strong>
              {item.critical && ' (critical)'}
              <span class="unseen">: {item.verdict}</span>
              <span class="small soft">{item.reason}{item.why && ` ${item.why}`}</span>
            </span>
            <span class="figures mark-points">
              {item.verdict === 'not judged' ? 'not judged' : `${points(item.points)} / ${points(item.max_points)}`}
            </span>
          </li>
        ))}
      </ul>
      {mark.status && <p class="small soft">Checklist: {mark.status.replace(/^[A-Z]+: /, '')}</p>}
    </>
  );
}

function Truth({ debrief }: { debrief: ServedDebrief }) {
  const { conditions, teaching_points } = debrief.truth;
  return (
    <section class="stack">
      <h2>What the patient had</h2>
      <p>
        {conditions.length === 0
          ? 'Nothing: a healthy chest.'
          : conditions.map((one) => `${one.label}${one.side ? `, ${one.side}` : ''}${one.lobe ? `, ${one.lobe}` : ''}`)
            .join('; ') + '.'}
      </p>
      <h2>Where the chestpiece lay, and what could be heard there</h2>
      {debrief.stays.length === 0 && <p>The chestpiece was never on the chest.</p>}
      <ul class="plain-list small figures">
        {debrief.stays.map((stay) => (
          <li>
            {clock(stay.start_s)} <strong>{stay.site_id || stay.aspect.replaceAll('_', ' ')}</strong>,{' '}
            {(stay.end_s - stay.start_s).toFixed(0)} s{stay.through_clothing && ', through clothing'}
            : {stay.found.words}
          </li>
        ))}
      </ul>
      {(debrief.marks.length > 0 || debrief.missed.length > 0) && <h2>What you said of it</h2>}
      <ul class="plain-list small">
        {debrief.marks.map((one) => (
          <li class={one.verdict === 'wrong' ? 'notice' : ''}>
            <strong>
              {one.presence === 'absent' && 'no '}
              {one.finding.replaceAll('_', ' ')}
              {one.side !== 'midline' && `, ${one.side}`}
            </strong>: {one.verdict}
            {one.reason && `. ${one.reason}`}
          </li>
        ))}
        {debrief.missed.map((one) => (
          <li class="notice">
            <strong>{one.words}</strong>
            {one.sites.length > 0 && `, at ${one.sites.join(', ')}`}: could be heard and was not named
          </li>
        ))}
      </ul>
      {teaching_points.length > 0 && (
        <>
          <h2>To take away</h2>
          <ul>{teaching_points.map((one) => <li>{one}</li>)}</ul>
        </>
      )}
    </section>
  );
}
