// A chest that plays within one tap: a few prepared patients, a chestpiece, nothing to fill in.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { loadCase, loadConfig } from '../bedside/patients';
import { bodyOf, type Case } from '../bedside/types';
import { BodyView, type Live } from '../body/body_view';
import { toneOf } from '../body/tones';
import { AspectChoice } from '../chest/aspect_choice';
import { ChestView } from '../chest/chest_view';
import { type Body, grownWoman, type Place } from '../chest/geometry';
import { inWords, type Site } from '../chest/landmarks';
import { loadAnswers } from '../engine/ask';
import { type Engine, fetchModule, startEngine } from '../engine/engine';
import type { Deed } from '../generated/bedside';
import { getJson } from '../lib/api';
import { newId } from '../lib/new_id';

const patients = [
  { id: 'healthy_volunteer', word: 'A clear chest', seed: 3 },
  { id: 'asthma', word: 'A tight one', seed: 11 },
  { id: 'right_pneumothorax', word: 'A one-sided one', seed: 5 },
];
const none: ReadonlySet<string> = new Set();
// From behind: the best place to begin, and the least exposing one for a first page.
const kStart: Place = { aspect: 'back', u: 0.45, v: 0.72 };

export function Hear() {
  const [chosen, setChosen] = useState(0);
  const [prepared, setPrepared] = useState<Case | null>(null);
  const [place, setPlace] = useState(kStart);
  const [isOn, setOn] = useState(false);
  const [isBusy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState('');
  const [mayLoad, setMayLoad] = useState(false);
  const engine = useRef<Engine | null>(null);
  const live = useRef<Live | null>(null);
  const { id, seed } = patients[chosen]!;
  const body: Body = useMemo(() => (prepared ? bodyOf(prepared.person) : grownWoman), [prepared]);

  useEffect(() => {
    let isHere = true;
    loadCase(id).then((one) => isHere && setPrepared(one), (error: Error) => isHere && setTrouble(error.message));
    void loadConfig(id).catch(() => {/* told when it is needed */});
    void fetchModule().catch(() => {/* told when it is needed */});
    return () => {
      isHere = false;
    };
  }, [id]);
  // The body comes when nothing that sounds is still under way.
  useEffect(() => {
    const timer = setTimeout(() => setMayLoad(true), 700);
    return () => clearTimeout(timer);
  }, []);
  useEffect(() => () => engine.current?.close(), []);

  const deed = (one: Deed) => engine.current?.send({ do: 'deed', entry: { id: newId(), t: 0, ...one } });
  const put = (at: Place) => deed({ do: 'place', aspect: at.aspect, u: at.u, v: at.v, pressure: 0.6 });
  const play = async (which: number) => {
    setBusy(true);
    setTrouble('');
    try {
      const next = patients[which]!;
      engine.current?.close();
      engine.current = null;
      const packet = await loadConfig(next.id);
      engine.current = await startEngine({ packet, seed: next.seed, sites: [], history: [], untilS: 0 }, {
        onNow: (now, _block, seen) => {
          live.current = { seen, volume: now.volume };
        },
        onEvents: () => {/* nothing is told here */},
        onFindings: () => {/* nothing is asked here */},
        onReady: () => {/* nothing is chosen here */},
        onDone: () => {/* nothing is kept here */},
        onFailed: setTrouble,
      });
      deed({ do: 'expose' });
      put(place);
      setOn(true);
      setMayLoad(true);
      void getJson<{ sites: Site[] }>('sites').then((answer) => loadAnswers(answer.sites))
        .catch(() => {/* places stay without words */});
    } catch (error) {
      setTrouble((error as Error).message);
    } finally {
      setBusy(false);
    }
  };
  const press = () => {
    if (!engine.current) void play(chosen);
    else {
      if (isOn) deed({ do: 'lift' });
      else put(place);
      setOn(!isOn);
    }
  };
  const choose = (which: number) => {
    if (which === chosen) return;
    setChosen(which);
    live.current = null;
    if (engine.current) void play(which);
  };
  const move = (to: Place) => {
    setPlace(to);
    if (isOn) put(to);
  };
  return (
    <>
      <section class="front-chest" aria-label="A chest to listen at">
        <BodyView body={body} tone={toneOf(seed)} place={place} isPressed={isOn} isBell={false} lying={0}
          isClothed={false} mayLookThrough={false} sites={[]} markedSites={none} heardSites={none} mayLoad={mayLoad}
          live={() => live.current} onMove={move} onPress={press}
        >
          <AspectChoice aspect={place.aspect} onChange={(aspect) => move({ aspect, u: 0.3, v: 0.5 })} />
          <ChestView body={body} aspect={place.aspect} place={place} isPressed={isOn} isBell={false} isClothed={false}
            sites={[]} markedSites={none} heardSites={none} onMove={move} onPress={press} />
        </BodyView>
      </section>
      <div class="front-do" role="group" aria-label="Listen">
        <div class="front-play-row">
          <button class="main front-play" onClick={press} disabled={isBusy} aria-pressed={isOn}>
            {isOn ? 'Lift the chestpiece' : 'Put the chestpiece on and listen'}
          </button>
        </div>
        <div class="row" role="group" aria-label="Whose chest">
          {patients.map((one, i) => <button aria-pressed={i === chosen} onClick={() => choose(i)}>{one.word}</button>)}
        </div>
        <p class="small soft" aria-live="polite">
          {trouble || (isOn ?
            `${inWords(place)}. Drag the chestpiece; drag beside the patient to turn.`
            : 'Start low: headphones are loud close to the ear.')}
        </p>
      </div>
    </>
  );
}
