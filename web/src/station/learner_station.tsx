// A learner at a station: name, waiting, the encounter with the truth hidden, the end, and later the mark.
import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Bedside } from '../bedside/bedside';
import { loadVocabulary, type Vocabulary } from '../bedside/patients';
import { Encounter, type KeptEncounter } from '../bedside/session';
import type { Learner, ServedEncounter } from '../class/types';
import { fetchModule } from '../engine/engine';
import type { LogEntry } from '../generated/bedside';
import { getJson, getText, postJson } from '../lib/api';
import { isUnderWay, session } from '../lib/session';
import { get } from '../lib/store';
import { type Arrived, arrived, TimeLeft } from './clock';
import { type Condition, loadConditions } from './conditions';
import { Finished } from './finished';
import { Ranking } from './ranking';
import { type Ending, Sender } from './sender';

export function LearnerStation() {
  const [served, setServed] = useState<Arrived | null>(null);
  const [isLoaded, setLoaded] = useState(false);
  const [trouble, setTrouble] = useState('');
  const stationId = session.value!.station_id;

  useEffect(() => {
    void fetchModule().catch(() => {/* told when it is needed */});
    getJson<Learner>('me').then(async (me) => {
      const mine = me.encounters.find((one) => one.station_id === stationId);
      if (mine) setServed(arrived(await getJson<ServedEncounter>(`encounters/${mine.id}`)));
      setLoaded(true);
    }).catch((error: Error) => {
      setTrouble(error.message);
      setLoaded(true);
    });
  }, [stationId]);

  const begin = async () => {
    setTrouble('');
    try {
      setServed(arrived(await postJson<ServedEncounter>('encounters', { station_id: stationId })));
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  if (served) return <UnderWay key={served.id} served={served} />;
  return (
    <div class="narrow stack">
      <h1>Ready, {session.value!.person!.name}?</h1>
      {!isLoaded ? <p class="soft" role="status">One moment …</p> : (
        <div class="card stack">
          <p>
            Earphones in, volume low. You meet one patient: examine, say what you find, act, listen again, hand over.
          </p>
          <ul>
            <li>The clock starts when you press Begin and cannot be stopped.</li>
            <li>If the line drops, go on: everything is kept on this device and sent later.</li>
            <li>Press “I am finished” at the end. The result comes when your instructor releases it.</li>
          </ul>
          {trouble && <p class="notice" role="alert">{trouble}</p>}
          <div class="main-action">
            <button class="main" onClick={() => {
              void begin();
            }}>
              Begin
            </button>
          </div>
        </div>
      )}
    </div>
  );
}

interface Held {
  encounter: Encounter;
  sender: Sender;
  words: Vocabulary;
  conditions: readonly Condition[];
  close: () => void;
}

// In a station no text tutors: a treatment is its name, a sound is its name.
function untutored(words: Vocabulary): Vocabulary {
  return {
    sites: words.sites,
    kinds: words.kinds.map((one) => ({ ...one, meaning: '' })),
    treatments: words.treatments.map((one) => ({ ...one, effect: '', expect: '', caution: '', protocol: '' })),
  };
}

async function hold(served: ServedEncounter): Promise<Held> {
  const { person } = served.patient;
  const [words, conditions] = await Promise.all([loadVocabulary().then(untutored),
    loadConditions(person.age_years, person.sex)]);
  const seed = Number(served.seed);
  if (!Number.isSafeInteger(seed)) {
    throw new Error(
      'This station was made with a seed that browsers cannot count to. Ask your instructor to make it again.',
    );
  }
  const kept = await get<KeptEncounter>('encounters', served.id).catch(() => undefined);
  const prepared = { id: `station ${served.id}`, ...served.patient, conditions: [], teaching_points: [] };
  const encounter = new Encounter(served.id, prepared, seed, words.sites, words.kinds,
    new Date(served.started_ms).toISOString());
  let numStored = 0;
  if (kept) encounter.restore(kept);
  else if (served.actions > 0) { // begun on another device: the patient goes on as the server's log has it
    const log = (await getText(`encounters/${served.id}/log`)).split('\n').slice(1).filter(Boolean).map((line) =>
      JSON.parse(line) as LogEntry
    );
    numStored = log.length;
    encounter.restore({ ...encounter.kept(), log, left_s: served.last_t });
  }
  if (served.has_ended) encounter.isEnded.value = true;
  const actions: LogEntry[] = [];
  const sender = new Sender(`encounters/${served.id}`, actions, numStored);
  if (served.has_ended) sender.isFinished.value = true;
  const stop = effect(() => {
    const log = encounter.log.value;
    if (sender.isFinished.peek()) return;
    const end = log.find((one) => one.do === 'end');
    const deeds = end ? log.slice(0, log.indexOf(end)) : log;
    actions.push(...deeds.slice(actions.length));
    if (end) sender.finish(endingOf(encounter, end));
    else sender.poke();
  });
  const stopWatching = effect(() => {
    isUnderWay.value = !sender.isFinished.value && sender.refused.value !== 'over';
  });
  const stopClosing = effect(() => {
    if (sender.refused.value === 'over') void encounter.end();
  });
  return { encounter, sender, words, conditions, close: () => {
    stop();
    stopClosing();
    stopWatching();
    isUnderWay.value = false;
    sender.close();
  } };
}

// What the monitor showed at the end goes along, to be compared with the replay.
function endingOf(encounter: Encounter, { id, t }: LogEntry): Ending {
  const now = encounter.now.peek();
  return { id, t, ...(now && Number.isFinite(now.vitals.spo2) // no reading: no pulse
    ? {
      claim: { monitor: { t: now.timeS, spo2_percent: now.vitals.spo2, heart_rate_per_min: now.vitals.heartPerMin } },
    }
    : {}) };
}

function UnderWay({ served }: { served: Arrived }) {
  const [held, setHeld] = useState<Held | null>(null);
  const [trouble, setTrouble] = useState('');
  const holding = useRef<Held | null>(null);
  useEffect(() => {
    let isGone = false;
    hold(served).then((made) => {
      if (isGone) {
        made.close();
        return;
      }
      holding.current = made;
      setHeld(made);
    }, (error: Error) => setTrouble(error.message));
    return () => {
      isGone = true;
      holding.current?.close();
    };
  }, [served.id]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Station</h1>
        <p class="notice" role="alert">{trouble}</p>
      </div>
    );
  }
  if (!held) return <h1>Station</h1>;
  const { encounter, sender } = held;
  return (
    <div class="stack">
      {!encounter.isEnded.value && (
        <div class="station-bar">
          <TimeLeft served={served} onOver={() => {
            void encounter.end();
          }} />
        </div>
      )}
      {served.instructions && !encounter.isEnded.value && <p class="notice">{served.instructions}</p>}
      {!encounter.isEnded.value && <Sending sender={sender} />}
      <Bedside encounter={encounter} treatments={held.words.treatments} examined={{
        configPath: `encounters/${served.id}/config`,
        hidesWords: !served.shows_words,
        weigh: <Ranking encounter={encounter} conditions={held.conditions} />,
        finished: <Finished served={served} sender={sender} />,
      }} />
    </div>
  );
}

function Sending({ sender }: { sender: Sender }) {
  if (sender.refused.value === 'refused') {
    return (
      <p class="notice" role="alert">
        The server did not take your last steps. They are kept on this device. Show this to your examiner.
      </p>
    );
  }
  if (sender.state.value === 'waiting') {
    return (
      <p class="notice" role="status">
        The line is down. Go on: {sender.numWaiting.value} step{sender.numWaiting.value === 1 ? '' : 's'}{' '}
        kept here, to be sent when it is back.
      </p>
    );
  }
  return null;
}
