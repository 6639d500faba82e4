// Listening to a case made of recordings: each sounds where it was taken.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { open } from '../audio/output';
import { Volume } from '../audio/volume';
import { rms } from '../bench/recording';
import { AspectChoice } from '../chest/aspect_choice';
import { bodyLike } from '../chest/builds';
import { ChestView } from '../chest/chest_view';
import { type Aspect, mirrored, type Place } from '../chest/geometry';
import { inWords, siteAt } from '../chest/landmarks';
import { go, route } from '../lib/route';
import { save } from '../lib/save';
import { get, remove } from '../lib/store';
import { heardAtChest } from './groups';
import { loadVocabulary, type Vocabulary } from './patients';
import { type CaseRecording, type KeptRecordedCase, toFile } from './recorded_case';

export function RecordedPlace() {
  const id = route.value[1] ?? '';
  const [kept, setKept] = useState<KeptRecordedCase | null>(null);
  const [words, setWords] = useState<Vocabulary | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    get<KeptRecordedCase>('cases', id).then((one) => {
      if (one) setKept(one);
      else setTrouble('That case is not on this device. Open its file at the Bench.');
    }, (error: Error) => setTrouble(error.message));
    loadVocabulary().then(setWords, (error: Error) => setTrouble(error.message));
  }, [id]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Recorded case</h1>
        <p class="notice" role="alert">{trouble}</p>
        <a href="#/bench">To the Bench</a>
      </div>
    );
  }
  return kept && words ? <Recorded key={id} kept={kept} words={words} /> : <h1>Recorded case</h1>;
}

// One gain for the whole case, so that a quieter side stays the quieter one.
const kLoudestRms = 0.06;
const gainOf = (recordings: readonly CaseRecording[]) =>
  Math.min(100, kLoudestRms / Math.max(1e-5, ...recordings.map((one) => rms(one.samples))));

function Recorded({ kept, words }: { kept: KeptRecordedCase; words: Vocabulary }) {
  const body = useMemo(() => bodyLike(kept.ageYears, kept.sex), [kept]);
  const first = words.sites.find((one) => one.id === kept.recordings[0]!.siteId) ?? words.sites[0]!;
  const [place, setPlace] = useState<Place>({ aspect: first.aspect, u: first.u, v: first.v });
  const [aspect, setAspect] = useState<Aspect>(first.aspect);
  const [isPressed, setPressed] = useState(false);
  const [marks, setMarks] = useState<ReadonlyMap<string, readonly string[]>>(new Map());
  const [isOver, setOver] = useState(false);
  const seconds = useRef(new Map<string, number>());
  const site = siteAt(words.sites, place);
  const here = isPressed ? kept.recordings.find((one) => one.siteId === site?.id) : undefined;
  useEffect(() => {
    if (!here) return;
    const { context, input } = open();
    const buffer = context.createBuffer(1, here.samples.length, here.rateHz);
    buffer.copyToChannel(here.samples, 0);
    const gain = context.createGain();
    gain.gain.value = gainOf(kept.recordings);
    const node = context.createBufferSource();
    node.buffer = buffer;
    node.loop = true;
    node.connect(gain).connect(input);
    node.start();
    const from = context.currentTime;
    return () => {
      node.stop();
      gain.disconnect();
      seconds.current.set(here.siteId, (seconds.current.get(here.siteId) ?? 0) + context.currentTime - from);
    };
  }, [here]);
  const move = (to: Place) => {
    setPlace(to);
    setAspect(to.aspect);
  };
  const show = (to: Aspect) => {
    const known =
      words.sites.find((one) => one.aspect === to && kept.recordings.some((part) => part.siteId === one.id)) ??
        words.sites.find((one) => one.aspect === to);
    if (known) move({ aspect: to, u: known.u, v: known.v });
    else setAspect(to);
  };
  const mark = (finding: string) => {
    if (!site) return;
    const had = marks.get(site.id) ?? [];
    setMarks(
      new Map([...marks, [site.id, had.includes(finding) ? had.filter((one) => one !== finding) : [...had, finding]]]),
    );
  };
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement;
      if (target.closest('input,select,textarea') || event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key === ' ' && target === document.body) {
        event.preventDefault();
        setPressed(!isPressed);
      }
      if (event.key === 'o') {
        event.preventDefault();
        move(mirrored(place));
      }
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
  const none: ReadonlySet<string> = new Set();
  if (isOver) {
    return <Key kept={kept} words={words} marks={marks} seconds={seconds.current} onBack={() => setOver(false)} />;
  }
  return (
    <div class="two">
      <section class="stack" aria-label="Chest">
        <h1>{kept.title}</h1>
        {kept.story && <p class="story">{kept.story}</p>}
        <AspectChoice aspect={aspect} onChange={show} />
        <ChestView body={body} aspect={aspect} place={place} isPressed={isPressed} isBell={false} isClothed={false}
          sites={words.sites.filter((one) => kept.recordings.some((part) => part.siteId === one.id))}
          markedSites={new Set([...marks].filter(([, list]) => list.length > 0).map(([id]) => id))} heardSites={none}
          onMove={move} onPress={() => setPressed(!isPressed)} />
        <p class="place-words" aria-live="polite">
          {inWords(place)}
          {site && <span class="soft">{' '}· {site.name} ({site.id})</span>}
          {isPressed && !here && (
            <>
              <br />Nothing was recorded here. Rings show the places that were.
            </>
          )}
        </p>
        <div class="main-action at-foot">
          <button class="main" onClick={() => setPressed(!isPressed)}>
            {isPressed ? 'Lift the chestpiece' : 'Put the chestpiece on'}
          </button>
          <button onClick={() => move(mirrored(place))}>Other side</button>
        </div>
      </section>
      <section class="stack">
        <fieldset class="stack">
          <legend>What do you hear here?</legend>
          <div class="choices">
            {heardAtChest(words.kinds).map((kind) => (
              <button title={kind.meaning} disabled={!site}
                aria-pressed={(marks.get(site?.id ?? '') ?? []).includes(kind.id)} onClick={() => mark(kind.id)}
              >
                {kind.label}
              </button>
            ))}
          </div>
        </fieldset>
        <Volume />
        <p class="small soft">
          Real recordings, played over and over where they were taken. They do not breathe with you, and the chest
          between them is silent.
        </p>
        <div class="row">
          <button onClick={() => {
            setPressed(false);
            setOver(true);
          }}>
            End and see the answers
          </button>
        </div>
      </section>
    </div>
  );
}

