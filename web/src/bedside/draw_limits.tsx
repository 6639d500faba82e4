// The limits within which patients are drawn: fields, and the id of a patient drawn with a number.
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';
import { randomId } from './drawn';
import { severities } from './types';

interface ConditionKind {
  id: string;
  label: string;
  least_age_years: number;
  most_age_years: number;
}

// `idOf` throws words a person can act on where the limits leave nobody.
export function useDrawLimits(): { fields: JSX.Element; idOf: (seed: number) => string } {
  const [kinds, setKinds] = useState<ConditionKind[]>([]);
  const [from, setFrom] = useState(16);
  const [to, setTo] = useState(90);
  const [build, setBuild] = useState('any');
  const [severity, setSeverity] = useState(0);
  const [most, setMost] = useState(1);
  const [chosen, setChosen] = useState<readonly string[]>([]);
  useEffect(() => {
    getJson<{ conditions: ConditionKind[] }>('conditions').then((answer) => setKinds(answer.conditions),
      () => {/* any condition can still be drawn */});
  }, []);
  const taught = kinds.filter((one) => one.least_age_years <= to && one.most_age_years >= from);
  const wanted = chosen.filter((id) => taught.some((one) => one.id === id));
  const idOf = (seed: number): string => {
    if (from > to) {
      throw new Error(
        `The ages run from ${from} to ${to}: nobody is that old and that young. Make the second number the larger one.`,
      );
    }
    const [, fromPercent, toPercent] = severities[severity]!;
    const id = randomId({ fromYears: from, toYears: to, build, fromPercent, toPercent, most, conditions: wanted,
      seed });
    if (id.length > 200) {
      throw new Error(
        'So many conditions do not fit into the patient’s number. Choose at most seven, or none for any.',
      );
    }
    return id;
  };
  const fields = (
    <>
      <div class="row">
        <label>
          Age from{' '}
          <input class="short" type="number" min="0" max="110" step="1" value={from}
            onInput={(event) => setFrom(Number(event.currentTarget.value))} />
        </label>
        <label>
          to{' '}
          <input class="short" type="number" min="0" max="110" step="1" value={to}
            onInput={(event) => setTo(Number(event.currentTarget.value))} />{' '}
          years
        </label>
        <label>
          Build{' '}
          <select value={build} onChange={(event) => setBuild(event.currentTarget.value)}>
            <option value="any">any</option>
            <option value="slim">slim</option>
            <option value="average">average</option>
            <option value="heavy">heavy</option>
          </select>
        </label>
        <label>
          Severity{' '}
          <select value={severity} onChange={(event) => setSeverity(Number(event.currentTarget.value))}>
            {severities.map(([word], i) => <option value={i}>{word}</option>)}
          </select>
        </label>
        <label>
          Conditions at once{' '}
          <select value={most} onChange={(event) => setMost(Number(event.currentTarget.value))}>
            <option value="1">one</option>
            <option value="2">one or two</option>
          </select>
        </label>
      </div>
      <fieldset>
        <legend>Which conditions{wanted.length === 0 ? ': any' : ''}</legend>
        <div class="choices">
          {taught.map((one) => (
            <button type="button" aria-pressed={chosen.includes(one.id)} onClick={() =>
              setChosen(chosen.includes(one.id)
                ? chosen.filter((id) => id !== one.id)
                : [...chosen, one.id])}
            >
              {one.label}
            </button>
          ))}
        </div>
      </fieldset>
    </>
  );
  return { fields, idOf };
}
