// Takes by what is wished for: made ahead in a worker, the one that is needed now first, and kept while the page is
// open.
import { signal } from '@preact/signals';
import { mirrored, type Place } from '../chest/geometry';
import type { Site } from '../chest/landmarks';
import { fetchModule } from '../engine/engine';
import { getBytes } from '../lib/api';
import type { FromMaker, Take, ToMaker, Wish } from './take_worker';
import workerUrl from './take_worker?worker&url';
import type { Shown, ShowSound } from './types';

// One thing to hear and see: a sound as it is, or one half of a comparison.
export interface Part {
  sound: ShowSound;
  label: string; // what is different here
  site: Site;
  build: string;
  seed: number;
  isBare: boolean;
  isTreated: boolean;
}

const kMostKept = 64;
const keyOf = (part: Part): string => [part.sound.id, part.site.id, part.build, part.isBare, part.isTreated].join(' ');

export const made = signal<ReadonlyMap<string, Take>>(new Map());
export const makingTrouble = signal('');
const wanted: Part[] = [];
let worker: Worker | null = null;
let isBusy = false;

function start(): Worker {
  if (worker) return worker;
  worker = new Worker(workerUrl, { type: 'module' });
  worker.onmessage = ({ data }: MessageEvent<FromMaker>) => {
    isBusy = false;
    if (data.say === 'failed') makingTrouble.value = data.message;
    else {
      makingTrouble.value = '';
      const kept = [...made.value].slice(-kMostKept + 1);
      made.value = new Map([...kept, [data.take.key, data.take]]);
    }
    void next();
  };
  worker.onerror = () => {
    isBusy = false;
    makingTrouble.value = 'The sound could not be made: the page’s worker did not start. Load the page again.';
  };
  return worker;
}
// The engine goes to the worker once, before anything that it is to make.
let isGiven = false;
async function giveModule(): Promise<void> {
  const wasm = await fetchModule();
  if (!isGiven) start().postMessage({ do: 'module', wasm } satisfies ToMaker);
  isGiven = true;
}

const packets = new Map<string, Promise<ArrayBuffer>>();
function packetOf(part: Part): Promise<ArrayBuffer> {
  const path = `show/${part.sound.id}/config/${part.build}`;
  let packet = packets.get(path);
  if (!packet) {
    packet = getBytes(path);
    packets.set(path, packet);
    packet.catch(() => packets.delete(path));
  }
  return packet;
}

async function next(): Promise<void> {
  if (isBusy) return;
  const part = wanted.shift();
  if (!part) return;
  const key = keyOf(part);
  if (made.value.has(key)) return next();
  isBusy = true;
  try {
    const [packet] = await Promise.all([packetOf(part), giveModule()]);
    const { sound } = part;
    const wish: Wish = { key, packet: packet.slice(0), seed: part.seed,
      place: { aspect: part.site.aspect, u: part.site.u, v: part.site.v }, manoeuvre: sound.manoeuvre,
      isTapped: sound.is_tapped, isBare: part.isBare, sound: sound.sound,
      seconds: sound.is_tapped ? 4.5 : Math.max(13, sound.seconds),
      treatment: part.isTreated ? sound.treatment : null };
    start().postMessage({ do: 'make', wish } satisfies ToMaker);
  } catch (error) {
    isBusy = false;
    makingTrouble.value = (error as Error).message;
  }
}

// These next, in this order, before whatever was waited for until now.
export function want(parts: readonly Part[]): void {
  const keys = new Set(parts.map(keyOf));
  const rest = wanted.filter((one) => !keys.has(keyOf(one)));
  wanted.length = 0;
  wanted.push(...parts, ...rest);
  void next();
}
export const takeOf = (part: Part): Take | undefined => made.value.get(keyOf(part));

// ---- parts ----

const siteOf = (shown: Shown, id: string): Site => shown.sites.find((one) => one.id === id) ?? shown.sites[0]!;
export const plainPart = (shown: Shown, sound: ShowSound): Part => ({ sound, label: '',
  site: siteOf(shown, sound.site_id), build: 'own', seed: shown.seed, isBare: true, isTreated: false });

// The place on the other face of the chest, on the same side, that is nearest in height.
function behind(shown: Shown, site: Site): Site | null {
  if (site.side === 'midline') return null;
  const wanted = site.aspect === 'back' ? 'front' : 'back';
  const there = shown.sites.filter((one) => one.aspect === wanted && one.side === site.side);
  return there.sort((a, b) => Math.abs(a.v - site.v) - Math.abs(b.v - site.v))[0] ?? null;
}
function across(shown: Shown, site: Site): Site | null {
  const to = mirrored({ aspect: site.aspect, u: site.u, v: site.v } as Place);
  return shown.sites.find((one) =>
    one.id !== site.id && one.aspect === to.aspect && Math.abs(one.u - to.u) < 0.11 &&
    Math.abs(one.v - to.v) < 0.06
  ) ?? null;
}

// Empty where the comparison makes no sense for this sound.
export function partsOf(shown: Shown, sound: ShowSound, how: string): Part[] {
  const plain = plainPart(shown, sound);
  const with_ = (label: string, change: Partial<Part>): Part => ({ ...plain, ...change, label });
  if (how === 'sides') {
    const other = across(shown, plain.site);
    if (!other) return [];
    const pair = [with_(plain.site.name, {}), with_(other.name, { site: other })];
    return plain.site.side === 'left' ? pair : pair.reverse(); // the patient's left, then right
  }
  if (how === 'back') {
    const other = behind(shown, plain.site);
    if (!other) return [];
    const pair = [with_(plain.site.name, {}), with_(other.name, { site: other })];
    return plain.site.aspect === 'back' ? pair : pair.reverse();
  }
  if (how === 'treatment') {
    if (!sound.treatment) return [];
    const { id, minutes } = sound.treatment;
    const label = shown.treatments.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
    return [with_('before', {}), with_(`${minutes} min after: ${label}`, { isTreated: true })];
  }
  if (how === 'clothing') {
    return sound.is_tapped
      ? []
      : [with_('on the skin', {}), with_('over a jacket', { isBare: false })];
  }
  if (how === 'builds') {
    return shown.builds.filter((one) => one.is_compared).map((one) => with_(one.label, { build: one.id }));
  }
  return [];
}
