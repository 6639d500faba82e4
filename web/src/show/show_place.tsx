// "#/show": lessons to open or make; "…/LESSON/SCREEN": the projector; "…/edit/LESSON": the order of a lesson.
import { useEffect, useState } from 'preact/hooks';
import { fetchModule } from '../engine/engine';
import { newId } from '../lib/new_id';
import { address, go, route } from '../lib/route';
import { keepLesson, keptLessons } from './kept_lessons';
import { type Lesson, readLesson, writeLesson } from './lesson';
import { LessonEditor } from './lesson_editor';
import { Stage } from './stage';
import { loadShow, type Shown } from './types';
import './show.css';

const kAll = 'all';
// Every sound in the order of the data, for who has no lesson.
const allSounds = (shown: Shown): Lesson => ({ id: kAll, title: 'All sounds',
  screens: shown.sounds.map((one) => ({ screen: { kind: 'sound', sound: one.id }, note: '' })) });

function find(shown: Shown, id: string): Lesson {
  if (id === kAll) return allSounds(shown);
  const found = [...keptLessons(), ...shown.lessons].find((one) => one.id === id);
  if (!found) throw new Error('That lesson is not on this device. Open its file, or choose another one.');
  return readLesson(found.id, found.text, shown.sounds);
}

export function ShowPlace() {
  const [shown, setShown] = useState<Shown | null>(null);
  const [trouble, setTrouble] = useState('');
  const [, first, second] = route.value;
  useEffect(() => {
    loadShow().then(setShown, (error: Error) => setTrouble(error.message));
    void fetchModule().catch(() => {/* told when it is needed */});
  }, []);
  if (!shown) {
    return (
      <div class="stack">
        <h1>Show</h1>
        {trouble ? <p class="notice" role="alert">{trouble}</p> : <p class="loading">Getting the sounds</p>}
      </div>
    );
  }
  if (!first) return <Lessons shown={shown} />;
  try {
    if (first === 'edit') {
      const lesson = second ? find(shown, second) : { id: newId(), title: '', screens: [] };
      return <LessonEditor key={second ?? ''} shown={shown} lesson={lesson} />;
    }
    return <Stage key={first} shown={shown} lesson={find(shown, first)} start={Math.max(0, Number(second) || 0)} />;
  } catch (error) {
    return (
      <div class="stack">
        <h1>Show</h1>
        <p class="notice" role="alert">{(error as Error).message}</p>
        <a href="#/show">All lessons</a>
      </div>
    );
  }
}

function titleIn(text: string): string {
  return /^title (.*)$/m.exec(text)?.[1] ?? 'A lesson';
}
const countIn = (text: string): number => (text.match(/^(sound|row|compare|patient) /gm) ?? []).length;

function Lessons({ shown }: { shown: Shown }) {
  const [trouble, setTrouble] = useState('');
  const [own, setOwn] = useState(keptLessons());
  const open = async (file: File | undefined) => {
    if (!file) return;
    setTrouble('');
    try {
      if (file.size > 1 << 16) throw new Error('a lesson is a short text, at most 64 kB');
      const lesson = readLesson(newId(), await file.text(), shown.sounds);
      keepLesson({ id: lesson.id, text: writeLesson(lesson) });
      setOwn(keptLessons());
      go('show', lesson.id);
    } catch (error) {
      setTrouble(`${file.name}: ${(error as Error).message}`);
    }
  };
  const card = (one: { id: string; text: string }) => (
    <li class="show-card">
      <a class="case" href={address('show', one.id)}>
        <strong>{titleIn(one.text)}</strong>
        <span class="soft small">{countIn(one.text)} screens</span>
      </a>
      <a class="small" href={address('show', 'edit', one.id)}>Change{shown.lessons.includes(one) ? ' a copy' : ''}</a>
    </li>
  );
  return (
    <div class="stack">
      <h1>Show a sound to the room</h1>
      <p class="lead">
        One sound on the whole screen: hear it, see it, why it arises, what it is taken for. Arrow keys or a presenter’s
        remote go on.
      </p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="row">
        <a class="main-link show-start" href={address('show', shown.lessons[0]?.id ?? kAll)}>Start the first lesson</a>
        <a class="button-link" href={address('show', kAll)}>All {shown.sounds.length} sounds</a>
      </div>
      {own.length > 0 && (
        <section class="stack">
          <h2>Your lessons</h2>
          <ul class="plain-list cases">{own.map(card)}</ul>
        </section>
      )}
      <section class="stack">
        <h2>Lessons that come with Phren</h2>
        <ul class="plain-list cases">{shown.lessons.map(card)}</ul>
      </section>
      <div class="row">
        <a class="button-link" href={address('show', 'edit')}>Make a lesson</a>
        <label class="file-button">
          Open a lesson’s file
          <input class="unseen" type="file" accept=".txt,text/plain" onChange={(event) => {
            void open(event.currentTarget.files?.[0]);
            event.currentTarget.value = '';
          }} />
        </label>
      </div>
    </div>
  );
}
