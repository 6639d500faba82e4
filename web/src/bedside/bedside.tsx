// The Bedside: the patient and your hands.
import type { ComponentChildren } from 'preact';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { BodyView, type Live } from '../body/body_view';
import { toneOf } from '../body/tones';
import { AspectChoice } from '../chest/aspect_choice';
import { ChestView } from '../chest/chest_view';
import { inWords } from '../chest/landmarks';
import { loadAnswers } from '../engine/ask';
import { type Engine, startEngine, unsupportedReason } from '../engine/engine';
import { Explain } from '../explain/explain';
import { Layers } from '../explain/layers';
import { isOfBreath, Tape } from '../explain/tape';
import { askable, type BodyPart, postureLabel, postures, soundLabel } from '../generated/bedside';
import { getBytes } from '../lib/api';
import { Asking } from './asking';
import { moveBreath } from './breath_motion';
import { Debrief } from './debrief';
import { askedFor, heardAtChest, percussed } from './groups';
import { HowReal } from './how_real';
import { Looking } from './looking';
import { clock, Marking, MarkList } from './marking';
import { Monitor, MonitorStrip } from './monitor';
import { loadConfig } from './patients';
import type { Encounter } from './session';
import { Treat, type TreatmentKind } from './treat';
import { personInWords, type Posture } from './types';
import { useBedsideKeys } from './use_bedside_keys';
import { Weigh } from './weigh';

const hands = ['Listen', 'Percuss', 'Look', 'Ask', 'Monitor', 'Treat', 'Weigh', 'Explain'] as const;
export const lyingOf: Record<Posture, number> = { sitting: 0, reclined: 0.5, lying: 1 };
const kPhone = '(max-width: 59.99rem)'; // as in style.css
export type Hand = (typeof hands)[number];

// What is different when the encounter is examined: nothing that tells the answer, no pausing.
export interface Examined {
  configPath: string; // the patient as the engine takes it, without naming the case
  hidesWords: boolean; // no sounds in words
  weigh: ComponentChildren; // the learner ranks, instead of being told
  finished: ComponentChildren; // instead of the debrief
}

