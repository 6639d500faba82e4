// The order of a lesson: screens put in, moved, noted on and taken out; kept on this device, saved as a file.
import { useEffect, useState } from 'preact/hooks';
import type { CaseSummary } from '../bedside/types';
import { getJson } from '../lib/api';
import { newId } from '../lib/new_id';
import { go } from '../lib/route';
import { save } from '../lib/save';
import { dropLesson, keepLesson, keptLessons } from './kept_lessons';
import { type Comparison, comparisons, type Lesson, type Noted, type Screen, writeLesson } from './lesson';
import { partsOf } from './takes';
import { type Shown, soundOf } from './types';

export function LessonEditor({ shown, lesson }: { shown: Shown; lesson: Lesson }) {
  const isOwn = keptLessons().some((one) => one.id === lesson.id);
  // A lesson that comes with Phren stays as it is: a copy is changed.
  const [id] = useState(isOwn || lesson.title === '' ? lesson.id : newId());
  const [title, setTitle] = useState(lesson.title && !isOwn ? `${lesson.title} (mine)` : lesson.title);
  const [screens, setScreens] = useState<readonly Noted[]>(lesson.screens);
  const [cases, setCases] = useState<CaseSummary[]>([]);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ cases: CaseSummary[] }>('cases').then((answer) => setCases(answer.cases),
      (error: Error) => setTrouble(error.message));
  }, []);
  const now: Lesson = { id, title: title.trim(), screens: [...screens] };
  const words = (one: Screen): string =>
    one.kind === 'sound'
      ? soundOf(shown, one.sound).name
      : one.kind === 'compare'
      ? `${soundOf(shown, one.sound).name}: ${comparisons[one.how]}`
      : one.kind === 'row'
      ? `In a row: ${one.sounds.map((sound) => soundOf(shown, sound).name).join(', ')}`
      : `Live: ${cases.find((known) => known.id === one.id)?.title ?? one.id}`;
  const add = (screen: Screen) => setScreens([...screens, { screen, note: '' }]);
  const change = (at: number, to: Noted | null) =>
    setScreens(to ? screens.map((one, i) => (i === at ? to : one)) : screens.filter((_, i) => i !== at));
  const move = (at: number, by: 1 | -1) => {
    const next = [...screens], [one] = next.splice(at, 1);
    next.splice(at + by, 0, one!);
    setScreens(next);
  };
  const isFit = (): boolean => {
    if (!now.title) setTrouble('Give the lesson a title.');
    else if (screens.length === 0) setTrouble('Put at least one screen in.');
    else return true;
    return false;
  };
  const keepIt = (): boolean => {
    if (!isFit()) return false;
    try {
      keepLesson({ id, text: writeLesson(now) });
    } catch (error) {
      setTrouble((error as Error).message);
      return false;
    }
    setTrouble('');
    return true;
  };
  return (
    <div class="stack show-edit">
      <h1>{isOwn ? 'Change the lesson' : 'Make a lesson'}</h1>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <label class="field">
        Title
        <input type="text" maxLength={120} value={title} onInput={(event) => setTitle(event.currentTarget.value)} />
      </label>
      <div class="two">
        <section class="stack">
          <h2>Screens, in their order</h2>
          {screens.length === 0 && (
            <div class="empty">
              <strong>No screens yet</strong>Choose what to put in.
            </div>
          )}
          <ol class="show-order">
            {screens.map((one, i) => (
              <li class="card">
                <strong>{words(one.screen)}</strong>
                <span class="row">
                  <button aria-label={`Move ${words(one.screen)} up`} disabled={i === 0} onClick={() => move(i, -1)}>
                    ↑
                  </button>
                  <button aria-label={`Move ${words(one.screen)} down`} disabled={i === screens.length - 1}
                    onClick={() => move(i, 1)}
                  >
                    ↓
                  </button>
                  <button onClick={() => change(i, null)}>Take out</button>
                </span>
                <input type="text" class="show-note" aria-label="Your note" placeholder="a note for yourself"
                  maxLength={400} value={one.note} onInput={(event) =>
                  change(i, { ...one, note: event.currentTarget.value })} />
              </li>
            ))}
          </ol>
        </section>
        <Adding shown={shown} cases={cases} onAdd={add} />
      </div>
      <div class="main-action">
        <button class="main" onClick={() => {
          if (keepIt()) go('show', id);
        }}>
          Keep it and show it
        </button>
        <button onClick={() => {
          if (keepIt()) go('show');
        }}>
          Keep it
        </button>
        <button onClick={() => {
          if (isFit()) {
            save(`${now.title.replace(/[^\p{L}\p{N}]+/gu, '-').slice(0, 40)}.txt`,
              new Blob([writeLesson(now)], { type: 'text/plain' }));
          }
        }}>
          Save as a file
        </button>
        {isOwn && (
          <button onClick={() => {
            dropLesson(id);
            go('show');
          }}>
            Remove
          </button>
        )}
      </div>
    </div>
  );
}

function Adding(
  { shown, cases, onAdd }: { shown: Shown; cases: readonly CaseSummary[]; onAdd: (screen: Screen) => void },
) {
  const [sound, setSound] = useState(shown.sounds[0]!.id);
  const [row, setRow] = useState<readonly string[]>([]);
  const [patient, setPatient] = useState('');
  const hows = (Object.keys(comparisons) as Comparison[]).filter((how) =>
    partsOf(shown, soundOf(shown, sound), how).length > 0
  );
  return (
    <section class="stack">
      <h2>Put in</h2>
      <label class="field">
        A sound
        <select value={sound} onChange={(event) => setSound(event.currentTarget.value)}>
          {shown.sounds.map((one) => <option value={one.id}>{one.name}</option>)}
        </select>
      </label>
      <div class="row">
        <button onClick={() => onAdd({ kind: 'sound', sound })}>On the whole screen</button>
        {hows.map((how) => <button onClick={() => onAdd({ kind: 'compare', how, sound })}>{comparisons[how]}</button>)}
        <button disabled={row.length >= 6 || row.includes(sound)} onClick={() => setRow([...row, sound])}>
          Into a row
        </button>
      </div>
      {row.length > 0 && (
        <div class="row">
          <span>Row: {row.map((id) => soundOf(shown, id).name).join(', ')}</span>
          <button disabled={row.length < 2} onClick={() => {
            onAdd({ kind: 'row', sounds: [...row] });
            setRow([]);
          }}>
            Put the row in
          </button>
          <button onClick={() => setRow([])}>Empty it</button>
        </div>
      )}
      <label class="field">
        A live patient
        <select value={patient} onChange={(event) => setPatient(event.currentTarget.value)}>
          <option value="">choose</option>
          {cases.map((one) => <option value={one.id}>{one.title}</option>)}
        </select>
      </label>
      <div class="row">
        <button disabled={!patient} onClick={() => onAdd({ kind: 'patient', id: patient })}>Put the patient in</button>
      </div>
    </section>
  );
}
