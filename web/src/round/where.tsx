// Who listens where, and for how long.
import { clock } from '../bedside/marking';
import { inWords } from '../chest/landmarks';
import { type Round, secondsOf } from './round';
import type { Point } from './types';

export const nameOf = (round: Round, id: string): string => {
  const name = round.people.value.find((one) => one.id === id)?.name;
  return (round.room.value.hasNames && name) || `Listener ${id.replace(/^p/, '')}`;
};

// Where a chestpiece lay on the skin at a step.
export function placeBefore(round: Round, person: string, step: number): { point: Point; sinceS: number } | null {
  let found: { point: Point; sinceS: number } | null = null;
  for (const line of round.ownLines.value) {
    if (line.by !== person || line.take !== round.take.value || line.step > step) continue;
    if (line.do === 'place') {
      const point = { aspect: line['aspect'], u: line['u'], v: line['v'] } as Point;
      const isSame: boolean = found !== null && found.point.aspect === point.aspect &&
        Math.hypot(found.point.u - point.u, found.point.v - point.v) < 0.15;
      found = { point, sinceS: isSame ? found!.sinceS : secondsOf(line.step) };
    } else if (line.do === 'lift' || line.do === 'take_up') found = null;
  }
  return found;
}

export function WhoListensWhere({ round }: { round: Round }) {
  const step = round.step.value;
  const here = round.people.value.filter((one) => one.role === 'listener');
  return (
    <section class="stack" aria-label="Who listens where">
      <h2>Who listens where</h2>
      {here.length === 0 && <p class="soft">Nobody has come yet: show the code.</p>}
      <Map round={round} />
      <ul class="plain-list">
        {here.map((one) => {
          const place = placeBefore(round, one.id, step);
          return (
            <li class="row">
              <strong>{nameOf(round, one.id)}</strong>
              <span class="grow soft">
                {!one.is_here
                  ? 'not here just now'
                  : place
                  ? `${inWords(place.point)}, ${clock(secondsOf(step) - place.sinceS)}`
                  : 'not on the skin'}
              </span>
              <button aria-pressed={one.is_crew}
                onClick={() => round.say({ crew: { person: one.id, is: !one.is_crew } })}
              >
                Crew
              </button>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

// Front and back of a chest as two plain outlines, with a dot for each chestpiece on the skin.
function Map({ round }: { round: Round }) {
  const step = round.step.value;
  const dots = round.people.value.flatMap((one) => {
    const place = one.is_here ? placeBefore(round, one.id, step) : null;
    return place ? [{ id: one.id, ...place.point }] : [];
  });
  const views = [['front', 'Front'], ['back', 'Back']] as const;
  return (
    <div class="row" role="img" aria-label={`${dots.length} chestpieces on the skin`}>
      {views.map(([aspect, label]) => (
        <svg class="round-map" viewBox="-1.5 -0.4 3 2.4" aria-hidden="true">
          <path d="M-1 -0.1 Q0 -0.35 1 -0.1 L1.1 1.7 L-1.1 1.7 Z" />
          <text x="-1.4" y="-0.1">{label}</text>
          {dots.filter((one) => one.aspect === aspect).map((one) => <circle cx={one.u} cy={one.v} r="0.09" />)}
        </svg>
      ))}
    </div>
  );
}
