// Looking, feeling and asking: choose where to look, and the body or the person answers.
import { useFew } from './few';
import type { Encounter } from './session';
import type { FindingKind } from './types';

// Two findings looked for in the same way are told apart by their names.
function wordsFor(kind: FindingKind, kinds: readonly FindingKind[]): string {
  if (!kind.look) return kind.label;
  return kinds.filter((one) => one.look === kind.look).length > 1 ? `${kind.look}: ${kind.label}?` : kind.look;
}

export function Asking({ encounter, kinds, title, rest, onStart }: {
  encounter: Encounter;
  kinds: readonly FindingKind[];
  title: string;
  rest: string; // what more there is, in a word
  onStart: () => Promise<boolean>;
}) {
  void encounter.marks.value;
  const { shown, more } = useFew(kinds, (kind) => encounter.markOf(kind.id, '') !== undefined, rest);
  return (
    <section class="stack" aria-label={title}>
      <ul class="plain-list">
        {shown.map((kind) => {
          const mark = encounter.markOf(kind.id, '');
          const answer = () => {
            void onStart().then((isThere) => {
              if (isThere) encounter.look(kind);
            });
          };
          return (
            <li class="answer">
              <button class="wide" onClick={answer}>{wordsFor(kind, kinds)}</button>
              <span role="status">
                {mark && (mark.presence === 'present'
                  ? (
                    <>
                      <strong>Yes: {kind.label}</strong>
                      {mark.side !== 'midline' && `, ${mark.side}`}
                    </>
                  )
                  : <>No {kind.label}</>)}
              </span>
            </li>
          );
        })}
      </ul>
      {more}
    </section>
  );
}
