// "#/build": exactly the patient one needs; "…/ID" to change a kept one, "…/copy/ID" to begin from another.
import { useEffect, useMemo, useState } from 'preact/hooks';
import { DrawForm } from '../bedside/draw_form';
import { loadVocabulary, type Vocabulary } from '../bedside/patients';
import { bodyOf } from '../bedside/types';
import { BodyView } from '../body/body_view';
import { toneOf } from '../body/tones';
import { ChestView } from '../chest/chest_view';
import type { Body } from '../chest/geometry';
import { AskFirst } from '../class/ask_first';
import { settingFor } from '../generated/bedside';
import { getJson, Trouble } from '../lib/api';
import { address, go, route } from '../lib/route';
import { save } from '../lib/save';
import { session } from '../lib/session';
import { loadShow, type Shown } from '../show/types';
import { type ConditionKind, Conditions } from './conditions';
import { type Draft, newDraft, plainTitle, type ReadDraft, toToml } from './draft';
import { dropOnServer, dropPatient, keepOnServer, keepPatient, keptPatient, newCode, readPatient,
  textOnServer } from './kept_patients';
import { PersonFields } from './person';
import { Preview } from './preview';
import { Around, Story } from './scene';
import './build.css';

interface Known {
  shown: Shown;
  kinds: ConditionKind[];
  words: Vocabulary;
}
const teaches = (): boolean => {
  const person = session.value?.person;
  return person !== null && person !== undefined && person.role !== 'learner';
};
// Only what the form holds: a read draft brings more.
function draftOf(read: ReadDraft): Draft {
  const { age_years, sex, height_cm, weight_kg, muscle } = read.person;
  return { title: read.title, story: read.story, teaching_points: read.teaching_points, setting: read.setting,
    posture: read.posture, clothing: read.clothing, room: read.room, minutes_before: read.minutes_before,
    person: { age_years, sex, height_cm, weight_kg, muscle }, conditions: read.conditions, treatments: read.treatments,
    told: read.told };
}

export function BuildPlace() {
  const [known, setKnown] = useState<Known | null>(null);
  const [begin, setBegin] = useState<{ draft: Draft; id: string } | null>(null);
  const [trouble, setTrouble] = useState('');
  const [, first, second] = route.value;
  useEffect(() => {
    Promise.all([loadShow(), getJson<{ conditions: ConditionKind[] }>('conditions'), loadVocabulary()])
      .then(([shown, { conditions }, words]) => setKnown({ shown, kinds: conditions, words }),
        (error: Error) => setTrouble(error.message));
  }, []);
  useEffect(() => {
    if (!known) return;
    setTrouble('');
    const from = first === 'copy' ? second : first;
    if (!from) {
      setBegin({ draft: newDraft(known.shown), id: newCode() });
      return;
    }
    const text = keptPatient(from)?.text;
    (text !== undefined ? Promise.resolve(text) : textOnServer(from)).then(readPatient).then(
      (read) => setBegin({ draft: draftOf(read), id: first === 'copy' ? newCode() : from }),
      (error: Error) => setTrouble(error.message),
    );
  }, [known, first, second]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Build a patient</h1>
        <p class="notice" role="alert">{trouble}</p>
        <a href="#/build">Begin with a new one</a>
      </div>
    );
  }
  if (!known || !begin) return <h1>Build a patient</h1>;
  return <Builder key={begin.id} known={known} begin={begin} />;
}

