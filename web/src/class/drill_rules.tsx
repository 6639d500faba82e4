// What the class practises in the drill: kinds of question, sounds, how many new ones a day, pictures or not.
import { useEffect, useState } from 'preact/hooks';
import { type DrillRules, exercises } from '../drill/types';
import { getJson, putJson } from '../lib/api';

const perDay: [number | null, string][] = [[null, 'as many as the drill opens'], [1, '1'], [2, '2'], [3, '3'], [5,
  '5']];

export function DrillRulesView({ classId, isInstructor }: { classId: string; isInstructor: boolean }) {
  const [rules, setRules] = useState<DrillRules | null>(null);
  const [said, setSaid] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<DrillRules>(`classes/${classId}/drill`).then(setRules, (error: Error) => setTrouble(error.message));
  }, [classId]);
  if (!rules) return <p role="status">{trouble || 'One moment …'}</p>;
  const change = (part: Partial<DrillRules>) => {
    setSaid('');
    setRules({ ...rules, ...part });
  };
  const toggled = <T,>(list: readonly T[],
    one: T): T[] => (list.includes(one) ? list.filter((other) => other !== one) : [...list, one]);
  const save = async () => {
    setSaid('');
    setTrouble('');
    try {
      const { modes, skills, new_per_day, sound_only } = rules;
      setRules(await putJson<DrillRules>(`classes/${classId}/drill`, { modes, skills, new_per_day, sound_only }));
      setSaid('Saved. The next question of every learner follows it.');
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <form class="stack" aria-label="Drill" onSubmit={(event) => {
      event.preventDefault();
      void save();
    }}>
      <p class="small soft">
        What the learners of this class meet in the drill. Ability tests and stations are not bound by it.
      </p>
      <fieldset class="stack" disabled={!isInstructor}>
        <legend>Kinds of question</legend>
        {exercises.map((one) => (
          <label class="check">
            <input type="checkbox" checked={rules.modes.includes(one.mode)}
              onChange={() => change({ modes: toggled(rules.modes, one.mode) })} />{' '}
            <span>
              {one.name} <span class="soft small">{one.words}</span>
            </span>
          </label>
        ))}
      </fieldset>
      <fieldset class="stack" disabled={!isInstructor}>
        <legend>Sounds</legend>
        <div class="choices">
          {rules.all_skills.map((one) => (
            <button type="button" aria-pressed={rules.skills.includes(one.id)} onClick={() =>
              change({ skills: toggled(rules.skills, one.id) })}
            >
              {one.label}
            </button>
          ))}
        </div>
        <p class="small soft">
          {rules.skills.length} of {rules.all_skills.length} chosen. Only these are played and offered as answers.
        </p>
      </fieldset>
      <fieldset class="stack" disabled={!isInstructor}>
        <legend>Pace and pictures</legend>
        <label class="field">
          New sounds a day, for each kind of question<select value={String(rules.new_per_day)} onChange={(event) =>
            change({ new_per_day: event.currentTarget.value === 'null' ? null : Number(event.currentTarget.value) })}
          >
            {rules.new_per_day !== null && !perDay.some(([n]) => n === rules.new_per_day) && (
              <option value={String(rules.new_per_day)}>{rules.new_per_day}</option>
            )}
            {perDay.map(([n, words]) => <option value={String(n)}>{words}</option>)}
          </select>
        </label>
        <label class="check">
          <input type="checkbox" checked={rules.sound_only} onChange={(event) =>
            change({ sound_only: event.currentTarget.checked })} />{' '}
          Sound only: no pictures, even after the answer
        </label>
      </fieldset>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {isInstructor && (
        <div class="main-action">
          <button class="main" type="submit">Save</button>
          <span class="small" role="status">{said}</span>
        </div>
      )}
    </form>
  );
}
