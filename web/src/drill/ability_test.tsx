// The ability test: one question after another, chosen by the answers so far; nothing is said until the end.
import { useEffect, useRef, useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { stop } from '../bench/player';
import { Interval } from '../class/estimate';
import { getJson } from '../lib/api';
import { abilityInWords, type AbilityItem, type AbilityRow, type AbilityTest, answer, begin, difficultiesInWords,
  endInWords, endNow, soundsOf } from './ability';
import { playSound, SoundButtons } from './sounds';
import type { DrillSound } from './types';
import { useSpace } from './use_space';

export function AbilityPage() {
  const [earlier, setEarlier] = useState<AbilityRow[]>([]);
  const [test, setTest] = useState<AbilityTest | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ ability_tests: AbilityRow[] }>('me').then((me) => setEarlier(me.ability_tests),
      (error: Error) => setTrouble(error.message));
  }, [test?.has_ended]);
  const start = () => {
    setTrouble('');
    begin().then(setTest, (error: Error) => setTrouble(error.message));
  };
  if (test?.has_ended) return <Result test={test} onAgain={() => setTest(null)} />;
  if (test?.item) return <Running test={test} item={test.item} onChanged={setTest} />;
  const open = earlier.find((one) => !one.has_ended);
  return (
    <div class="stack">
      <h1>How well do you hear?</h1>
      <p>
        A test of at most 80 short questions: some twenty minutes. Each next question is chosen by your answers so far;
        nothing is said until the end. It stops by itself once your ability is known closely enough.
      </p>
      <p class="small soft">
        Your instructors see the result. Use earphones and a quiet room; answer what you hear, and guess when you must.
      </p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="main-action">
        <button class="main" onClick={start}>{open ? 'Go on with the test' : 'Begin the test'}</button>
        {open && <span class="small soft">{open.answered} answered so far</span>}
        <a href="#/drill">Back to the exercises</a>
      </div>
      {earlier.some((one) => one.has_ended) && (
        <section class="stack">
          <h2>Earlier tests</h2>
          <AbilityList tests={earlier} whose="Your" />
        </section>
      )}
    </div>
  );
}

function Running(
  { test, item, onChanged }: { test: AbilityTest; item: AbilityItem; onChanged: (test: AbilityTest) => void },
) {
  const [asks, setAsks] = useState(false);
  const [trouble, setTrouble] = useState('');
  const end = () => {
    endNow(test).then(onChanged, (error: Error) => setTrouble(error.message));
  };
  return (
    <div class="stack">
      <div class="row">
        <h1 class="grow">Ability test</h1>
        <span class="figures" role="status">Question {test.answered + 1}, at most {test.most_items}</span>
        <button onClick={() => setAsks(!asks)} aria-expanded={asks}>End now</button>
      </div>
      {asks && (
        <div class="card stack">
          <p>End the test now? What you have answered counts; the result will be less sure.</p>
          <div class="row">
            <button onClick={end}>End the test</button>
            <button onClick={() => setAsks(false)}>Go on</button>
          </div>
        </div>
      )}
      <progress class="progress" max={test.most_items} value={test.answered} aria-label="Questions answered" />
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <Question key={item.item_id} test={test} item={item} onAnswered={onChanged} />
      <details>
        <summary>Volume</summary>
        <Volume />
      </details>
    </div>
  );
}

function Question(
  { test, item, onAnswered }: { test: AbilityTest; item: AbilityItem; onAnswered: (test: AbilityTest) => void },
) {
  const [sounds, setSounds] = useState<readonly DrillSound[]>([]);
  const [chosen, setChosen] = useState('');
  const [isSending, setSending] = useState(false);
  const [trouble, setTrouble] = useState('');
  const top = useRef<HTMLElement>(null);
  const load = () => {
    setTrouble('');
    soundsOf(item).then(setSounds, (error: Error) => setTrouble(error.message));
  };
  useEffect(() => {
    load();
    return () => stop();
  }, []);
  useEffect(() => {
    if (sounds.length > 0) top.current?.querySelector('button')?.focus({ preventScroll: true });
  }, [sounds.length]);
  useSpace(() => {
    if (sounds[0]) playSound(sounds[0], sounds, item.has_one_gain);
  });
  const send = async () => {
    setSending(true);
    setTrouble('');
    try {
      onAnswered(await answer(test, chosen));
    } catch (error) {
      setTrouble((error as Error).message);
      setSending(false);
    }
  };
  return (
    <div class="two">
      <section class="stack" aria-label="Listen" ref={top}>
        {sounds.length > 0
          ? (
            <SoundButtons sounds={sounds} hasOneGain={item.has_one_gain}
              onPlayed={() => {/* time is not part of this */}} />
          )
          : !trouble && <p class="soft" role="status">The next sound is being made …</p>}
        <p class="small soft">Play it as often as you like. An answer cannot be changed later.</p>
      </section>
      <fieldset class="stack">
        <legend>{item.question}</legend>
        <div class="choices">
          {item.choices.map((choice) => (
            <button aria-pressed={chosen === choice.id} onClick={() => {
              if (!isSending) setChosen(choice.id);
            }}>
              {choice.label}
            </button>
          ))}
        </div>
        {trouble && (
          <p class="notice" role="alert">
            {trouble} {sounds.length === 0 && <button class="plain" onClick={load}>Try again</button>}
          </p>
        )}
        <div class="main-action at-foot">
          <button class="main" disabled={chosen === '' || isSending || sounds.length === 0} onClick={() => {
            void send();
          }}>
            Give this answer
          </button>
        </div>
      </fieldset>
    </div>
  );
}

function Result({ test, onAgain }: { test: AbilityTest; onAgain: () => void }) {
  return (
    <div class="stack">
      <h1>Your ability test</h1>
      <AbilitySummary row={test} whose="Your" />
      {test.right !== null && (
        <p class="figures">
          {test.right} of {test.answered}{' '}
          right. The questions were chosen to be neither easy nor hopeless for you, so this share alone says little.
        </p>
      )}
      <p class="small soft">
        This says how well these sounds were told apart and placed through these earphones today. It is not a measure of
        how well a patient is cared for.
      </p>
      <div class="main-action at-foot">
        <a class="button-link main-link" href="#/drill">To the exercises</a>
        <button onClick={onAgain}>Done</button>
      </div>
    </div>
  );
}

export function AbilitySummary({ row, whose }: { row: AbilityRow; whose: 'Your' | 'The' }) {
  return (
    <div class="stack">
      <p class="caption">{row.has_ended ? abilityInWords(row, whose) : endInWords(row)}</p>
      <Interval estimate={row.ability} from={-3} to={3} />
      {row.has_ended && <p class="small">{endInWords(row)}</p>}
      {row.ability && <p class="small soft">{difficultiesInWords(row)}</p>}
    </div>
  );
}

// Newest first; also on the learner's page, for the instructor.
export function AbilityList({ tests, whose }: { tests: readonly AbilityRow[]; whose: 'Your' | 'The' }) {
  if (tests.length === 0) return <p class="soft">None taken yet.</p>;
  return (
    <ul class="plain-list">
      {[...tests].reverse().map((row) => (
        <li class="card stack">
          <h3>{new Date(row.started_ms).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' })}</h3>
          <AbilitySummary row={row} whose={whose} />
        </li>
      ))}
    </ul>
  );
}
