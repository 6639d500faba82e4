// In a station the learner says what is going on and hands over; nothing is weighed for them.
import { useState } from 'preact/hooks';
import type { Encounter } from '../bedside/session';
import type { Condition } from './conditions';

const kMost = 4;

export function Ranking({ encounter, conditions }: { encounter: Encounter; conditions: readonly Condition[] }) {
  const last = [...encounter.log.value].reverse().find((one) => one.do === 'rank');
  const ranked = (last?.['conditions'] as readonly string[] | undefined) ?? [];
  const [words, setWords] = useState('');
  const said = [...encounter.log.value].reverse().find((one) => one.do === 'say');
  const rank = (list: readonly string[]) => encounter.note({ do: 'rank', conditions: list });
  const label = (id: string) => conditions.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  const say = () => {
    encounter.note({ do: 'say', text: words.trim() });
    setWords('');
  };

  return (
    <section class="stack" aria-label="What you think it is">
      <h2>What do you think it is?</h2>
      <p class="small soft">Most likely first, at most {kMost}. You can change it until you finish.</p>
      {ranked.length === 0 ? <p class="soft">Nothing chosen yet.</p> : (
        <ol class="ranked">
          {ranked.map((id, i) => (
            <li>
              <span class="row">
                <strong class="grow">{label(id)}</strong>
                {i > 0 && (
                  <button aria-label={`${label(id)}: one up`} onClick={() =>
                    rank(ranked.map((one, k) => (k === i - 1 ? id : k === i ? ranked[i - 1]! : one)))}
                  >
                    Up
                  </button>
                )}
                <button aria-label={`${label(id)}: take away`} onClick={() => rank(ranked.filter((one) => one !== id))}>
                  Take away
                </button>
              </span>
            </li>
          ))}
        </ol>
      )}
      {ranked.length < kMost && (
        <label class="field">
          Add<select value="" onChange={(event) => {
            if (event.currentTarget.value) rank([...ranked, event.currentTarget.value]);
            event.currentTarget.value = '';
          }}>
            <option value="">choose …</option>
            {conditions.filter((one) => !ranked.includes(one.id)).map((one) => (
              <option value={one.id}>{one.label}</option>
            ))}
          </select>
        </label>
      )}
      <h2>Hand over</h2>
      <label class="field">
        What would you tell the crew or ward that takes over?
        <textarea rows={4} maxLength={1300} value={words} onInput={(event) => setWords(event.currentTarget.value)} />
      </label>
      <div class="row">
        <button disabled={!words.trim()} onClick={say}>Save handover</button>
        {said && <span class="small" role="status">Said: “{String(said['text']).slice(0, 80)}”</span>}
      </div>
    </section>
  );
}
