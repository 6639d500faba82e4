// The Bench: recordings opened or made here, looked at, compared, cut.
import { useEffect, useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { loadVocabulary } from '../bedside/patients';
import { fromFile, isCaseFile } from '../bedside/recorded_case';
import type { FindingKind } from '../bedside/types';
import { go } from '../lib/route';
import { put } from '../lib/store';
import { Blind } from './blind';
import { Compare } from './compare';
import { MakeCase } from './make_case';
import { inShort } from './measurement';
import { loadMeasurer, measure, troubles, waiting } from './measurer';
import { startTaking, type Taking } from './microphone';
import { OneRecording, type Part, PlayBar } from './one_recording';
import { decode, lengthS, type Recording } from './recording';
import { keepRecording, loadShelf, shelf, storingTrouble } from './shelf';
import { SpecimenShelf } from './specimen_shelf';

function TakenSoFar({ taking }: { taking: Taking }) {
  const [seconds, setSeconds] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => setSeconds(Math.floor(taking.seconds())), 250);
    return () => clearInterval(timer);
  }, [taking]);
  return <strong class="figures big" role="timer">{seconds} s</strong>;
}

function MeasureAll() {
  const [asked, setAsked] = useState(0);
  const left = waiting.value.length;
  const open = shelf.value.filter((one) => !one.measurement && !waiting.value.includes(one.id));
  if (left > 0 && asked > 1) {
    return (
      <label class="stack small" role="status">
        {asked - left} of {asked} measured
        <progress class="wide" max={asked} value={asked - left} />
      </label>
    );
  }
  return (
    <button disabled={open.length === 0} onClick={() => {
      setAsked(open.length + left);
      void measure(open).then(() => setAsked(0));
    }}>
      Measure all
    </button>
  );
}

export function Bench() {
  const [chosenId, setChosenId] = useState('');
  const [trouble, setTrouble] = useState('');
  const [taking, setTaking] = useState<Taking | null>(null);
  const [isShelfOpen, setShelfOpen] = useState(false);
  const [isComparing, setComparing] = useState(false);
  const [isMaking, setMaking] = useState(false);
  const [isBlind, setBlind] = useState(false);
  const [picked, setPicked] = useState<Part>(null); // of the chosen recording
  const [kinds, setKinds] = useState<FindingKind[]>([]);
  useEffect(() => {
    void loadShelf();
    loadMeasurer().catch(() => {/* told when something is measured */});
    loadVocabulary().then((words) => setKinds(words.kinds), () => {/* told when a case is made */});
  }, []);

  const add = async (made: Promise<Recording>) => {
    try {
      const recording = await made;
      await keepRecording(recording);
      setChosenId(recording.id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const openCase = async (file: File) => {
    try {
      const made = await fromFile(file);
      await put('cases', made);
      go('recorded', made.id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const openFiles = async (files: FileList | null) => {
    setTrouble('');
    for (const file of Array.from(files ?? [])) {
      await (isCaseFile(file) ? openCase(file) : add(decode(file, file.name)));
    }
  };
  const record = async () => {
    setTrouble('');
    if (taking) {
      setTaking(null);
      await add(taking.stop());
      return;
    }
    try {
      setTaking(await startTaking());
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const chosen = shelf.value.find((one) => one.id === chosenId) ?? shelf.value[shelf.value.length - 1];
  useEffect(() => setPicked(null), [chosen?.id]);

  return (
    <div class="stack" onDragOver={(event) => event.preventDefault()} onDrop={(event) => {
      event.preventDefault();
      void openFiles(event.dataTransfer?.files ?? null);
    }}>
      <h1>Bench</h1>
      <div class="row">
        <label class="file-button">
          Open recordings<input class="unseen" type="file" accept="audio/*,.flac,.wav,.json" multiple
            onChange={(event) => {
              void openFiles(event.currentTarget.files);
              event.currentTarget.value = '';
            }} />
        </label>
        <button onClick={() => {
          void record();
        }} aria-pressed={taking !== null}>
          {taking ? 'Stop recording' : 'Record'}
        </button>
        <button aria-expanded={isShelfOpen} onClick={() => setShelfOpen(!isShelfOpen)}>Specimens</button>
        <button aria-expanded={isMaking} disabled={shelf.value.length === 0} onClick={() => setMaking(!isMaking)}>
          Make a case
        </button>
        <button aria-pressed={isComparing} disabled={shelf.value.length < 2} onClick={() => setComparing(!isComparing)}>
          Compare two
        </button>
        <button aria-expanded={isBlind} disabled={shelf.value.length === 0} onClick={() => setBlind(!isBlind)}>
          Real or computed?
        </button>
      </div>
      {taking && (
        <div class="row">
          <p class="grow" role="status">
            Recording. Hold the chestpiece still for three breaths; 15 seconds or more are best.
          </p>
          <TakenSoFar taking={taking} />
        </div>
      )}
      {[trouble, storingTrouble.value].filter(Boolean).map((words) => <p class="notice" role="alert">{words}</p>)}
      {isShelfOpen && (
        <SpecimenShelf onTake={(made) => {
          setTrouble('');
          void add(made);
        }} onTrouble={setTrouble} />
      )}
      {isMaking && shelf.value.length > 0 && <MakeCase recordings={shelf.value} kinds={kinds} />}
      {isBlind && shelf.value.length > 0 && <Blind recordings={shelf.value} onTrouble={setTrouble} />}
      {shelf.value.length === 0 && (
        <p class="soft">
          Open a WAV or FLAC file, drop one here, or record. Recordings stay on this device; they are measured here too.
          Recordings of people need their consent, and names have no place in file names.
        </p>
      )}
      {shelf.value.length > 0 && (
        <div class="bench">
          <section aria-label="Recordings" class="stack">
            <ul class="plain-list">
              {shelf.value.map((one) => (
                <li>
                  <button class="wide" aria-current={one === chosen ? 'true' : undefined} onClick={() => {
                    setChosenId(one.id);
                    setComparing(false);
                  }}>
                    <span>{one.name}</span>{' '}
                    <span class="soft small figures">
                      {lengthS(one).toFixed(1)} s{one.siteId && ` · ${one.siteId}`}
                      {waiting.value.includes(one.id)
                        ? ' · waits to be measured'
                        : troubles.value.has(one.id)
                        ? ' · could not be measured'
                        : one.measurement && ` · ${inShort(one.measurement)}`}
                    </span>
                  </button>
                </li>
              ))}
            </ul>
            <MeasureAll />
            <Volume />
          </section>
          {isComparing ?
            <Compare /> :
            chosen && (
              <OneRecording key={chosen.id} recording={chosen} picked={picked} setPicked={setPicked} onCut={(made) => {
                void add(Promise.resolve(made));
              }} />
            )}
        </div>
      )}
      {chosen && !isComparing && <PlayBar recording={chosen} picked={picked} />}
    </div>
  );
}
