// What is wrong with the patient, once it may be seen: what was there from the beginning, and what the desk brought in.
import { clock } from '../bedside/marking';
import { bodyEventLabel, bodyEvents } from '../generated/bedside';
import { livedBy, type Round, secondsOf } from './round';
import type { Truth } from './types';

// `isShort`: without what is to be taken away.
export function TruthShown({ round, truth, isShort }: { round: Round; truth: Truth; isShort?: boolean }) {
  const lived = livedBy(round.lines.value);
  const broughtIn = new Set(
    lived.filter((line) => line.do === 'steer' && Number(line['severity']) > 0).map((line) => line['condition']),
  );
  const events = lived.filter((line) => line.do === 'befall').flatMap((line) =>
    bodyEvents.filter((event) => event === line['event']).map((event) => ({ event, at: secondsOf(line.step) }))
  );
  const there = truth.conditions.filter((one, i) => one.severity > 0 || broughtIn.has(i));
  return (
    <section class="card stack" aria-label="What it is">
      <h2>What it is</h2>
      {there.length === 0 && events.length === 0 && <p>Nothing: the patient is healthy.</p>}
      <ul>
        {there.map((one) => (
          <li>
            <strong>{one.label}</strong>
            {one.side && `, ${one.side}`}
            {one.lobe && `, ${one.lobe}`}
          </li>
        ))}
        {events.map(({ event, at }) => <li>{bodyEventLabel[event]}, at {clock(at)}</li>)}
      </ul>
      {!isShort && truth.teaching_points.length > 0 && (
        <ul class="small">{truth.teaching_points.map((one) => <li>{one}</li>)}</ul>
      )}
    </section>
  );
}