function Key({ kept, words, marks, seconds, onBack }: {
  kept: KeptRecordedCase;
  words: Vocabulary;
  marks: ReadonlyMap<string, readonly string[]>;
  seconds: ReadonlyMap<string, number>;
  onBack: () => void;
}) {
  const [isLeaving, setLeaving] = useState(false);
  const label = (id: string) => words.kinds.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  const list = (ids: readonly string[]) => ids.map(label).join(', ') || 'nothing said';
  const download = () => {
    void toFile(kept).then((blob) =>
      save(`${kept.title.replace(/[^\p{L}\p{N}]+/gu, '-').slice(0, 40) || 'case'}.recorded-case.json`, blob)
    );
  };
  return (
    <article class="stack">
      <h1>Answers: {kept.title}</h1>
      <table>
        <thead>
          <tr>
            <th scope="col">place</th>
            <th scope="col">listened</th>
            <th scope="col">you marked</th>
            <th scope="col">the maker says</th>
          </tr>
        </thead>
        <tbody>
          {kept.recordings.map((one) => {
            const mine = marks.get(one.siteId) ?? [];
            const isSame = mine.length === one.findings.length && mine.every((id) => one.findings.includes(id));
            return (
              <tr>
                <td>{words.sites.find((site) => site.id === one.siteId)?.name ?? one.siteId} ({one.siteId})</td>
                <td class="figures">{(seconds.get(one.siteId) ?? 0).toFixed(0)} s</td>
                <td>{list(mine)}</td>
                <td>{list(one.findings)}{isSame ? ': the same' : ': not the same'}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
      <p class="small soft">
        The key is the word of whoever made this case, about a recording; it is not a diagnosis of the person recorded.
      </p>
      <div class="row no-print">
        <button onClick={onBack}>Listen again</button>
        <button onClick={download}>Save as one file</button>
        <button onClick={() => print()}>Print or save as PDF</button>
        <button aria-expanded={isLeaving} onClick={() => setLeaving(!isLeaving)}>Remove</button>
        {isLeaving && (
          <button onClick={() => {
            void remove('cases', kept.id).then(() => go('bedside'));
          }}>
            Yes, remove it from this device
          </button>
        )}
        <a href="#/bedside">Another patient</a>
      </div>
    </article>
  );
}