function Builder({ known, begin }: { known: Known; begin: { draft: Draft; id: string } }) {
  const { id } = begin;
  const [draft, setDraft] = useState(begin.draft);
  const [trouble, setTrouble] = useState('');
  const [isKept, setKept] = useState(keptPatient(id) !== undefined);
  const [code, setCode] = useState('');
  const [way, setWay] = useState<'exact' | 'chance'>('exact');
  const change = (to: Partial<Draft>) => {
    setCode('');
    setDraft({ ...draft, ...to });
  };
  const text = useMemo(() => toToml(draft), [draft]);
  const title = draft.title.trim() || plainTitle(draft);

  // Read by the server before it is kept, so that what is kept can be played.
  const keepIt = async (): Promise<boolean> => {
    try {
      await readPatient(text);
      if (teaches()) await keepOnServer(id, text);
      try {
        keepPatient({ id, title, text });
      } catch (error) {
        if (!teaches()) throw error; // the folder has it
        dropPatient(id); // what is older here must not come before that
      }
      setKept(true);
      setTrouble('');
      return true;
    } catch (error) {
      setTrouble((error as Error).message);
      return false;
    }
  };
  const open = async (file: File | undefined) => {
    if (!file) return;
    try {
      if (file.size > 1 << 16) throw new Error('a case is at most 64 kB long');
      setDraft(draftOf(await readPatient(await file.text())));
      setTrouble('');
    } catch (error) {
      setTrouble(`${file.name}: ${(error as Error).message}`);
    }
  };
  return (
    <div class="stack build">
      <div class="row">
        <h1 class="grow">Build a patient</h1>
        <label class="file-button">
          Open a file
          <input class="unseen" type="file" accept=".toml" onChange={(event) => {
            void open(event.currentTarget.files?.[0]);
            event.currentTarget.value = '';
          }} />
        </label>
      </div>
      <div class="choices" role="group" aria-label="How">
        <button aria-pressed={way === 'exact'} onClick={() => setWay('exact')}>Exactly this one</button>
        <button aria-pressed={way === 'chance'} onClick={() => setWay('chance')}>Anyone within limits</button>
      </div>
      {way === 'chance' ? <DrawForm /> : (
        <div class="two">
          <form class="stack" onSubmit={(event) => event.preventDefault()}>
            {trouble && <p class="notice" role="alert">{trouble}</p>}
            <PersonFields shown={known.shown} person={draft.person}
              onChange={(person) => change({ person, setting: settingFor(person.age_years) })} />
            <Conditions kinds={known.kinds} ageYears={draft.person.age_years} chosen={draft.conditions}
              onChange={(conditions) => change({ conditions })} />
            <Around draft={draft} onChange={change} />
            <Story draft={draft} kinds={known.words.kinds} plain={plainTitle(draft)} onChange={change} />
            <div class="main-action">
              <button type="button" class="main" onClick={() => {
                void keepIt().then((isGood) => isGood && go('bedside', id));
              }}>
                Play
              </button>
              <button type="button" onClick={() => {
                void keepIt().then((isGood) => setCode(isGood ? id : ''));
              }}>
                Keep{teaches() ? ' and share' : ''}
              </button>
              <button type="button" onClick={() =>
                save(`${title.replace(/[^\p{L}\p{N}]+/gu, '-').slice(0, 40)}.toml`,
                  new Blob([text], { type: 'application/toml' }))}
              >
                Save as a file
              </button>
              {isKept && (
                <AskFirst words="Remove" no="Keep it" ask="Remove this patient from this device and from the folder?"
                  onYes={async () => {
                    try {
                      if (teaches()) await dropOnServer(id);
                    } catch (error) {
                      // On this device only it may well have been; one in a station stays.
                      if (!(error instanceof Trouble) || error.status !== 404) {
                        setTrouble((error as Error).message);
                        return;
                      }
                    }
                    dropPatient(id);
                    go('bedside');
                  }} />
              )}
            </div>
            {code && <Shared code={code} />}
          </form>
          <div class="stack build-preview">
            <Seen text={text} />
            <Preview text={text} onTrouble={setTrouble} />
          </div>
        </div>
      )}
    </div>
  );
}

function Shared({ code }: { code: string }) {
  const link = `${location.origin}/${address('bedside', code)}`;
  return (
    <p class="card" role="status">
      Kept. {teaches()
        ? (
          <>
            Its code tells nothing: <strong class="figures">{code}</strong>. Who opens <a href={link}>{link}</a>{' '}
            or types the code at the Bedside meets this patient.
          </>
        )
        : 'It is on this device only; an instructor who logs in can share it by a code. A file goes anywhere.'}
    </p>
  );
}

// The person to look at, drawn as it will be at the Bedside.
function Seen({ text }: { text: string }) {
  const [body, setBody] = useState<Body | null>(null);
  useEffect(() => {
    let isHere = true;
    const timer = setTimeout(() => {
      readPatient(text).then((read) => isHere && setBody(bodyOf(read.case.person)), () => {/* told beside the form */});
    }, 400);
    return () => {
      isHere = false;
      clearTimeout(timer);
    };
  }, [text]);
  const none: ReadonlySet<string> = new Set();
  const place = { aspect: 'front', u: -0.6, v: 0.45 } as const;
  if (!body) return <div class="build-body" />;
  return (
    <div class="build-body">
      <BodyView body={body} tone={toneOf(3)} place={place} isPressed={false} isBell={false} lying={0} isClothed={false}
        mayLookThrough={false} sites={[]} markedSites={none} heardSites={none} mayLoad live={() => null}
        onMove={() => {/* only to look at */}} onPress={() => {/* only to look at */}}
      >
        <ChestView body={body} aspect="front" place={place} isPressed={false} isBell={false} isClothed={false}
          sites={[]} markedSites={none} heardSites={none} onMove={() => {/* only to look at */}}
          onPress={() => {/* only to look at */}} />
      </BodyView>
    </div>
  );
}
