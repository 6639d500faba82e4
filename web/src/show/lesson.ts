// A lesson: an ordered list of screens, kept as plain text (docs/formats/lesson.md).

export const comparisons = {
  sides: 'left against right',
  back: 'back against front',
  treatment: 'before against after treatment',
  clothing: 'bare against clothed',
  builds: 'thin, muscular, obese',
} as const;
export type Comparison = keyof typeof comparisons;
export type Screen =
  | { kind: 'sound'; sound: string }
  | { kind: 'row'; sounds: string[] }
  | { kind: 'compare'; how: Comparison; sound: string }
  | { kind: 'patient'; id: string };
export interface Noted {
  screen: Screen;
  note: string; // for the teacher; on the screen only when asked for
}
export interface Lesson {
  id: string;
  title: string;
  screens: Noted[];
}

const kHead = 'phren lesson 1';
const kMost = 200;
export const kMostNote = 400; // letters
const kWord = /^[a-z0-9_-]{1,200}$/;

export class LessonError extends Error {}

function screenOf(word: string, rest: string[], known: ReadonlySet<string>, fail: (what: string) => never): Screen {
  const sound = (id: string | undefined): string => {
    if (!id) fail(`“${word}” names no sound; write its id behind it, for example “${word} wheeze”`);
    if (!known.has(id!)) fail(`there is no sound “${id}”; there are ${[...known].join(', ')}`);
    return id!;
  };
  if (word === 'sound') return { kind: 'sound', sound: sound(rest[0]) };
  if (word === 'row') {
    if (rest.length < 2 || rest.length > 6) fail('a row holds two to six sounds');
    return { kind: 'row', sounds: rest.map(sound) };
  }
  if (word === 'compare') {
    const how = rest[0] as Comparison;
    if (!Object.hasOwn(comparisons, how ?? '')) {
      fail(`“compare ${rest[0] ?? ''}” is not known; it must be one of ${Object.keys(comparisons).join(', ')}`);
    }
    return { kind: 'compare', how, sound: sound(rest[1]) };
  }
  if (word === 'patient') {
    const id = rest[0] ?? '';
    if (!kWord.test(id)) fail('“patient” needs the id or the code of a patient behind it');
    return { kind: 'patient', id };
  }
  return fail(`“${word}” is not known here; a line begins with title, sound, row, compare, patient or note`);
}

// Errors say line, what is there and what would be right.
export function readLesson(id: string, text: string, sounds: readonly { id: string }[]): Lesson {
  const known = new Set(sounds.map((one) => one.id));
  const lesson: Lesson = { id, title: '', screens: [] };
  const lines = text.replace(/^\uFEFF/, '').split(/\r?\n/);
  const fail = (at: number) => (what: string): never => {
    throw new LessonError(`Line ${at + 1}: ${what}.`);
  };
  if (lines[0]?.trim() !== kHead) {
    fail(0)(`it says “${(lines[0] ?? '').slice(0, 40)}”; a lesson begins with “${kHead}”`);
  }
  lines.forEach((line, at) => {
    const words = line.trim();
    if (at === 0 || words === '' || words.startsWith('#')) return;
    const [word = '', ...rest] = words.split(/\s+/);
    const after = words.slice(word.length).trim().slice(0, kMostNote);
    if (word === 'title') lesson.title = after;
    else if (word === 'note') {
      const last = lesson.screens[lesson.screens.length - 1];
      if (!last) return fail(at)('a note belongs behind a screen');
      last.note = last.note ? last.note + ' ' + after : after;
    } else lesson.screens.push({ screen: screenOf(word, rest, known, fail(at)), note: '' });
    if (lesson.screens.length > kMost) fail(at)(`a lesson holds at most ${kMost} screens`);
  });
  if (!lesson.title) throw new LessonError('There is no line “title …”; give the lesson a title.');
  return lesson;
}

const lineOf = (one: Screen): string =>
  one.kind === 'sound'
    ? `sound ${one.sound}`
    : one.kind === 'row'
    ? `row ${one.sounds.join(' ')}`
    : one.kind === 'compare'
    ? `compare ${one.how} ${one.sound}`
    : `patient ${one.id}`;

export const writeLesson = (lesson: Lesson): string =>
  [kHead, `title ${lesson.title.replace(/\s+/g, ' ')}`, '', ...lesson.screens.flatMap((
    { screen, note },
  ) => [lineOf(screen), ...(note ? [`note ${note.replace(/\s+/g, ' ')}`] : [])]), ''].join('\n');
