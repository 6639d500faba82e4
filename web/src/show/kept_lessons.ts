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
export function keepLesson(lesson: KeptLesson): void {
  keep('lessons', JSON.stringify([...keptLessons().filter((one) => one.id !== lesson.id), lesson].slice(-kMost)));
}
export function dropLesson(id: string): void {
  keep('lessons', JSON.stringify(keptLessons().filter((one) => one.id !== id)));
}
