// A patient drawn within limits; the number makes it the same patient again.
import { useState } from 'preact/hooks';
import { go } from '../lib/route';
import { useDrawLimits } from './draw_limits';
import { newSeed } from './drawn';
import { loadCase } from './patients';

export function DrawForm() {
  const { fields, idOf } = useDrawLimits();
  const [seed, setSeed] = useState('');
  const [trouble, setTrouble] = useState('');
  const draw = async () => {
    setTrouble('');
    const number = seed.trim() === '' ? newSeed() : Number(seed);
    if (!Number.isInteger(number) || number < 0 || number > 2 ** 53) {
      setTrouble(`The patient number is “${seed}”; it must be a whole number, or empty for a new patient.`);
      return;
    }
    try {
      const id = idOf(number);
      await loadCase(id);
      go('bedside', id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <form class="stack card" onSubmit={(event) => {
      event.preventDefault();
      void draw();
    }}>
      {fields}
      <label>
        Patient number{' '}
        <input type="text" inputMode="numeric" value={seed} placeholder="empty: a new patient"
          onInput={(event) => setSeed(event.currentTarget.value)} />
      </label>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="main-action">
        <button class="main" type="submit">Draw a patient</button>
      </div>
    </form>
  );
}
