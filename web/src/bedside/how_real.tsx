// How real the chest sounds, and what one listens with: one control and one choice.
import { type Realness, realnesses, realnessLabel } from '../generated/bedside';
import type { Encounter } from './session';

export function HowReal({ encounter, onStart }: { encounter: Encounter; onStart: () => Promise<boolean> }) {
  const standing = encounter.standing.value;
  const instruments = encounter.instruments.value;
  // A stethoscope with two sides stands there once; turning it is a matter of the bell.
  const listed = instruments.filter((one, i) =>
    !one.other_side || instruments.findIndex((other) => other.id === one.other_side) > i
  );
  const held = instruments.find((one) => one.id === standing?.instrument_id);
  const shown = listed.find((one) => one.id === held?.id || one.id === held?.other_side);
  const listen = (change: { realness?: Realness; instrument?: string }) => {
    void onStart().then((isThere) => {
      if (isThere) encounter.listen(change);
    });
  };
  return (
    <div class="row" role="group" aria-label="What is heard">
      <label class="row">
        How real{' '}
        <select value={standing?.realness ?? 'clean'}
          onChange={(event) => listen({ realness: event.currentTarget.value as Realness })}
        >
          {realnesses.map((one) => <option value={one}>{realnessLabel[one]}</option>)}
        </select>
      </label>
      {instruments.length > 0 && (
        <label class="row">
          Through{' '}
          <select value={shown?.id ?? ''} onChange={(event) => listen({ instrument: event.currentTarget.value })}>
            {!shown && <option value="">a stethoscope</option>}
            {listed.map((one) => <option value={one.id}>{one.name.replace(/, (bell|diaphragm)$/, '')}</option>)}
          </select>
        </label>
      )}
    </div>
  );
}
