// Treatments as effects, never doses.
import { useState } from 'preact/hooks';
import { sides } from '../generated/bedside';
import type { Encounter } from './session';
import type { Side } from './types';

export interface TreatmentKind {
  id: string;
  index: number;
  label: string;
  effect: string;
  expect: string;
  caution: string;
  protocol: string;
  is_held: boolean;
  has_side: boolean;
}

export function Treat(
  { encounter, treatments, onStart }: { encounter: Encounter; treatments: readonly TreatmentKind[];
    onStart: () => Promise<boolean> },
) {
  const [side, setSide] = useState<Side>('right');
  void encounter.log.value;
  return (
    <section class="stack" aria-label="Treat">
      <p class="notice small">
        Effects only, for learning. What to give, when and how much: your local protocol and medical direction.
      </p>
      {treatments.some((one) => one.has_side) && (
        <div class="row" role="group" aria-label="Side for treatments that have one">
          <span>Side</span>
          {sides.filter((one) =>
            one !== 'midline'
          ).map((one) => <button aria-pressed={side === one} onClick={() => setSide(one)}>{one}</button>)}
        </div>
      )}
      <ul class="plain-list">
        {treatments.map((one) => {
          const isOn = encounter.isOn(one.id);
          return (
            <li class="answer">
              <button class="wide" aria-pressed={one.is_held ? isOn : undefined} onClick={() => {
                void onStart().then((isThere) => {
                  if (isThere) encounter.treat(one, side);
                });
              }}>
                {one.label}
                {one.has_side && `, ${side}`}
                {one.is_held && (isOn ? ': take away' : '')}
              </button>
              {one.effect && (
                <p class="small">
                  {one.effect} <strong>Expect:</strong> {one.expect} <strong>Caution:</strong> {one.caution}{' '}
                  <span class="soft">{one.protocol}</span>
                </p>
              )}
            </li>
          );
        })}
      </ul>
    </section>
  );
}
