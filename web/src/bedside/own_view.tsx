// The learner's own word first: what it most likely is, and the handover.
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';
import type { Encounter } from './session';

interface ConditionKind {
  id: string;
  label: string;
}
const places = ['Most likely', 'Then', 'Or'];

export function OwnView({ encounter }: { encounter: Encounter }) {
  const [kinds, setKinds] = useState<ConditionKind[]>([]);
  const ranked = encounter.standing.value?.ranking ?? [];
  const [words, setWords] = useState('');
  useEffect(() => {
    getJson<{ conditions: ConditionKind[] }>('conditions').then((answer) => setKinds(answer.conditions),
      () => {/* told when weighing */});
  }, []);
  const rank = (i: number, id: string) => {
    const next = [...ranked];
    next[i] = id;
    encounter.note({ do: 'rank', conditions: [...new Set(next.filter(Boolean))] });
  };
  const said = encounter.log.value.filter((one) => one.do === 'say');
  return (
    <>
      <fieldset class="stack">
        <legend>What do you think it is?</legend>
        {places.slice(0, Math.min(places.length, ranked.length + 1)).map((place, i) => (
          <label class="row">
            {place}{' '}
            <select class="grow" value={ranked[i] ?? ''} onChange={(event) => rank(i, event.currentTarget.value)}>
              <option value="">not said</option>
              {kinds.map((one) => <option value={one.id}>{one.label}</option>)}
            </select>
          </label>
        ))}
      </fieldset>
      <details>
        <summary>
          Hand over in words{said.length > 0 && `: said ${said.length === 1 ? 'once' : `${said.length} times`}`}
        </summary>
        <label class="stack">
          What you would tell the next crew
          <textarea rows={3} maxLength={1000} value={words} onInput={(event) => setWords(event.currentTarget.value)} />
        </label>
        <button disabled={!words.trim()} onClick={() => {
          encounter.note({ do: 'say', text: words.trim() });
          setWords('');
        }}>
          Save handover
        </button>
      </details>
    </>
  );
}
