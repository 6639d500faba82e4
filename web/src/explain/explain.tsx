// What makes the sound, while it sounds.
import type { Signal } from '@preact/signals';
import { type Now, soundLabel } from '../generated/bedside';
import { Airway } from './airway';
import { LiveTrace } from './live_trace';
import { Loops } from './loops';
import { isOfBreath, type Tape } from './tape';

export function Explain({ tape, now }: { tape: Tape; now: Signal<Now | null> }) {
  const lit = tape.lit.value.filter(isOfBreath);
  return (
    <section class="stack" aria-label="Explain">
      {!now.value && <p>Put the chestpiece on: the picture runs with the sound.</p>}
      <p class="caption" role="status">
        {lit.length === 0
          ? ''
          : [...new Set(lit.map((event) =>
            `${soundLabel[event.sound]}, ${event.phase}, ${event.region}${
              event.pitchHz > 0 ? `, ${Math.round(event.pitchHz)} Hz` : ''
            }`
          ))].slice(0, 2).join(' · ')}
      </p>
      <LiveTrace tape={tape} now={now} />
      <Airway tape={tape} now={now} />
      <Loops tape={tape} now={now} />
    </section>
  );
}
