// A patient drawn within limits; the number makes it the same patient again.
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';
import { go } from '../lib/route';
import { newSeed, randomId } from './drawn';
import { loadCase } from './patients';
import { severities } from './types';

interface ConditionKind { id: string; label: string; least_age_years: number; most_age_years: number }

export function DrawForm() {
  const [kinds, setKinds] = useState<ConditionKind[]>([]);
  const [from, setFrom] = useState(16);
  const [to, setTo] = useState(90);
  const [build, setBuild] = useState('any');
  const [severity, setSeverity] = useState(0);
  const [most, setMost] = useState(1);
  const [chosen, setChosen] = useState<readonly string[]>([]);
  const [seed, setSeed] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => { getJson<{ conditions: ConditionKind[] }>('conditions').then((answer) => setKinds(answer.conditions), (error: Error) => setTrouble(error.message)); }, []);
  const taught = kinds.filter((one) => one.least_age_years <= to && one.most_age_years >= from);
  const wanted = chosen.filter((id) => taught.some((one) => one.id === id));
  const draw = async () => {
    setTrouble('');
    if (from > to) { setTrouble(`The ages run from ${from} to ${to}: nobody is that old and that young. Make the second number the larger one.`); return; }
    const number = seed.trim() === '' ? newSeed() : Number(seed);
    if (!Number.isInteger(number) || number < 0 || number > 2 ** 53) { setTrouble(`The patient number is “${seed}”; it must be a whole number, or empty for a new patient.`); return; }
    const [, fromPercent, toPercent] = severities[severity]!;
    const id = randomId({ fromYears: from, toYears: to, build, fromPercent, toPercent, most, conditions: wanted, seed: number });
    if (id.length > 200) { setTrouble('So many conditions do not fit into the patient’s number. Choose at most seven, or none for any.'); return; }
    try { await loadCase(id); go('bedside', id); } catch (error) { setTrouble((error as Error).message); }
  };
  return <form class="stack card" onSubmit={(event) => { event.preventDefault(); void draw(); }}>
    <div class="row">
      <label>Age from <input class="short" type="number" min="0" max="110" step="1" value={from} onInput={(event) => setFrom(Number(event.currentTarget.value))} /></label>
      <label>to <input class="short" type="number" min="0" max="110" step="1" value={to} onInput={(event) => setTo(Number(event.currentTarget.value))} /> years</label>
      <label>Build <select value={build} onChange={(event) => setBuild(event.currentTarget.value)}>
        <option value="any">any</option><option value="slim">slim</option><option value="average">average</option><option value="heavy">heavy</option></select></label>
      <label>Severity <select value={severity} onChange={(event) => setSeverity(Number(event.currentTarget.value))}>
        {severities.map(([word], i) => <option value={i}>{word}</option>)}</select></label>
      <label>Conditions at once <select value={most} onChange={(event) => setMost(Number(event.currentTarget.value))}><option value="1">one</option><option value="2">one or two</option></select></label>
    </div>
    <fieldset><legend>Which conditions{wanted.length === 0 ? ': any' : ''}</legend>
      <div class="choices">{taught.map((one) => <button type="button" aria-pressed={chosen.includes(one.id)}
        onClick={() => setChosen(chosen.includes(one.id) ? chosen.filter((id) => id !== one.id) : [...chosen, one.id])}>{one.label}</button>)}</div></fieldset>
    <label>Patient number <input type="text" inputMode="numeric" value={seed} placeholder="empty: a new patient" onInput={(event) => setSeed(event.currentTarget.value)} /></label>
    {trouble && <p class="notice" role="alert">{trouble}</p>}
    <div class="row"><button class="main" type="submit">Draw a patient</button></div>
  </form>;
}
