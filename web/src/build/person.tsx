// Who the patient is: sex, age and build by a tap each; exact figures where they are wanted.
import { useState } from 'preact/hooks';
import { ageInWords } from '../bedside/types';
import type { Sex } from '../generated/bedside';
import type { Shown } from '../show/types';
import { type Draft, personOf } from './draft';

const kAges = [0.02, 0.5, 2, 6, 16, 25, 40, 55, 70, 90];

export function PersonFields({ shown, person, onChange }: {
  shown: Shown;
  person: Draft['person'];
  onChange: (to: Draft['person']) => void;
}) {
  const [build, setBuild] = useState('');
  const who = (ageYears: number, sex: Sex, buildId: string) => {
    setBuild(buildId);
    onChange(personOf(shown, ageYears, sex, buildId));
  };
  const { age_years: age, sex } = person;
  const nouns: Record<Sex, string> = age >= 18 ? { female: 'Woman', male: 'Man' } : { female: 'Girl', male: 'Boy' };
  const figure = (key: 'height_cm' | 'weight_kg' | 'age_years', words: string, least: number, most: number,
    step: number) => (
    <label>
      {words}{' '}
      <input class="short" type="number" min={least} max={most} step={step} value={person[key]} onInput={(event) => {
        const value = Number(event.currentTarget.value);
        if (!Number.isFinite(value) || event.currentTarget.value === '') return;
        if (key === 'age_years') who(value, sex, build);
        else onChange({ ...person, [key]: value });
      }} />
    </label>
  );
  return (
    <fieldset class="stack">
      <legend>Who</legend>
      <div class="choices" role="group" aria-label="Sex">
        {(['female', 'male'] as const).map((one) => (
          <button type="button" aria-pressed={sex === one} onClick={() => who(age, one, build)}>{nouns[one]}</button>
        ))}
      </div>
      <div class="choices" role="group" aria-label="Age">
        {kAges.map((years) => (
          <button type="button" aria-pressed={age === years} onClick={() => who(years, sex, build)}>
            {years < 0.1 ? 'newborn' : years >= 2 ? String(years) : ageInWords(years)}
          </button>
        ))}
      </div>
      <div class="choices" role="group" aria-label="Build">
        {[{ id: '', label: 'average' }, ...shown.builds].map((one) => (
          <button type="button" aria-pressed={build === one.id} onClick={() => who(age, sex, one.id)}>
            {one.label}
          </button>
        ))}
      </div>
      <details>
        <summary>Exact figures: {person.height_cm} cm, {person.weight_kg} kg</summary>
        <div class="row">
          {figure('age_years', 'Age in years', 0, 110, 0.01)}
          {figure('height_cm', 'Height in cm', 40, 220, 1)}
          {figure('weight_kg', 'Weight in kg', 1.5, 250, 0.1)}
          <label class="grow">
            Muscle
            <input type="range" min="0" max="1" step="0.05" value={person.muscle}
              onInput={(event) => onChange({ ...person, muscle: Number(event.currentTarget.value) })} />
          </label>
        </div>
      </details>
    </fieldset>
  );
}
