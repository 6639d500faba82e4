// Looking: the learner points at a part of the body, or chooses it, and names what is seen there. Whether it was
// there is told at the end, as with what is heard; who cannot see the body asks in words.
import { type BodyPart, bodyPartLabel, bodyParts, seenAt, type Side, sides } from '../generated/bedside';
import { Asking } from './asking';
import { seenFelt } from './groups';
import { MarkList } from './marking';
import type { Encounter } from './session';
import type { FindingKind } from './types';

const handed = sides.filter((one) => one !== 'midline');
const last = 99; // behind those that are asked for first
const capital = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);

// In the trade's order.
function seenOn(part: BodyPart, kinds: readonly FindingKind[]): FindingKind[] {
  return seenAt.filter((one) => one.part === part).map((one) => kinds.find((kind) => kind.id === one.finding_id))
    .filter((kind) => kind !== undefined).sort((a, b) => (a.first || last) - (b.first || last));
}

export function Looking({ encounter, part, onPart, onStart }: {
  encounter: Encounter;
  part: BodyPart | null;
  onPart: (part: BodyPart) => void;
  onStart: () => Promise<boolean>;
}) {
  void encounter.marks.value;
  return (
    <section class="stack" aria-label="Look">
      <div class="parts" role="group" aria-label="Look at">
        {bodyParts.map((one) => (
          <button aria-pressed={one === part} onClick={() => onPart(one)}>{capital(bodyPartLabel[one])}</button>
        ))}
      </div>
      {part
        ? <Signs encounter={encounter} part={part} />
        : <p class="soft">Point at the patient where you see something, or choose a part.</p>}
      <MarkList encounter={encounter} />
      <details>
        <summary>Feel, or be told in words what is to be seen</summary>
        <Asking encounter={encounter} kinds={seenFelt(encounter.kinds)} onStart={onStart} title="Look and feel"
          rest="to look at" />
      </details>
    </section>
  );
}

function Signs({ encounter, part }: { encounter: Encounter; part: BodyPart }) {
  if (part === 'trunk' && encounter.isClothed.value) {
    return <p class="soft">The clothing hides it. Open the clothing first.</p>;
  }
  const kinds = seenOn(part, encounter.kinds);
  const isUnsaid = (kind: FindingKind) => encounter.seen(kind.id) === undefined;
  return (
    <fieldset class="stack">
      <legend>What do you see?</legend>
      <div class="choices">
        {kinds.map((kind) => {
          const mark = encounter.seen(kind.id);
          const button = (side: Side, label: string) => {
            const isHere = mark?.side === side || mark?.presence === 'absent';
            return (
              <button title={kind.meaning || undefined} aria-pressed={isHere && mark?.presence === 'present'}
                onClick={() => encounter.see(kind, 'present', side)}
              >
                {isHere && mark && (
                  <span class="tick" aria-hidden="true">{mark.presence === 'present' ? '+' : '−'}</span>
                )}
                {label}
                {isHere && mark && <span class="unseen">, marked {mark.presence}</span>}
              </button>
            );
          };
          if (!kind.is_sided) return button('midline', kind.label);
          return (
            <span class="sided" role="group" aria-label={kind.label}>
              <span aria-hidden="true">{kind.label}</span>
              {handed.map((side) => button(side, side))}
            </span>
          );
        })}
        <button class="plain" disabled={!kinds.some(isUnsaid)} onClick={() => {
          for (const kind of kinds.filter(isUnsaid)) encounter.see(kind, 'absent', 'midline');
        }}>
          {kinds.every(isUnsaid) ? 'None of these' : 'None of the others'}
        </button>
      </div>
    </fieldset>
  );
}
