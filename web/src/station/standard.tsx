// Where the pass mark comes from: judges' estimates (Angoff), or the examiners' ratings of the whole.
import { useEffect, useState } from 'preact/hooks';
import { EstimateText } from '../class/estimate';
import type { Standard, Station } from '../class/types';
import { getJson, putJson } from '../lib/api';
import { planOf } from './builder';

const percent = (value: number | null) => (value === null ? '–' : `${Math.round(100 * value)} %`);

export function StandardView({ station, onChanged }: { station: Station; onChanged: (made: Station) => void }) {
  const [standard, setStandard] = useState<Standard | null>(null);
  const [chances, setChances] = useState<Record<string, number>>({});
  const [trouble, setTrouble] = useState('');
  const [saved, setSaved] = useState('');
  useEffect(() => {
    getJson<Standard>(`stations/${station.id}/standard`).then(setStandard, (error: Error) => setTrouble(error.message));
  }, [station.id]);
  const judge = async () => {
    setTrouble('');
    try {
      const all = Object.fromEntries(station.checklist.items.map((one) => [one.id, (chances[one.id] ?? 50) / 100]));
      setStandard(await putJson<Standard>(`stations/${station.id}/angoff`, { chances: all }));
      setSaved('Your estimates are stored.');
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const use = async (share: number) => {
    setTrouble('');
    try {
      const plan = planOf(station);
      onChanged(
        await putJson<Station>(`stations/${station.id}`, { ...plan,
          checklist: { ...plan.checklist, pass_share: share } }),
      );
      setSaved(`The pass mark is now ${percent(share)} of the points.`);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  if (!standard) return <p role="status">{trouble || 'One moment …'}</p>;
  const { borderline_regression: line, borderline_group: group, angoff } = standard;
  return (
    <section class="stack" aria-label="Pass mark">
      <p>
        Now: <strong>{percent(station.checklist.pass_share)}</strong> of the points, and no critical item missed.{' '}
        {standard.candidates} rated so far.
      </p>
      <p role="status" class="small">{saved}</p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="cards">
        <section class="card stack">
          <h2>From the ratings: borderline regression</h2>
          <p class="small">The points on the line through all learners, at the rating “borderline”.</p>
          {line ?
            (
              <>
                <p class="big">
                  <EstimateText estimate={line.cut} unit="points" />
                </p>
                <p class="small soft">Fits {percent(line.r_squared)} of the spread.</p>
                {line.warnings.map((one) => <p class="small notice">{one}</p>)}
                {line.share !== null && (
                  <button onClick={() => {
                    void use(line.share!);
                  }}>
                    Use {percent(line.share)}
                  </button>
                )}
              </>
            ) :
            <p class="soft">Not enough ratings yet.</p>}
        </section>
        <section class="card stack">
          <h2>From the ratings: borderline group</h2>
          <p class="small">The mean points of those rated borderline.</p>
          {group
            ? (
              <>
                <p class="big">
                  <EstimateText estimate={group.mean} unit="points" />
                </p>
                <p class="small soft">{group.candidates} rated borderline.</p>
                {group.warnings.map((one) => <p class="small notice">{one}</p>)}
              </>
            )
            : <p class="soft">Nobody was rated borderline yet.</p>}
        </section>
        <section class="card stack">
          <h2>From judges: Angoff</h2>
          <p class="small">What judges expect of somebody who only just deserves to pass.</p>
          {angoff ?
            (
              <>
                <p class="big">
                  <EstimateText estimate={angoff.cut} unit="points" />
                </p>
                <p class="small soft">{angoff.judges} judge{angoff.judges === 1 ? '' : 's'}.</p>
                {angoff.share !== null && (
                  <button onClick={() => {
                    void use(angoff.share!);
                  }}>
                    Use {percent(angoff.share)}
                  </button>
                )}
              </>
            ) :
            <p class="soft">No judge yet.</p>}
        </section>
      </div>
      {standard.notes.map((one) => <p class="small soft">{one}</p>)}
      <details>
        <summary>Give your own estimates</summary>
        <p class="small">Of 100 learners who only just deserve to pass, how many would get each item?</p>
        <ul class="plain-list">
          {station.checklist.items.map((one) => (
            <li class="item">
              <span>{one.text}</span>
              <label class="check small">
                of 100<input type="number" class="tiny" min="0" max="100" aria-label={`Of 100: ${one.text}`}
                  value={chances[one.id] ?? 50}
                  onInput={(event) =>
                    setChances({ ...chances,
                      [one.id]: Math.min(100, Math.max(0, Number(event.currentTarget.value))) })} />
              </label>
            </li>
          ))}
        </ul>
        <button class="main" onClick={() => {
          void judge();
        }}>
          Store my estimates
        </button>
      </details>
    </section>
  );
}
