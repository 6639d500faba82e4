// The Drill: many short plays; what comes next is chosen from what this learner forgets and confuses.
import { signal } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { getJson } from '../lib/api';
import { go, route } from '../lib/route';
import { keep } from '../lib/settings';
import { AbilityPage } from './ability_test';
import { PlayView } from './play';
import { loadStanding, nextPlay, type Play, type Schedule, sendAnswer, type Standing } from './source';
import { ConfusionTable, SkillTable } from './standing';
import { type Answered, type DrillRules, type Exercise, exercises } from './types';

const lengths = [10, 20, 40] as const;
const numPlays = signal<number>(20);
function kept(key: string): string {
  try {
    return localStorage.getItem('phren.' + key) ?? '';
  } catch {
    return '';
  }
}
const isSoundOnly = signal(kept('drill-sound-only') === 'yes');
const orders: { id: Schedule; name: string }[] = [
  { id: 'blocked_then_mixed', name: 'New kinds first in a row, then mixed' },
  { id: 'mixed', name: 'Mixed from the start' },
  { id: 'blocked', name: 'One kind until it is firm' },
];
const order = signal<Schedule>(orders.find((one) => one.id === kept('drill-order'))?.id ?? 'mixed');

export function DrillPlace() {
  if (route.value[1] === 'test') return <AbilityPage />;
  const exercise = exercises.find((one) => one.mode === route.value[1]);
  return exercise ? <Session key={exercise.mode} exercise={exercise} /> : <Home />;
}

function Home() {
  const [standing, setStanding] = useState<Standing | null>(null);
  const [trouble, setTrouble] = useState('');
  const [rules, setRules] = useState<DrillRules | null>(null);
  useEffect(() => {
    getJson<DrillRules>('drill/rules').then(setRules, () => {/* the server obeys them all the same */});
  }, []);
  const isFree = !rules || (rules.modes.length === exercises.length && rules.skills.length === rules.all_skills.length);
  useEffect(() => {
    loadStanding().then(setStanding, (error: Error) => setTrouble(error.message));
  }, []);
  return (
    <div class="stack">
      <h1>What do you want to practise?</h1>
      <p>Short plays: answer first, then see. What you mix up and what you are about to forget comes back sooner.</p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <ul class="plain-list cases">
        {exercises.filter((one) => !rules || rules.modes.includes(one.mode)).map((one) => (
          <li>
            <a class="case" href={`#/drill/${one.mode}`}>
              <strong>{one.name}</strong>
              <span class="soft small">{one.words}</span>
            </a>
          </li>
        ))}
      </ul>
      {!isFree && (
        <p class="small soft">
          Your class practises this now:{' '}
          {rules.all_skills.filter((one) => rules.skills.includes(one.id)).map((one) => one.label).join(', ')}
          {rules.new_per_day !== null && `; ${rules.new_per_day} new a day`}.
        </p>
      )}
      <div class="row" role="group" aria-label="How many plays">
        <span>Plays</span>
        {lengths.map((one) => (
          <button aria-pressed={numPlays.value === one} onClick={() => {
            numPlays.value = one;
          }}>
            {one}
          </button>
        ))}
      </div>
      <label class="field">
        Order<select value={order.value} onChange={(event) => {
          order.value = event.currentTarget.value as Schedule;
          keep('drill-order', order.value);
        }}>
          {orders.map((one) => <option value={one.id}>{one.name}</option>)}
        </select>
      </label>
      <label class="check">
        <input type="checkbox" disabled={rules?.sound_only} checked={isSoundOnly.value || rules?.sound_only}
          onChange={(event) => {
            isSoundOnly.value = event.currentTarget.checked;
            keep('drill-sound-only', isSoundOnly.value ? 'yes' : 'no');
          }} />{' '}
        Sound only: no pictures, even after the answer
      </label>
      <p>
        <a class="button-link" href="#/drill/test">Ability test: how well do you hear?</a>
      </p>
      {standing && (
        <section class="stack">
          <h2>Where you stand</h2>
          <SkillTable skills={standing.skills} />
          {standing.skills.some((one) => one.plays > 0) && (
            <>
              <h2>What you take for what</h2>
              <ConfusionTable confusion={standing.confusion} />
            </>
          )}
          <p class="small soft">
            “Remembered now” is a memory model's estimate (FSRS-6), not a measurement. “Firm” means right in at least 85
            % of recent plays, the last ones counting most, and at least 6 plays.
          </p>
        </section>
      )}
    </div>
  );
}

