// Who listens where, and for how long.
import { clock } from '../bedside/marking';
import { Torso, viewBoxOf } from '../chest/chest_view';
import { aspectName, aspects, toPoint } from '../chest/geometry';
import { inWords } from '../chest/landmarks';
import { AskFirst } from '../class/ask_first';
import { type Round, secondsOf } from './round';
import type { Point } from './types';

export const nameOf = (round: Round, id: string): string => {
  const one = round.people.value.find((person) => person.id === id);
  const number = id.replace(/^p/, '');
  if (one?.role === 'projector') return `Projector ${number}`;
  return (round.room.value.hasNames && one?.name) || `Listener ${number}`;
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

// Who is here and has a chestpiece on the skin.
export function onSkin(round: Round): { id: string; point: Point; sinceS: number }[] {
  const step = round.step.value;
  return round.people.value.flatMap((one) => {
    const place = one.is_here ? placeBefore(round, one.id, step) : null;
    return place ? [{ id: one.id, ...place }] : [];
  });
}

export function WhoListensWhere({ round }: { round: Round }) {
  const step = round.step.value;
  const others = round.people.value.filter((one) => one.role !== 'desk');
  const hasPut = new Set(round.ownLines.value.filter((line) => line.do === 'place').map((line) => line.by));
  const unused = others.filter((one) => one.role === 'listener' && !hasPut.has(one.id));
  const isOver = round.room.value.isOver;
  return (
    <section class="stack" aria-label="Who listens where">
      <h2>Who listens where</h2>
      {others.length === 0 && <p class="soft">Nobody has come yet: show the code.</p>}
      <PlacesMap round={round} />
      <ul class="plain-list">
        {others.map((one) => {
          const place = placeBefore(round, one.id, step);
          return (
            <li class="row">
              <strong>{nameOf(round, one.id)}</strong>
              <span class="grow soft">
                {!one.is_here
                  ? 'not here just now'
                  : one.role === 'projector'
                  ? 'shows the round'
                  : place
                  ? `${inWords(place.point)}, ${clock(secondsOf(step) - place.sinceS)}`
                  : 'not on the skin'}
              </span>
              {one.role === 'listener' && (
                <button aria-pressed={one.is_crew} onClick={() =>
                  round.say({ crew: { person: one.id, is: !one.is_crew } })}
                >
                  Crew
                </button>
              )}
              {!isOver && (
                <AskFirst isPlain words="Send away" ask={`Send ${nameOf(round, one.id)} away?`} onYes={() =>
                  round.say({ away: [one.id] })} />
              )}
            </li>
          );
        })}
      </ul>
      {unused.length > 1 && !isOver && (
        <AskFirst words={`Send away the ${unused.length} who never listened`}
          ask="They lose their place. The code lets them in again as long as the door is open." onYes={() =>
          round.say({ away: unused.map((one) => one.id) })} />
      )}
    </section>
  );
}

// The sides of the chest on which somebody listens, front and back always, with a dot for each chestpiece.
export function PlacesMap({ round, isForHall }: { round: Round; isForHall?: boolean }) {
  const { body } = round.encounter.value!;
  const dots = onSkin(round);
  const shown = aspects.filter((one) =>
    one === 'front' || one === 'back' || dots.some((dot) => dot.point.aspect === one)
  );
  return (
    <div class="round-maps" role="img" aria-label={`${dots.length} chestpieces on the skin`}>
      {shown.map((aspect) => {
        const box = viewBoxOf(body, aspect), r = 0.07 * box.width / 2;
        return (
          <figure class="chest" aria-hidden="true">
            <svg class="round-map" viewBox={`${box.x} ${box.y} ${box.width} ${box.height}`}>
              <Torso body={body} aspect={aspect} />
              {dots.filter((one) => one.point.aspect === aspect).map((one) => {
                const { x, y } = toPoint(body, one.point);
                return (
                  <g transform={`translate(${x} ${y})`} key={one.id}>
                    <circle class="listener" r={r} />
                    {round.room.value.hasNames && (
                      <text class="listener-name" y={-1.4 * r} font-size={(isForHall ? 3.7 : 2.2) * r}>
                        {nameOf(round, one.id)}
                      </text>
                    )}
                  </g>
                );
              })}
            </svg>
            <figcaption>{aspectName[aspect]}</figcaption>
          </figure>
        );
      })}
    </div>
  );
}
