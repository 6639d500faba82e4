// One key for each hand at the bedside; never while typing.
import { useEffect } from 'preact/hooks';
import { askable, aspects } from '../generated/bedside';
import type { Hand } from './bedside';
import type { Encounter } from './session';

export const keysInWords: [string, string][] = [
  ['Arrows', 'move the chestpiece (with Shift: small steps)'],
  ['Space', 'put it on the skin, or lift it'],
  ['o', 'same place on the other side'],
  ['n / p', 'next or previous site'],
  ['1 to 5', 'front, back, right side, left side, neck'],
  ['b', 'bell or diaphragm'],
  [askable.filter((one) => one.key).map((one) => one.key).join(', '),
    askable.filter((one) => one.key).map((one) => one.label.toLowerCase()).join(', ')],
  ['t', 'tap (percuss) here'],
  ['l, y, i, a, v, x, w, k', 'Listen, Percuss, Look, Ask, Monitor, Treat, Weigh, Explain'],
  ['.', 'pause'],
];

export function useBedsideKeys(encounter: Encounter,
  { press, setHand, isExamined }: { press: () => void; setHand: (hand: Hand) => void; isExamined: boolean }): void
{
  useEffect(() => {
    const handKeys: Record<string, Hand> = { l: 'Listen', y: 'Percuss', i: 'Look', a: 'Ask', v: 'Monitor', x: 'Treat',
      w: 'Weigh', k: 'Explain' };
    const actions: Record<string, () => void> = {
      o: () => encounter.otherSide(),
      n: () => encounter.nextSite(1),
      p: () => encounter.nextSite(-1),
      b: () => encounter.setBell(!encounter.isBell.peek()),
      t: () => encounter.percuss(),
      '.': () => {
        if (!isExamined) encounter.pause(!encounter.isPaused.peek());
      },
    };
    for (const { key, manoeuvre } of askable) if (key) actions[key] = () => encounter.ask(manoeuvre);
    aspects.forEach((aspect, i) => {
      actions[String(i + 1)] = () => encounter.show(aspect);
    });
    const onKey = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement;
      if (target.closest('input:not([type=range]):not([type=checkbox]),select,textarea') || event.ctrlKey ||
        event.metaKey || event.altKey) return;
      if (event.key === ' ' && target === document.body) {
        event.preventDefault();
        press();
        return;
      }
      const hand = handKeys[event.key];
      if (hand && !(isExamined && hand === 'Explain')) {
        setHand(hand);
        event.preventDefault();
        return;
      }
      const action = actions[event.key];
      if (action) {
        action();
        event.preventDefault();
      }
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
}