export function Bedside(
  { encounter, treatments, examined }: { encounter: Encounter; treatments: readonly TreatmentKind[];
    examined?: Examined },
) {
  const [hand, setHand] = useState<Hand>('Listen');
  const [part, setPart] = useState<BodyPart | null>(null); // that is looked at
  const [trouble, setTrouble] = useState(unsupportedReason());
  const [isStarting, setStarting] = useState(false);
  const engine = useRef<Engine | null>(null);
  const tape = useMemo(() => new Tape(), [encounter]);
  const field = useRef<HTMLDivElement>(null);
  const live = useRef<Live | null>(null);

  const start = async (): Promise<boolean> => {
    if (engine.current) return true;
    if (isStarting) return false;
    setStarting(true);
    try {
      const packet = await (examined ? getBytes(examined.configPath) : loadConfig(encounter.prepared.id));
      await loadAnswers(encounter.sites);
      engine.current = await startEngine(encounter.setup(packet), {
        onNow: (now, block, seen) => {
          live.current = { seen, volume: now.volume };
          encounter.now.value = now;
          tape.take(now, block);
          if (field.current) moveBreath(field.current, now);
        },
        onEvents: (events) => tape.add(events),
        onDone: (id, t) => encounter.stamp(id, t),
        onFindings: (findings, finding) => encounter.answer(finding, findings),
        onReady: (instruments) => {
          encounter.instruments.value = instruments;
        },
        onFailed: setTrouble,
      });
      encounter.connect(engine.current.send);
      if (examined) encounter.listenAsOnAPatient();
      setTrouble('');
      return true;
    } catch (error) {
      setTrouble((error as Error).message);
      return false;
    } finally {
      setStarting(false);
    }
  };
  // The body to look at comes when the sound is there, or when nobody has asked for it for a moment.
  const [mayLoadBody, setMayLoadBody] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setMayLoadBody(true), 1200);
    return () => clearTimeout(timer);
  }, []);
  useEffect(() => {
    const timer = setInterval(() => {
      if (engine.current && !encounter.isEnded.peek()) void encounter.keep();
    }, 1000);
    return () => clearInterval(timer);
  }, [encounter]);
  useEffect(() => () => {
    engine.current?.close();
    engine.current = null;
  }, [encounter]);

  const press = () => {
    if (encounter.isPressed.peek()) {
      void encounter.lift();
      return;
    }
    void start().then((isThere) => {
      if (isThere) encounter.press();
    });
  };
  const panel = useRef<HTMLDivElement>(null);
  // On a phone the hands lie below the chest; choosing one brings it up.
  const use = (one: Hand) => {
    take(one);
    if (one === 'Look') scrollTo({ top: 0 });
    else if (matchMedia(kPhone).matches) panel.current?.scrollIntoView();
  };
  // A body is looked at alive.
  const take = (one: Hand) => {
    setHand(one);
    setPart(null);
    if (one === 'Look') void start();
  };
  useBedsideKeys(encounter, { press, setHand: take, isExamined: examined !== undefined });

  if (encounter.isEnded.value) {
    return examined
      ? <>{examined.finished}</>
      : <Debrief encounter={encounter} treatments={treatments} />;
  }
  const { prepared } = encounter;
  const place = encounter.place.value;
  const site = encounter.siteHere();
  // Little is offered until the chestpiece has been on: the story comes first.
  const hasBegun = encounter.now.value !== null || encounter.log.value.length > 0;
  return (
    <div class={hand === 'Look' ? 'two has-hand-bar is-looking' : 'two has-hand-bar'}>
      <div class="strip">
        {!examined && <Clock encounter={encounter} />}
        <MonitorStrip encounter={encounter} />
      </div>
      <section class={hasBegun ? 'stack' : 'stack has-story'} aria-label="Chest" ref={field}>
        <div class="row">
          <h1 class="grow">{prepared.title}</h1>
        </div>
        <p class="soft small">{personInWords(prepared.person)}{!examined && ` · patient number ${encounter.seed}`}</p>
        {!hasBegun && <p class="story">{prepared.story}</p>}
        {[trouble, encounter.storingTrouble.value].filter(Boolean).map((words) => (
          <p class="notice" role="alert">{words}</p>
        ))}
        <BodyView body={encounter.body} tone={toneOf(encounter.seed)} place={place}
          isPressed={encounter.isPressed.value} isBell={encounter.isBell.value} isClothed={encounter.isClothed.value}
          lying={lyingOf[encounter.posture.value]} mayLookThrough={hand === 'Explain' && !examined}
          sites={encounter.sites} markedSites={encounter.markedSites.value} heardSites={encounter.heardSites.value}
          live={() => live.current} mayLoad={mayLoadBody || encounter.isPressed.value}
          onMove={(to) => encounter.move(to)} onPress={press}
          {...(hand === 'Look' ? { look: { part, onPart: setPart } } : {})}
        >
          <AspectChoice aspect={encounter.aspect.value} onChange={(aspect) => encounter.show(aspect)} />
          <ChestView body={encounter.body} aspect={encounter.aspect.value} place={place}
            isPressed={encounter.isPressed.value} isBell={encounter.isBell.value} isClothed={encounter.isClothed.value}
            sites={encounter.sites} markedSites={encounter.markedSites.value} heardSites={encounter.heardSites.value}
            onMove={(to) => encounter.move(to)} onPress={press} />
        </BodyView>
        {hand !== 'Look' && (
          <p class="place-words" aria-live="polite">
            {inWords(place)}
            {site && <span class="soft">{' '}· {site.name} ({site.id})</span>}
          </p>
        )}
        <div class="main-action">
          <button class="main" onClick={press} disabled={isStarting} aria-pressed={encounter.isPressed.value}>
            {encounter.isPressed.value ? 'Lift the chestpiece' : 'Put the chestpiece on'}
          </button>
          {hasBegun && hand !== 'Look' && <button onClick={() => encounter.otherSide()}>Other side</button>}
          {prepared.clothing !== 'bare' && (
            <button onClick={() => (encounter.isClothed.value ? encounter.uncover() : encounter.cover())}>
              {encounter.isClothed.value ? 'Open the clothing' : 'Close the clothing'}
            </button>
          )}
          <details class="more">
            <summary>{encounter.isBell.value ? 'Bell' : 'Diaphragm'}, {postureLabel[encounter.posture.value]}</summary>
            <div class="row">
              <button aria-pressed={encounter.isBell.value} onClick={() => encounter.setBell(!encounter.isBell.value)}>
                Bell
              </button>
              <label class="row">
                Position{' '}
                <select value={encounter.posture.value}
                  onChange={(event) => encounter.setPosture(event.currentTarget.value as Posture)}
                >
                  {postures.map((one) => <option value={one}>{postureLabel[one]}</option>)}
                </select>
              </label>
            </div>
          </details>
        </div>
      </section>
      <section class="stack">
        <div class="hand-bar">
          <button class="phone-only" onClick={() => scrollTo({ top: 0 })}>Chest</button>
          <button class="phone-only press" aria-pressed={encounter.isPressed.value} onClick={press}
            disabled={isStarting}
          >
            {encounter.isPressed.value ? 'Lift' : 'Put on'}
          </button>
          <div class="hands" role="tablist" aria-label="Your hands">
            {hands.filter((one) => !examined || one !== 'Explain').map((one) => (
              <button role="tab" id={`tab-${one}`} aria-controls="hand" aria-selected={hand === one} onClick={() =>
                use(one)}
              >
                {one}
              </button>
            ))}
          </div>
        </div>
        <div id="hand" ref={panel} role="tabpanel" aria-labelledby={`tab-${hand}`} class="stack">
          {hand === 'Listen' && (
            <>
              {hasBegun && <Commands encounter={encounter} />}
              {hasBegun && (
                <Marking encounter={encounter} kinds={heardAtChest(encounter.kinds)} question="What do you hear here?"
                  rest="sounds" />
              )}
              {!examined && <HowReal encounter={encounter} onStart={start} />}
              <Volume />
              <MarkList encounter={encounter} />
            </>
          )}
          {hand === 'Percuss' && <Percuss encounter={encounter} onStart={start} />}
          {hand === 'Look' && <Looking encounter={encounter} part={part} onPart={setPart} onStart={start} />}
          {hand === 'Ask' && (
            <>
              <p class="story">{prepared.story}</p>
              <Asking encounter={encounter} kinds={askedFor(encounter.kinds)} onStart={start} title="Ask"
                rest="to ask" />
            </>
          )}
          {hand === 'Monitor' && <Monitor encounter={encounter} onStart={start} />}
          {hand === 'Treat' && <Treat encounter={encounter} treatments={treatments} onStart={start} />}
          {hand === 'Weigh' && (examined ? examined.weigh : <Weigh encounter={encounter} />)}
          {hand === 'Explain' && !examined && (
            <>
              <Explain tape={tape} now={encounter.now} />
              <Layers encounter={encounter} />
            </>
          )}
        </div>
        {hand === 'Listen' && hasBegun && !examined?.hidesWords && <Caption tape={tape} />}
        {(hasBegun || examined) && (
          <div class="row">
            <button disabled={encounter.isEnding.value} onClick={() => {
              void encounter.end();
            }}>
              {examined ? 'I am finished' : 'End and debrief'}
            </button>
          </div>
        )}
      </section>
    </div>
  );
}

