// Around the patient: where, in what, how long ill; the story and what asking and looking bring to light.
import { useState } from 'preact/hooks';
import type { FindingKind } from '../bedside/types';
import { type Clothing, clothings, type Posture, postureLabel, postures, type Room, roomLabel,
  rooms } from '../generated/bedside';
import type { Draft } from './draft';

const clothingWords = (one: Clothing): string => (one === 'bare' ? 'bare chest' : `in a ${one}`);

export function Around({ draft, onChange }: { draft: Draft; onChange: (to: Partial<Draft>) => void }) {
  return (
    <fieldset class="stack">
      <legend>Around</legend>
      <div class="row">
        <label>
          Clothing{' '}
          <select value={draft.clothing}
            onChange={(event) => onChange({ clothing: event.currentTarget.value as Clothing })}
          >
            {clothings.map((one) => <option value={one}>{clothingWords(one)}</option>)}
          </select>
        </label>
        <label>
          Position{' '}
          <select value={draft.posture}
            onChange={(event) => onChange({ posture: event.currentTarget.value as Posture })}
          >
            {postures.map((one) => <option value={one}>{postureLabel[one]}</option>)}
          </select>
        </label>
        <label>
          In{' '}
          <select value={draft.room} onChange={(event) => onChange({ room: event.currentTarget.value as Room })}>
            {rooms.map((one) => <option value={one}>{roomLabel[one]}</option>)}
          </select>
        </label>
        <label>
          Ill for{' '}
          <input class="short" type="number" min="0" max="60" step="1" value={draft.minutes_before}
            onInput={(event) =>
              onChange({ minutes_before: Math.max(0, Math.min(60, Number(event.currentTarget.value) || 0)) })} />{' '}
          min before
        </label>
      </div>
    </fieldset>
  );
}

export function Story({ draft, kinds, plain, onChange }: {
  draft: Draft;
  kinds: readonly FindingKind[];
  plain: string;
  onChange: (to: Partial<Draft>) => void;
}) {
  return (
    <details>
      <summary>Story, what is told, what to take away</summary>
      <div class="stack">
        <label class="field">
          Title, which the learner sees: no diagnosis
          <input type="text" maxLength={120} placeholder={plain} value={draft.title}
            onInput={(event) => onChange({ title: event.currentTarget.value })} />
        </label>
        <label class="field">
          Story: what the crew is told and sees
          <textarea rows={4} maxLength={4000} value={draft.story}
            onInput={(event) => onChange({ story: event.currentTarget.value })} />
        </label>
        <Told draft={draft} kinds={kinds} onChange={onChange} />
        <label class="field">
          To take away, one sentence a line
          <textarea rows={3} maxLength={4000} value={draft.teaching_points.join('\n')} onInput={(event) =>
            onChange({ teaching_points: event.currentTarget.value.split('\n').filter((one) => one.trim()) })} />
        </label>
      </div>
    </details>
  );
}

// Each finding that can be asked for or seen: yes, no, or what the body itself shows.
function Told(
  { draft, kinds, onChange }: { draft: Draft; kinds: readonly FindingKind[]; onChange: (to: Partial<Draft>) => void },
) {
  const [next, setNext] = useState('');
  const { told } = draft;
  const keys = Object.keys(told) as (keyof Draft['told'])[];
  const said = keys.flatMap((key) => told[key].map((id) => ({ key, id })));
  const without = (id: string) =>
    Object.fromEntries(keys.map((key) => [key, told[key].filter((one) => one !== id)])) as Draft['told'];
  const say = (id: string, isThere: boolean) => {
    const kind = kinds.find((one) => one.id === id);
    const key = `${kind?.found_by === 'seen' ? 'seen_' : ''}${isThere ? 'present' : 'absent'}` as keyof Draft['told'];
    const rest = without(id);
    onChange({ told: { ...rest, [key]: [...rest[key], id] } });
    setNext('');
  };
  const open = kinds.filter((one) =>
    (one.found_by === 'asked' || one.found_by === 'seen') && !said.some((other) => other.id === one.id)
  );
  const label = (id: string) => kinds.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  return (
    <fieldset class="stack">
      <legend>What asking and looking bring to light</legend>
      <p class="small soft">The rest follows from what is wrong.</p>
      <div class="row">
        <select class="grow" aria-label="Finding" value={next} onChange={(event) => setNext(event.currentTarget.value)}>
          <option value="">choose a finding</option>
          {open.map((one) => <option value={one.id}>{one.label}</option>)}
        </select>
        <button type="button" disabled={!next} onClick={() => say(next, true)}>Yes</button>
        <button type="button" disabled={!next} onClick={() => say(next, false)}>No</button>
      </div>
      <div class="choices">
        {said.map(({ key, id }) => (
          <button type="button" title="take out" onClick={() => onChange({ told: without(id) })}>
            {key.endsWith('present') ? 'Yes' : 'No'}: {label(id)} ✕
          </button>
        ))}
      </div>
    </fieldset>
  );
}
