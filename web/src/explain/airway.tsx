// The airways as the model has them now: width of each lobe's airways, filling, water, gas outside.
import type { Signal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { type Pair, smooth } from '../chest/curve';
import { type Now, regions } from '../generated/bedside';
import type { Tape } from './tape';

interface LobeDrawing {
  name: string;
  outline: Pair[];
  branch: Pair[];
  centre: Pair;
}
// Seen from the front: the patient's right is on the left of the drawing.
const lobes: LobeDrawing[] = [
  { name: 'right upper lobe', outline: [[-12, -24], [-26, -32], [-40, -18], [-45, 2], [-28, 6], [-12, 2]],
    branch: [[-7, -6], [-16, -12], [-28, -13]], centre: [-28, -12] },
  { name: 'right middle lobe', outline: [[-12, 4], [-28, 8], [-44, 5], [-40, 20], [-24, 24], [-12, 18]],
    branch: [[-8, -2], [-16, 8], [-29, 14]], centre: [-28, 14] },
  { name: 'right lower lobe', outline: [[-12, 20], [-24, 26], [-41, 22], [-48, 40], [-32, 42], [-13, 36]],
    branch: [[-8, -2], [-14, 18], [-30, 32]], centre: [-30, 32] },
  { name: 'left upper lobe', outline: [[12, -24], [26, -32], [40, -18], [45, 4], [34, 16], [18, 10], [12, 0]],
    branch: [[8, -3], [18, -6], [29, -10]], centre: [29, -9] },
  { name: 'left lower lobe', outline: [[16, 12], [33, 18], [44, 10], [49, 40], [34, 42], [15, 34]],
    branch: [[8, -3], [16, 12], [31, 30]], centre: [31, 29] },
];

export function Airway({ tape, now }: { tape: Pick<Tape, 'lit'>; now: Signal<Now | null> }) {
  const svg = useRef<SVGSVGElement>(null);
  const lit = new Set(tape.lit.value.map((event) => event.region));
  useEffect(() => {
    const root = svg.current!;
    const shapes = lobes.map((_, i) => root.querySelector<SVGElement>(`[data-lobe="${i}"]`)!);
    const tubes = lobes.map((_, i) => root.querySelector<SVGElement>(`[data-tube="${i}"]`)!);
    const throat = root.querySelector<SVGElement>('[data-throat]')!;
    const gaps = [0, 1].map((side) => root.querySelector<SVGElement>(`[data-gap="${side}"]`)!);
    return now.subscribe((at) => {
      if (!at) return;
      at.lobes.forEach((lobe, i) => {
        const [cx, cy] = lobes[i]!.centre;
        const scale = 0.8 + 0.28 * Math.max(0, Math.min(1, lobe.volumeFraction));
        shapes[i]!.setAttribute('transform',
          `translate(${cx} ${cy}) scale(${scale.toFixed(3)}) translate(${-cx} ${-cy})`);
        tubes[i]!.setAttribute('stroke-width',
          (lobe.isBlocked ? 0.3 : Math.max(0.4, 4 * Math.min(1.2, lobe.radiusRatio) * (1 - 0.55 * lobe.limitation)))
            .toFixed(2));
      });
      throat.setAttribute('stroke-width', Math.max(0.5, 8.4 * (1 - at.throat)).toFixed(2));
      at.pleura.forEach((pleura, side) =>
        gaps[side]!.setAttribute('stroke-width', Math.min(9, pleura.gas * 6).toFixed(2))
      );
    });
  }, []);
  const state = now.value;
  return (
    <figure class="picture">
      <svg ref={svg} class="airway" viewBox="-56 -66 112 116" role="img" aria-label={describe(state)}>
        {[-1, 1].map((side, i) => (
          <path data-gap={i} class="gap" stroke-width="0"
            d={smooth([[side * 14, -28], [side * 28, -37], [side * 47, -18], [side * 52, 10], [side * 54, 44]])} />
        ))}
        <path class="tube" stroke-width="10" d="M0 -58V-17" />
        <path class="bore" stroke-width="8.4" d="M0 -44V-17" />
        <path data-throat class="bore" stroke-width="8.4" d="M0 -58V-46" />
        {lobes.map((lobe, i) => (
          <g>
            <path data-lobe={i} class={`lobe${lit.has(regions[i]!) ? ' lit' : ''}`} d={smooth(lobe.outline, true)}
              fill-opacity={state
                ? Math.min(0.85, 0.08 + 0.8 * Math.max(state.lobes[i]!.solid, state.lobes[i]!.water))
                : 0.08} />
            <path class="tube" stroke-width="4.8" d={smooth([[0, -16], ...lobe.branch])} />
            <path data-tube={i} class="bore" stroke-width="4" d={smooth([[0, -16], ...lobe.branch])} />
          </g>
        ))}
        {(lit.has('upper airway') || lit.has('trachea')) && <path class="tube lit" d="M-6.4 -60V-20M6.4 -60V-20" />}
        <text class="airway-word" x="-54" y="-52">right</text>
        <text class="airway-word" x="42" y="-52">left</text>
      </svg>
      <figcaption class="small soft">
        Airways now: inner width as in the model, filled lung darker, gas outside the lung as a gap
      </figcaption>
    </figure>
  );
}

function describe(now: Now | null): string {
  if (!now) return 'Airways; nothing known yet';
  const parts = now.lobes.map((lobe, i) => {
    const words = [lobe.isBlocked ? 'blocked' : lobe.radiusRatio < 0.8 ? 'narrowed' : '',
      lobe.solid > 0.3 ? 'solid' : '', lobe.water > 0.3 ? 'wet' : '', lobe.limitation > 0.5 ? 'flow-limited' : '']
      .filter(Boolean);
    return words.length ? `${lobes[i]!.name}: ${words.join(', ')}` : '';
  }).filter(Boolean);
  const gas = now.pleura.map((pleura, side) => (pleura.gas > 0.1
    ? `${pleura.gas.toFixed(1)} litres of gas outside the ${side === 0 ? 'right' : 'left'} lung`
    : '')
  ).filter(Boolean);
  const all = [...parts, ...gas, now.throat > 0.3 ? 'throat narrowed' : ''].filter(Boolean);
  return 'Airways. ' + (all.length ? all.join('. ') : 'All open') + '.';
}
