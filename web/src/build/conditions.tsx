// What the patient has: one or more conditions, each with side, lobe, how bad now and later.
import { useState } from 'preact/hooks';
import { severities } from '../bedside/types';
import { type Lobe, lobeLabel, lobes, sideOfLobe, sides } from '../generated/bedside';
import { type DraftCondition, type Wanted } from './draft';

export interface ConditionKind {
  id: string;
  label: string;
  meaning: string;
  has_side: boolean;
  least_age_years: number;
  most_age_years: number;
}

const kMost = 4;
const kSides = sides.filter((one): one is Wanted => one !== 'midline');
const kGrades = severities.slice(1).map(([word, from, to]) => ({ word, value: Math.round((from + to) / 2) / 100 }));

export function Conditions({ kinds, ageYears, chosen, onChange }: {
  kinds: readonly ConditionKind[];
  ageYears: number;
  chosen: readonly DraftCondition[];
  onChange: (to: DraftCondition[]) => void;
}) {
  const [find, setFind] = useState('');
  const fitting = kinds.filter((one) =>
    one.id !== 'healthy' && one.least_age_years <= ageYears && one.most_age_years >= ageYears &&
    (one.label + ' ' + one.meaning).toLowerCase().includes(find.trim().toLowerCase()) &&
    !chosen.some((other) => other.id === one.id)
  );
  const add = (id: string) => {
    setFind('');
    onChange([...chosen, { id, severity: 0.7, side: null, lobe: null, severity_later: null, change_over_min: null }]);
  };
  const change = (at: number, to: Partial<DraftCondition>) =>
    onChange(chosen.map((one, i) => (i === at ? { ...one, ...to } : one)));
  return (
    <fieldset class="stack">
      <legend>What is wrong{chosen.length === 0 ? ': nothing' : ''}</legend>
      {chosen.map((one, i) => (
        <OneCondition key={one.id} kind={kinds.find((kind) => kind.id === one.id)} one={one}
          onChange={(to) => change(i, to)} onRemove={() => onChange(chosen.filter((_, k) => k !== i))} />
      ))}
      {chosen.length < kMost && (
        <details open={chosen.length === 0}>
          <summary>{chosen.length === 0 ? 'Choose a condition' : 'Add another condition'}</summary>
          <div class="stack">
            <input type="text" placeholder="find by a word" aria-label="Find a condition" value={find}
              onInput={(event) => setFind(event.currentTarget.value)} />
            <div class="choices">
              {fitting.map((kind) => (
                <button type="button" title={kind.meaning} onClick={() => add(kind.id)}>{kind.label}</button>
              ))}
            </div>
            {fitting.length === 0 && <p class="soft">Nothing of that name is taught at this age.</p>}
          </div>
        </details>
      )}
    </fieldset>
  );
}

function OneCondition({ kind, one, onChange, onRemove }: {
  kind: ConditionKind | undefined;
  one: DraftCondition;
  onChange: (to: Partial<DraftCondition>) => void;
  onRemove: () => void;
}) {
  const label = kind?.label ?? one.id;
  const course = one.severity_later === null ? 'natural' : one.severity_later === one.severity ? 'steady' : 'to';
  const nearest = [...kGrades].sort((a, b) => Math.abs(a.value - one.severity) - Math.abs(b.value - one.severity))[0]!;
  const setCourse = (to: string) =>
    onChange(to === 'natural'
      ? { severity_later: null, change_over_min: null }
      : to === 'steady'
      ? { severity_later: one.severity, change_over_min: 0 }
      : { severity_later: Math.min(1, Math.round(100 * (one.severity + 0.25)) / 100), change_over_min: 10 });
  const number = (value: string, most: number) => Math.max(0, Math.min(most, Number(value) || 0));
  return (
    <div class="card stack build-condition">
      <div class="row">
        <strong class="grow">{label}</strong>
        <button type="button" class="plain" onClick={onRemove}>Take out</button>
      </div>
      {kind && <p class="small soft">{kind.meaning}</p>}
      <div class="choices" role="group" aria-label={`How bad: ${label}`}>
        {kGrades.map((grade) => (
          <button type="button" aria-pressed={grade === nearest}
            onClick={() =>
              onChange({ severity: grade.value, ...(course === 'steady' ? { severity_later: grade.value } : {}) })}
          >
            {grade.word}
          </button>
        ))}
      </div>
      <div class="choices" role="group" aria-label={`Side: ${label}`}>
        {kind?.has_side && kSides.map((side) => (
          <button type="button" aria-pressed={one.side === side} onClick={() =>
            onChange({ side: one.side === side ? null : side,
              lobe: one.lobe && sideOfLobe[one.lobe] !== side ? null : one.lobe })}
          >
            {side === 'right' ? 'Right' : 'Left'}
          </button>
        ))}
        <select aria-label={`Lobe: ${label}`} value={one.lobe ?? ''} onChange={(event) => {
          const lobe = (event.currentTarget.value || null) as Lobe | null;
          onChange({ lobe, ...(lobe && one.side ? { side: sideOfLobe[lobe] } : {}) });
        }}>
          <option value="">where it usually is</option>
          {lobes.map((lobe) => <option value={lobe}>{lobeLabel[lobe]}</option>)}
        </select>
      </div>
      <div class="row">
        <label>
          From then on{' '}
          <select value={course} onChange={(event) => setCourse(event.currentTarget.value)}>
            <option value="natural">as it runs by nature</option>
            <option value="steady">stays as it is</option>
            <option value="to">goes to …</option>
          </select>
        </label>
        {course === 'to' && (
          <>
            <label>
              <input class="short" type="number" min="0" max="100" step="5" aria-label="percent of the worst"
                value={Math.round(100 * one.severity_later!)} onInput={(event) =>
                onChange({ severity_later: number(event.currentTarget.value, 100) / 100 })} />{' '}
              %
            </label>
            <label>
              in{' '}
              <input class="short" type="number" min="0" max="600" step="1" value={one.change_over_min ?? 0}
                onInput={(event) => onChange({ change_over_min: number(event.currentTarget.value, 600) })} />{' '}
              min
            </label>
          </>
        )}
      </div>
      <label class="field small">
        Exactly how bad, in per cent of the worst: {Math.round(100 * one.severity)}
        <input type="range" min="0" max="100" step="1" value={Math.round(100 * one.severity)} onInput={(event) => {
          const severity = Number(event.currentTarget.value) / 100;
          onChange({ severity, ...(course === 'steady' ? { severity_later: severity } : {}) });
        }} />
      </label>
    </div>
  );
}
