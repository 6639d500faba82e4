// Drawn patients (docs/formats/draw.md): the id says everything, so drawing is choosing a number.
import { getBytes, getJson, Trouble } from '../lib/api';
import { keep } from '../lib/settings';
import type { CaseSummary } from './types';

export interface Level {
  id: string;
  label: string;
  meaning: string;
}

export const newSeed = (): number => crypto.getRandomValues(new Uint32Array(1))[0]!;
// For a station: from 2^52 on, so that nobody finds its patient by trying numbers.
export const newStationSeed = (): number => {
  const [high, low] = crypto.getRandomValues(new Uint32Array(2));
  return 2 ** 52 + (high! & 0xfffff) * 2 ** 32 + low!;
};
export const isDrawn = (id: string): boolean => /^(surprise|random)-/.test(id);
// The patient of a drawn case takes the number it was drawn with.
export const seedIn = (id: string): number | null => (isDrawn(id) ? Number(/(\d+)$/.exec(id)?.[1] ?? 0) : null);

export interface Limits {
  fromYears: number;
  toYears: number;
  build: string;
  fromPercent: number;
  toPercent: number;
  most: number;
  conditions: string[];
  seed: number;
}
export const randomId = (one: Limits): string =>
  ['random', `a${one.fromYears}_${one.toYears}`, `b${one.build}`, `s${one.fromPercent}_${one.toPercent}`,
    `n${one.most}`, ...[...one.conditions].sort().map((id) => 'c' + id), String(one.seed)].join('-');

// Some surprises are asked for ahead, so that there are new patients when the network is gone.
const kAhead = 4;
const keptIds = (): string[] => {
  try {
    return JSON.parse(localStorage.getItem('phren.drawn') ?? '[]') as string[];
  } catch {
    return [];
  }
};
const fetchDrawn = (id: string) => Promise.all([getJson(`cases/${id}`), getBytes(`cases/${id}/config`)]);

// A fresh one while the server is there; else one of those asked for ahead, each used once until none is left.
export async function surprise(levelId: string): Promise<string> {
  const id = `surprise-${levelId}-${newSeed()}`;
  try {
    await fetchDrawn(id);
    return id;
  } catch (error) {
    if (!(error as Trouble).isOffline) throw error;
  }
  const kept = keptIds();
  const ready = kept.find((one) => one.startsWith(`surprise-${levelId}-`));
  if (!ready) {
    throw new Trouble(
      'The server cannot be reached, and no new patient of this level is kept on this device. The ' +
        'prepared patients below are.',
      true,
    );
  }
  keep('drawn', JSON.stringify([...kept.filter((one) => one !== ready), ready]));
  return ready;
}

// Asking for each patient once lets the service worker keep them for when the network is gone.
export async function keepForOffline(cases: readonly CaseSummary[], levels: readonly Level[]): Promise<void> {
  if (!navigator.serviceWorker?.controller) return;
  await getJson('conditions').catch(() => {/* only a copy */});
  for (const one of cases) await fetchDrawn(encodeURIComponent(one.id)).catch(() => {/* only a copy */});
  let kept = keptIds();
  for (const level of levels) {
    for (let missing = kAhead - kept.filter((one) => one.startsWith(`surprise-${level.id}-`)).length; missing > 0;
      missing--)
    {
      const id = `surprise-${level.id}-${newSeed()}`;
      try {
        await fetchDrawn(id);
      } catch {
        return;
      }
      kept = [...kept, id];
      keep('drawn', JSON.stringify(kept));
    }
  }
}
