// Where a learner stands, kind by kind, and what is taken for what. Also shown to the instructor.
import { type Confusion, exercises, type Skill } from './types';

const percent = (value: number | null): string => (value === null ? '–' : `${Math.round(value * 100)} %`);

export function dueInWords(days: number | null, plays: number): string {
  if (plays === 0 || days === null) return 'not met yet';
  if (days <= 0) return 'due now';
  if (days < 1) return `in ${Math.max(1, Math.round(days * 24))} h`;
  return `in ${Math.round(days)} day${Math.round(days) === 1 ? '' : 's'}`;
}

export function SkillTable({ skills }: { skills: readonly Skill[] }) {
  const met = skills.filter((one) => one.plays > 0);
  if (met.length === 0) return <p class="soft">Nothing practised yet.</p>;
  const modes = exercises.filter((one) => met.some((skill) => skill.mode === one.mode));
  return (
    <div class="scroll-x" tabIndex={0} role="region" aria-label="Skills">
      <table class="figures">
        <thead>
          <tr>
            <th scope="col">Kind</th>
            <th scope="col">Plays</th>
            <th scope="col">Right lately</th>
            <th scope="col">Remembered now</th>
            <th scope="col">Next look</th>
            <th scope="col">Firm</th>
          </tr>
        </thead>
        {modes.map((mode) => (
          <tbody>
            {modes.length > 1 && (
              <tr>
                <th colSpan={6} scope="rowgroup">{mode.name}</th>
              </tr>
            )}
            {met.filter((one) => one.mode === mode.mode).map((one) => (
              <tr>
                <th scope="row" class="plain-head">{one.label}</th>
                <td>{one.plays}</td>
                <td>
                  <Bar value={one.recent_share} /> {percent(one.recent_share)}
                </td>
                <td>{percent(one.recall)}</td>
                <td>{dueInWords(one.due_in_days, one.plays)}</td>
                <td>{one.is_mastered ? 'yes' : 'not yet'}</td>
              </tr>
            ))}
          </tbody>
        ))}
      </table>
    </div>
  );
}

export function Bar({ value }: { value: number | null }) {
  return (
    <svg class="bar-line" viewBox="0 0 40 8" aria-hidden="true">
      <path class="bar-back" d="M1 4h38" />
      {value !== null && value > 0 && <path class="bar-full" d={`M1 4h${(38 * value).toFixed(1)}`} />}
    </svg>
  );
}

// Rows are what was played, columns what was answered; the diagonal is right.
export function ConfusionTable({ confusion }: { confusion: Confusion }) {
  const { labels, counts } = confusion;
  const used = labels.map((_, i) => i).filter((i) =>
    counts[i]!.some((n) => n > 0) || counts.some((row) => row[i]! > 0)
  );
  if (used.length === 0) return <p class="soft">No answers yet.</p>;
  const wrong = used.flatMap((i) =>
    used.filter((j) => j !== i && counts[i]![j]! > 0).map((j) => ({ i, j, n: counts[i]![j]! }))
  ).sort((a, b) => b.n - a.n);
  const most = Math.max(1, ...used.flatMap((i) => counts[i]!));
  return (
    <div class="stack">
      {wrong.length > 0 && (
        <ul class="plain-list">
          {wrong.slice(0, 4).map(({ i, j, n }) => (
            <li class="figures">
              <strong>{labels[i]}</strong> was called <strong>{labels[j]}</strong> {n} time{n === 1 ? '' : 's'} of{' '}
              {counts[i]!.reduce((sum, one) => sum + one, 0)}
            </li>
          ))}
        </ul>
      )}
      <div class="scroll-x" tabIndex={0} role="region" aria-label="Confusion table">
        <table class="confusion figures">
          <caption class="small soft">
            Row: what was played. Column: what was answered. Right answers stand on the diagonal, in a frame.
          </caption>
          <thead>
            <tr>
              <td />
              <>
                {used.map((j) => (
                  <th scope="col">
                    <span>{labels[j]}</span>
                  </th>
                ))}
              </>
            </tr>
          </thead>
          <tbody>
            {used.map((i) => (
              <tr>
                <th scope="row" class="plain-head">{labels[i]}</th>
                {used.map((j) => {
                  const n = counts[i]![j]!;
                  return (
                    <td class={i === j ? 'diagonal' : ''} style={{ '--share': (n / most).toFixed(2) }}>{n || ''}</td>
                  );
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </div>
  );
}
