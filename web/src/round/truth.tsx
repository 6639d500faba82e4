// What is wrong with the patient, once it may be seen.
import type { Truth } from './types';

export function TruthShown({ truth }: { truth: Truth }) {
  return (
    <section class="card stack" aria-label="What it is">
      <h2>What it is</h2>
      <ul>
        {truth.conditions.filter((one) => one.severity > 0).map((one) => (
          <li>
            <strong>{one.label}</strong>
            {one.side && `, ${one.side}`}
            {one.lobe && `, ${one.lobe}`}
          </li>
        ))}
      </ul>
      {truth.teaching_points.length > 0 && <ul class="small">{truth.teaching_points.map((one) => <li>{one}</li>)}</ul>}
    </section>
  );
}
