// Theme and size: kept on this device, applied to the root element.
import { effect, signal } from '@preact/signals';

export type Theme = 'paper' | 'night';
export type Size = 'hand' | 'hall';

function kept<T extends string>(key: string, allowed: readonly T[], otherwise: T): T {
  try {
    const value = localStorage.getItem('phren.' + key) as T | null;
    return value !== null && allowed.includes(value) ? value : otherwise;
  } catch {
    return otherwise; // storage refused: the setting lasts as long as the page
  }
}

export function keep(key: string, value: string): void {
  try {
    localStorage.setItem('phren.' + key, value);
  } catch { /* storage refused */ }
}

const prefersNight = matchMedia('(prefers-color-scheme: dark)').matches;
export const theme = signal<Theme>(kept('theme', ['paper', 'night'], prefersNight ? 'night' : 'paper'));
export const size = signal<Size>(kept('size', ['hand', 'hall'], 'hand'));

effect(() => {
  document.documentElement.dataset['theme'] = theme.value;
  keep('theme', theme.value);
});
effect(() => {
  document.documentElement.dataset['size'] = size.value;
  keep('size', size.value);
});