interface Played {
  isRight: boolean;
  said: string;
  was: string;
}

function Session({ exercise }: { exercise: Exercise }) {
  const [play, setPlay] = useState<Play | null>(null);
  const [played, setPlayed] = useState<readonly Played[]>([]);
  const [isOver, setOver] = useState(false);
  const [trouble, setTrouble] = useState('');
  const total = numPlays.value;

  const fetchNext = () => {
    setTrouble('');
    setPlay(null);
    nextPlay(exercise.mode, order.peek()).then(setPlay, (error: Error) => setTrouble(error.message));
  };
  useEffect(fetchNext, [exercise]);
  const answer = async (answered: string, thoughtS: number): Promise<Answered> => {
    const given = await sendAnswer(play!.item, answered, thoughtS);
    const said = play!.item.choices.find((one) => one.id === given.answered)?.label ?? '';
    setPlayed((was) => [...was, { isRight: given.is_right, said, was: given.truth_label }]);
    return given;
  };
  const next = () => {
    if (played.length >= total) setOver(true);
    else fetchNext();
  };
  const leave = () => {
    if (played.length > 0) setOver(true);
    else go('drill');
  };

  if (isOver) {
    return (
      <Summary name={exercise.name} played={played} onAgain={() => {
        setPlayed([]);
        setOver(false);
        fetchNext();
      }} />
    );
  }
  const isAnswered = play !== null && trouble === '';
  return (
    <div class="stack">
      <div class="row">
        <h1 class="grow">{exercise.name}</h1>
        <span class="figures" role="status">{played.length} of {total} answered</span>
        <button onClick={leave}>Stop here</button>
      </div>
      <progress class="progress" max={total} value={played.length} aria-label="Plays answered" />
      {trouble && (
        <p class="notice" role="alert">
          {trouble} <button class="plain" onClick={fetchNext}>Try again</button>
        </p>
      )}
      {!play && !trouble && <p class="soft" role="status">The next sound is being made …</p>}
      {isAnswered && (
        <>
          <PlayView key={play.item.item_id} play={play} showsPictures={!isSoundOnly.value && !play.item.sound_only}
            onAnswer={answer} onNext={next} />
        </>
      )}
      <details>
        <summary>Volume</summary>
        <Volume />
      </details>
    </div>
  );
}

function Summary({ name, played, onAgain }: { name: string; played: readonly Played[]; onAgain: () => void }) {
  const right = played.filter((one) => one.isRight).length;
  const mixedUp = new Map<string, number>();
  for (const one of played) {
    if (!one.isRight) {
      mixedUp.set(`${one.was}, called ${one.said}`, (mixedUp.get(`${one.was}, called ${one.said}`) ?? 0) + 1);
    }
  }
  return (
    <div class="stack">
      <h1>{name}: {right} of {played.length} right</h1>
      {mixedUp.size > 0 && (
        <>
          <h2>Mixed up</h2>
          <ul class="plain-list figures">
            {[...mixedUp.entries()].sort((a, b) => b[1] - a[1]).map(([words, count]) => <li>{count} × {words}</li>)}
          </ul>
        </>
      )}
      <p>What was wrong comes back sooner, beside its look-alike. A short rest for the ears does good.</p>
      <div class="main-action">
        <button class="main" onClick={onAgain}>Go on</button>
        <a href="#/drill">Other exercises</a>
      </div>
    </div>
  );
}
