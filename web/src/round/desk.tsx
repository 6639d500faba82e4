// The desk: the patient is steered, time is led, the room is asked and shown.
import { useEffect, useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { clock } from '../bedside/marking';
import { Treat } from '../bedside/treat';
import type { Side } from '../bedside/types';
import { AskFirst } from '../class/ask_first';
import { ask } from '../engine/ask';
import { bodyEventLabel, bodyEvents, type Deed, sides } from '../generated/bedside';
import { address } from '../lib/route';
import { AskTheRoom } from './answers';
import { Field, LineState, RoundMonitor } from './field';
import { JoinHere } from './join_here';
import { deedOf, type Round, secondsOf } from './round';
import { TruthShown } from './truth';
import { WhoListensWhere } from './where';

const panels = ['Illness', 'Treat', 'Ask', 'Room', 'Time'] as const;

export function Desk({ round }: { round: Round }) {
  const [panel, setPanel] = useState<(typeof panels)[number]>('Illness');
  const encounter = round.encounter.value, room = round.room.value, welcome = round.welcome.value;
  if (!encounter || !welcome) {
    return (
      <div class="stack">
        <h1>Round</h1>
        <LineState round={round} />
        <p role="status">The desk is being set up …</p>
      </div>
    );
  }
  if (!round.hasSound.value) {
    return (
      <div class="stack">
        <h1>{encounter.prepared.title}</h1>
        <LineState round={round} />
        <JoinHere round={welcome.round} />
        <div class="row">
          <button class="main" onClick={() => {
            void round.start().then((isThere) => {
              if (isThere && round.step.peek() === 0) round.say({ clock: 'run' });
            });
          }}>
            {round.step.value === 0 ? 'Begin' : 'Go on'}
          </button>
          <OnTheWall round={round} />
          <span class="soft">{round.people.value.filter((one) => one.role === 'listener').length} have come</span>
        </div>
      </div>
    );
  }
  return (
    <div class="stack">
      <TimeBar round={round} />
      <LineState round={round} />
      <div class="two">
        <div class="stack">
          <Field round={round} encounter={encounter} mayMove />
          <div class="row">
            <button onClick={() => round.say({ listen: encounter.place.peek() })}>Everyone listen here</button>
            {room.listen && <button class="plain" onClick={() => round.say({ listen: null })}>Listen anywhere</button>}
          </div>
          <RoundMonitor encounter={encounter} />
          <Volume />
        </div>
        <section class="stack">
          <div class="hands five" role="tablist" aria-label="The desk">
            {panels.map((one) => (
              <button role="tab" id={`tab-${one}`} aria-controls="desk-panel" aria-selected={panel === one}
                onClick={() => setPanel(one)}
              >
                {one}
              </button>
            ))}
          </div>
          <div id="desk-panel" role="tabpanel" aria-labelledby={`tab-${panel}`} class="stack">
            {panel === 'Illness' && <Illness round={round} />}
            {panel === 'Treat' && (
              <Treat encounter={encounter} treatments={round.vocabulary!.treatments} onStart={() => round.start()} />
            )}
            {panel === 'Ask' && <AskTheRoom round={round} />}
            {panel === 'Room' && <RoomPanel round={round} />}
            {panel === 'Time' && <Moments round={round} />}
          </div>
        </section>
      </div>
    </div>
  );
}

const OnTheWall = ({ round }: { round: Round }) => (
  <a class="button-link" target="_blank" rel="noopener" href={address('round', 'hall', round.welcome.value!.round.id)}>
    On the wall
  </a>
);

function TimeBar({ round }: { round: Round }) {
  const room = round.room.value, now = secondsOf(round.step.value);
  return (
    <div class="row round-bar">
      <strong class="figures big" aria-label="The patient’s time">{clock(now)}</strong>
      {room.isOver
        ? (
          <>
            <span>The round is over.</span>
            <a class="main-link" href={`#/round/debrief/${round.welcome.value!.round.id}`}>Debrief</a>
          </>
        )
        : (
          <>
            <button class="main" onClick={() => round.say({ clock: room.isRunning ? 'pause' : 'run' })}>
              {room.isRunning ? 'Freeze' : 'Run'}
            </button>
            <button onClick={() => round.say({ skip_s: 60 })}>Skip 1 min</button>
            <button disabled={now < 30} onClick={() => round.say({ go_back_s: now - 30 })}>30 s back</button>
            <button aria-pressed={room.hasMonitor} onClick={() => round.say({ show: { monitor: !room.hasMonitor } })}>
              Monitor for all
            </button>
            <button aria-pressed={room.truth !== null} onClick={() => round.say({ truth: room.truth === null })}>
              Reveal
            </button>
            <AskFirst words="End the round" no="Go on" ask="End it for everybody? It cannot be opened again."
              onYes={() => round.say({ end: true })} />
          </>
        )}
      <OnTheWall round={round} />
      <span class="soft small">Take {round.take.value + 1}, code {round.welcome.value!.round.code}</span>
    </div>
  );
}

const courses: readonly [string, number][] = [['at once', 0], ['in 1 min', 60], ['in 3 min', 180], ['in 6 min', 360], [
  'in 12 min',
  720,
]];

function Illness({ round }: { round: Round }) {
  const truth = round.welcome.value!.truth!;
  const [side, setSide] = useState<Side>('right');
  return (
    <>
      {truth.conditions.map((one, i) => (
        <Severity round={round} index={i} label={one.label} side={one.side} start={one.severity} />
      ))}
      <section class="stack">
        <h2>Something happens</h2>
        <div class="row" role="group" aria-label="Side">
          {sides.filter((one) => one !== 'midline').map((one) => (
            <button aria-pressed={side === one} onClick={() => setSide(one)}>{one}</button>
          ))}
        </div>
        <div class="row">
          {bodyEvents.map((event) => (
            <button onClick={() => round.deed({ do: 'befall', event, side } as Deed)}>{bodyEventLabel[event]}</button>
          ))}
        </div>
      </section>
      <TruthShown round={round} truth={truth} />
    </>
  );
}

// Where it goes, and how fast.
function Severity({ round, index, label, side, start }: {
  round: Round;
  index: number;
  label: string;
  side: string;
  start: number;
}) {
  const steered = round.lines.value.filter((one) => one.do === 'steer' && one['condition'] === index).pop();
  const [to, setTo] = useState(start);
  const [seconds, setSeconds] = useState(0);
  const percent = Math.round(100 * to);
  return (
    <fieldset class="stack">
      <legend>{label}{side && `, ${side}`}</legend>
      <label class="row">
        Severity
        <input class="grow" type="range" min={0} max={100} step={5} value={percent}
          onInput={(event) => setTo(Number(event.currentTarget.value) / 100)} />
        <span class="figures">{percent} %</span>
      </label>
      <div class="row">
        <select aria-label="How fast" value={seconds}
          onChange={(event) => setSeconds(Number(event.currentTarget.value))}
        >
          {courses.map(([words, value]) => <option value={value}>{words}</option>)}
        </select>
        <button onClick={() => round.deed({ do: 'steer', condition: index, severity: to, seconds } as Deed)}>
          Change it
        </button>
        <span class="small soft">
          {steered
            ? `told at ${clock(secondsOf(steered.step))}: ${Math.round(100 * Number(steered['severity']))} %` +
              (Number(steered['seconds']) > 0 ? ` in ${clock(Number(steered['seconds']))}` : '')
            : start > 0
            ? `began at ${Math.round(100 * start)} %, its own course`
            : 'not there yet'}
        </span>
      </div>
    </fieldset>
  );
}

function RoomPanel({ round }: { round: Round }) {
  const room = round.room.value;
  return (
    <>
      <div class="row">
        <label class="row">
          <input type="checkbox" checked={room.hasNames}
            onChange={(event) => round.say({ show: { names: event.currentTarget.checked } })} />{' '}
          Show names
        </label>
        {!room.isOver && (
          <button aria-pressed={!room.isDoorOpen} onClick={() =>
            round.say({ door: room.isDoorOpen ? 'closed' : 'open' })}
          >
            {room.isDoorOpen ? 'Close the door' : 'Open the door again'}
          </button>
        )}
        {!room.isDoorOpen && <span class="small soft">Nobody new comes in; who is here stays.</span>}
      </div>
      <WhoListensWhere round={round} />
      <details>
        <summary>Code and address</summary>
        <JoinHere round={round.welcome.value!.round} />
      </details>
    </>
  );
}

// What was done, and the way back to the moment before it.
function Moments({ round }: { round: Round }) {
  const encounter = round.encounter.value!;
  const take = round.take.value, labels: Record<string, string> = {};
  for (const one of round.vocabulary!.treatments) labels[one.id] = one.label;
  for (const [i, one] of (round.welcome.value!.truth?.conditions ?? []).entries()) {
    labels[`illness_${i + 1}`] = one.label;
  }
  const deeds = round.lines.value.filter((one) => one.do && one.do !== 'go_back');
  const words = ask('steps', { labels, log: deeds.map((one) => {
    const { id: _id, ...deed } = deedOf(one) as Deed & { id?: string };
    return { id: `s${one.n}`, t: 0, ...(deed as Deed) };
  }) });
  useEffect(() => {/* the list follows the lines */}, [encounter]);
  return (
    <section class="stack" aria-label="Moments">
      <h2>What was done</h2>
      {deeds.length === 0 && <p class="soft">Nothing yet.</p>}
      <ul class="plain-list">
        {deeds.map((one, i) => (
          <li class="row">
            <span class="figures">{clock(secondsOf(one.step))}</span>
            <span class="grow">{words?.[i]?.words ?? one.do}{one.take !== take && ` (take ${one.take + 1})`}</span>
            <button disabled={one.step === 0}
              onClick={() => round.say({ go_back_s: Math.max(0, secondsOf(one.step) - 2) })}
            >
              Go back to before it
            </button>
          </li>
        ))}
      </ul>
    </section>
  );
}