function Clock({ encounter }: { encounter: Encounter }) {
  const seconds = encounter.now.value?.timeS;
  if (seconds === undefined) return null;
  return (
    <span class="row">
      <span class="figures">{clock(seconds)}</span>
      <button aria-pressed={encounter.isPaused.value} onClick={() => encounter.pause(!encounter.isPaused.value)}>
        Pause
      </button>
      {encounter.isPaused.value && (
        <button onClick={() => {
          void encounter.pass(60);
        }}>
          Skip 1 min
        </button>
      )}
    </span>
  );
}

function Commands({ encounter }: { encounter: Encounter }) {
  return (
    <div class="row" role="group" aria-label="Ask the patient to">
      {askable.filter((one) => one.key).map((one) => (
        <button onClick={() => encounter.ask(one.manoeuvre)}>{one.label}</button>
      ))}
    </div>
  );
}

function Percuss({ encounter, onStart }: { encounter: Encounter; onStart: () => Promise<boolean> }) {
  const tap = () => {
    void onStart().then((isThere) => {
      if (isThere) encounter.percuss();
    });
  };
  return (
    <>
      <button class="main" onClick={tap}>Tap here</button>
      <Marking encounter={encounter} kinds={percussed(encounter.kinds)} question="What note is it here?" rest="notes" />
      <MarkList encounter={encounter} />
    </>
  );
}

// What is sounding, in words, for those who cannot hear it. An examiner can leave it off.
function Caption({ tape }: { tape: Tape }) {
  const [isOn, setOn] = useState(false);
  const words = [...new Set(tape.lit.value.filter(isOfBreath)
    .map((event) => `${soundLabel[event.sound]}, ${event.phase}, ${event.region}`))];
  return (
    <div>
      <label class="row">
        <input type="checkbox" checked={isOn} onChange={(event) => setOn(event.currentTarget.checked)} />{' '}
        Sounds in words
      </label>
      {isOn && <p class="caption" aria-live="polite">{words.slice(0, 2).join(' · ') || '…'}</p>}
    </div>
  );
}
