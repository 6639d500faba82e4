// Marking what is heard here: one tap for Listen, one for the sound.
import { useState } from 'preact/hooks';
import { inWords } from '../chest/landmarks';
import type { Presence } from '../generated/bedside';
import { useFew } from './few';
import type { Encounter } from './session';
import type { FindingKind } from './types';

export function Marking(
  { encounter, kinds, question, rest }: {
    encounter: Encounter;
    kinds: readonly FindingKind[];
    question: string;
    rest: string; // what more there is, in a word
  },
) {
  const [presence, setPresence] = useState<Presence>('present');
  const site = encounter.siteHere();
  void encounter.marks.value;
  const { shown, more } = useFew(kinds, (kind) => encounter.markOf(kind.id, site?.id ?? '') !== undefined, rest);
  return (
    <fieldset class="stack">
      <legend>{question}</legend>
      <p class="small soft">{site ? `${site.name} (${site.id})` : inWords(encounter.place.value)}</p>
      <div class="row" role="group" aria-label="Mark as">
        <button aria-pressed={presence === 'present'} onClick={() => setPresence('present')}>It is there</button>
        <button aria-pressed={presence === 'absent'} onClick={() => setPresence('absent')}>It is not there</button>
      </div>
      <div class="choices">
        {shown.map((kind) => {
          const mark = encounter.markOf(kind.id, site?.id ?? '');
          return (
            <button title={kind.meaning || undefined} aria-pressed={mark !== undefined}
              onClick={() => encounter.mark(kind, presence)}
            >
              {mark && <span class="tick" aria-hidden="true">{mark.presence === 'present' ? '+' : '−'}</span>}
              {kind.label}
              {mark && <span class="unseen">, marked {mark.presence}</span>}
            </button>
          );
        })}
        {more}
      </div>
    </fieldset>
  );
}

export function MarkList({ encounter }: { encounter: Encounter }) {
  const marks = [...encounter.marks.value].sort((a, b) => b.t_s - a.t_s);
  if (marks.length === 0) return <p class="soft">Nothing marked yet.</p>;
  const label = (id: string) => encounter.kinds.find((kind) => kind.id === id)?.label ?? id;
  return (
    <ul class="plain-list small">
      {marks.map((mark) => (
        <li>
          <strong>{mark.presence === 'present' ? '+' : '−'} {label(mark.finding_id)}</strong>
          {mark.side !== 'midline' && `, ${mark.side}`}
          {mark.site_id && ` · ${mark.site_id}`} <span class="soft figures">{clock(mark.t_s)}</span>
        </li>
      ))}
    </ul>
  );
}

export function clock(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}
