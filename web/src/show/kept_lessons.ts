// Lessons made on this device, as the text that a file of them holds.
import { keep } from '../lib/settings';

export interface KeptLesson {
  id: string;
  text: string;
}
const kMost = 100;

export function keptLessons(): KeptLesson[] {
  try {
    const list = JSON.parse(localStorage.getItem('phren.lessons') ?? '[]') as unknown;
    return Array.isArray(list)
      ? list.filter((one): one is KeptLesson => typeof one?.id === 'string' && typeof one?.text === 'string')
      : [];
  } catch {
    return [];
  }
}
// Throws, in words, where it is not kept.
export function keepLesson(lesson: KeptLesson): void {
  const others = keptLessons().filter((one) => one.id !== lesson.id);
  if (others.length >= kMost) {
    throw new Error(`This device holds ${kMost} lessons, the most there may be: remove one, or save this as a file.`);
  }
  keep('lessons', JSON.stringify([...others, lesson]));
  if (keptLessons().find((one) => one.id === lesson.id)?.text !== lesson.text) {
    throw new Error('This device keeps nothing just now (a private window, or its storage is full): save the lesson ' +
      'as a file.');
  }
}
export function dropLesson(id: string): void {
  keep('lessons', JSON.stringify(keptLessons().filter((one) => one.id !== id)));
}
