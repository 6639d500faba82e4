// The round on the projector: who may come in and how, the patient and where the room listens, what is asked and how
// many answer, and after the reveal what it was. It is sent nothing that may not stand on a wall (docs/round.md).
import { useEffect, useState } from 'preact/hooks';
import { lyingOf } from '../bedside/bedside';
import { clock } from '../bedside/marking';
import { personInWords } from '../bedside/types';
import { BodyView } from '../body/body_view';
import { toneOf } from '../body/tones';
import { inWords } from '../chest/landmarks';
import { Counts } from './answers';
import { LineState, RoundMonitor } from './field';
import './hall.css';
import { JoinHere } from './join_here';
import { OwnDebrief } from './own_debrief';
import { type Round, secondsOf } from './round';
import { TruthShown } from './truth';
import type { Truth } from './types';
import { nameOf, onSkin, PlacesMap } from './where';

export function Hall({ round }: { round: Round }) {
  const encounter = round.encounter.value, room = round.room.value;
  const [isDebrief, setDebrief] = useState(false);
  if (!encounter) {
    return (
      <div class="hall">
        <h1>Round</h1>
        <LineState round={round} />
      </div>
    );
  }
  const numHere = round.people.value.filter((one) => one.role === 'listener' && one.is_here).length;
  const isJoining = round.step.value === 0 && !room.isRunning && !room.isOver;
  if (isDebrief && room.truth) return <HallDebrief round={round} truth={room.truth} onBack={() => setDebrief(false)} />;
  return (
    <div class="hall">
      <header class="hall-head">
        <h1>{encounter.prepared.title}</h1>
        <span class="soft">{personInWords(encounter.prepared.person)}</span>
      </header>
      {isJoining ? <Joining round={round} /> : <UnderWay round={round} />}
      <footer class="hall-foot">
        <span>
          <strong class="figures">{numHere}</strong> here
        </span>
        {!isJoining && !room.isOver && room.isDoorOpen && (
          <span>
            Come in: <strong class="figures">{round.welcome.value!.round.code}</strong>
          </span>
        )}
        {!isJoining && (
          <span class="figures">
            {clock(secondsOf(round.step.value))}
            {!room.isRunning && !room.isOver && ', time stands still'}
          </span>
        )}
        {room.isOver && (room.truth
          ? <button class="main" onClick={() => setDebrief(true)}>Hear it again</button>
          : <span>The round is over.</span>)}
        <FullScreen round={round} />
        <LineState round={round} />
      </footer>
    </div>
  );
}

function Joining({ round }: { round: Round }) {
  const names = round.people.value.filter((one) => one.role === 'listener' && one.is_here && one.name);
  return (
    <div class="hall-body alone">
      {round.room.value.isDoorOpen
        ? <JoinHere round={round.welcome.value!.round} />
        : <p class="hall-question">The door is closed: everybody is in.</p>}
      {names.length > 0 && <ul class="hall-people">{names.map((one) => <li key={one.id}>{one.name}</li>)}</ul>}
    </div>
  );
}

function UnderWay({ round }: { round: Round }) {
  const encounter = round.encounter.value!, room = round.room.value;
  return (
    <div class="hall-body">
      <div class="hall-patient">
        <Figure round={round} />
        <PlacesMap round={round} isForHall />
      </div>
      <section class="hall-words" aria-live="polite">
        {room.listen && (
          <p>
            Listen here: <strong>{inWords(room.listen)}</strong>
          </p>
        )}
        {room.question && <Counts round={round} />}
        {room.truth && <TruthShown round={round} truth={room.truth} isShort={!room.isOver} />}
        {!room.question && !room.truth && <p>{encounter.prepared.story}</p>}
      </section>
      {room.hasMonitor && (
        <div class="hall-monitor">
          {round.hasSound.value
            ? <RoundMonitor encounter={encounter} />
            : <p class="soft">A key or a click here starts the monitor.</p>}
        </div>
      )}
    </div>
  );
}

// The patient as everybody has it, with a ring on the skin for each chestpiece.
function Figure({ round }: { round: Round }) {
  const encounter = round.encounter.value!;
  const rings = onSkin(round).map((one) => ({ id: one.id, ...one.point }));
  return (
    <BodyView body={encounter.body} tone={toneOf(encounter.seed)} place={null} isPressed={false} isBell={false}
      lying={lyingOf[encounter.posture.value]} isClothed={encounter.isClothed.value} mayLookThrough={false}
      sites={rings} markedSites={new Set(rings.map((one) => one.id))} heardSites={new Set()} live={() => round.live}
      mayLoad onMove={() => {/* the wall has no chestpiece */}}
    >
      {null}
    </BodyView>
  );
}

// Browsers run the engine and give the whole screen only after a key or a tap.
function FullScreen({ round }: { round: Round }) {
  useEffect(() => {
    const begin = () => void round.start();
    addEventListener('pointerdown', begin);
    addEventListener('keydown', begin);
    return () => {
      removeEventListener('pointerdown', begin);
      removeEventListener('keydown', begin);
    };
  }, [round]);
  const [isFull, setFull] = useState(document.fullscreenElement !== null);
  useEffect(() => {
    const look = () => setFull(document.fullscreenElement !== null);
    document.addEventListener('fullscreenchange', look);
    return () => document.removeEventListener('fullscreenchange', look);
  }, []);
  if (isFull || !document.fullscreenEnabled) return null;
  return <button onClick={() => void document.documentElement.requestFullscreen()}>Whole screen</button>;
}

function HallDebrief({ round, truth, onBack }: { round: Round; truth: Truth; onBack: () => void }) {
  const listened = new Set(round.ownLines.value.filter((line) => line.do === 'place').map((line) => line.by));
  const people = round.people.value.filter((one) => listened.has(one.id));
  const [of, setOf] = useState(people.find((one) => one.role === 'desk')?.id ?? people[0]?.id ?? '');
  return (
    <div class="hall">
      <header class="hall-head">
        <label class="row">
          Heard again: the chestpiece of{' '}
          <select value={of} onChange={(event) => setOf(event.currentTarget.value)}>
            {people.map((one) => (
              <option value={one.id}>{one.role === 'desk' ? 'the desk' : nameOf(round, one.id)}</option>
            ))}
          </select>
        </label>
        <button onClick={onBack}>Back</button>
      </header>
      <div class="hall-scroll">
        {of ? <OwnDebrief round={round} truth={truth} of={of} /> : <p>Nobody put a chestpiece on.</p>}
      </div>
    </div>
  );
}
