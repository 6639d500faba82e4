// Makes takes beside the page: a few breaths of one body at one place, with what the airways did meanwhile and a
// spectrogram, ready to play at a key press.
import type { Place } from '../chest/geometry';
import { BedsideModule } from '../engine/module';
import { Spectrum } from '../explain/spectrum';
import type { Deed, HeardEvent, Manoeuvre, Now, Side } from '../generated/bedside';

export interface Wish {
  key: string;
  packet: ArrayBuffer;
  seed: number;
  place: Place;
  manoeuvre: Manoeuvre;
  isTapped: boolean;
  isBare: boolean;
  sound: string; // the breath that holds it is taken; empty: the first
  seconds: number; // how long to look for it
  treatment: { id: string; side: Side; minutes: number } | null; // done before
}
export interface Take {
  key: string;
  rateHz: number;
  samples: Float32Array; // whole breaths, to be played over and over
  moments: Now[]; // one each kEvery_s
  events: HeardEvent[]; // in the time of the samples
  picture: Uint8Array; // columns of kBins levels from kFloor_dbfs in steps of kLevelStep_dB, one each kColumn_s
  loudest_dbfs: number; // what all but one in two hundred of them stay below
}
export type ToMaker = { do: 'module'; wasm: ArrayBuffer } | { do: 'make'; wish: Wish };
export type FromMaker = { say: 'made'; take: Take } | { say: 'failed'; key: string; message: string };

export const kTakeRate_hz = 24000;
export const kEvery_s = 0.02;
export const kColumn_s = 0.016;
export const kBins = 86; // up to 2 kHz
export const kAxis_s = 8; // what a picture shows, the same for every sound
export const kFloor_dbfs = -115, kLevelStep_dB = 0.5;
const kBefore_s = 30, kSettle_s = 0.3, kTapEvery_s = 0.9;

let bedside: BedsideModule | null = null;
let lines = 0;
const perform = (deed: Deed) => bedside!.perform({ id: 'show' + ++lines, t: 0, ...deed });

interface Raw {
  samples: Float32Array;
  moments: Now[];
  events: HeardEvent[];
}

function record(wish: Wish): Raw {
  const step = Math.round(kEvery_s * kTakeRate_hz);
  const steps = Math.ceil(wish.seconds / kEvery_s);
  const raw: Raw = { samples: new Float32Array(steps * step), moments: [], events: [] };
  const begin = bedside!.now().timeS;
  let nextTap = 0;
  for (let i = 0; i < steps; i++) {
    if (wish.isTapped && i * kEvery_s >= nextTap) {
      perform({ do: 'tap', ...wish.place });
      nextTap += kTapEvery_s;
    }
    raw.samples.set(bedside!.render(step), i * step);
    raw.moments.push(bedside!.now());
    for (const event of bedside!.drain()) {
      raw.events.push({ ...event, startS: event.startS - begin, endS: event.endS - begin });
    }
  }
  return raw;
}

// From one breath in to another, at most kAxis_s long; where a sound is wanted, the breaths with most of it.
function wholeBreaths(raw: Raw, sound: string): [number, number] {
  const starts: number[] = [];
  raw.moments.forEach((now, i) => {
    if (i > 0 && now.breathCount !== raw.moments[i - 1]!.breathCount) starts.push(i);
  });
  const most = Math.round(kAxis_s / kEvery_s);
  let best: [number, number] = [0, Math.min(raw.moments.length, most)], bestSum = -1;
  for (const from of starts) {
    const to = starts.filter((one) => one > from && one - from <= most).at(-1);
    if (to === undefined) continue;
    let sum = (to - from) / most * 1e-3;
    for (const event of raw.events) {
      if (event.sound !== sound || !event.isAudible) continue;
      sum += Math.max(0, Math.min(event.endS, to * kEvery_s) - Math.max(event.startS, from * kEvery_s));
    }
    if (sum > bestSum * 1.05) [best, bestSum] = [[from, to], sum];
  }
  return best;
}

// The ends are blended, so that the loop has no click.
function blended(samples: Float32Array): Float32Array {
  const n = Math.min(Math.round(0.03 * kTakeRate_hz), samples.length >> 2);
  const out = samples.slice(0, samples.length - n);
  for (let i = 0; i < n; i++) {
    const share = i / n;
    out[i] = out[i]! * Math.sqrt(share) + samples[samples.length - n + i]! * Math.sqrt(1 - share);
  }
  return out;
}

const spectrum = new Spectrum(1024);
function pictureOf(samples: Float32Array): Uint8Array {
  const hop = Math.round(kColumn_s * kTakeRate_hz);
  const columns = Math.floor(samples.length / hop);
  const out = new Uint8Array(columns * kBins);
  const levels = new Float32Array(spectrum.bins);
  for (let c = 0; c < columns; c++) {
    spectrum.levels(samples, c * hop - 512, levels);
    for (let bin = 0; bin < kBins; bin++) {
      out[c * kBins + bin] = Math.max(0, Math.min(255, Math.round((levels[bin]! - kFloor_dbfs) / kLevelStep_dB)));
    }
  }
  return out;
}

function loudestOf(picture: Uint8Array): number {
  const sorted = picture.slice().sort();
  return kFloor_dbfs + kLevelStep_dB * (sorted[Math.floor(0.995 * sorted.length)] ?? 0);
}

function make(wish: Wish): Take {
  bedside!.make({ wasm: new ArrayBuffer(0), packet: wish.packet, seed: wish.seed, sites: [], history: [], untilS: 0 },
    kTakeRate_hz);
  bedside!.runTo(kBefore_s);
  if (wish.isBare) perform({ do: 'expose' });
  if (wish.treatment) {
    const { id, side, minutes } = wish.treatment;
    perform({ do: 'treat', treatment: id, ...(side === 'midline' ? {} : { side }) });
    bedside!.runTo(kBefore_s + 60 * minutes);
  }
  if (!wish.isTapped) {
    perform({ do: 'place', ...wish.place });
    perform({ do: 'instruct', manoeuvre: wish.manoeuvre, seconds: Math.min(120, wish.seconds + 10) });
  }
  bedside!.render(Math.min(4096, Math.round(kSettle_s * kTakeRate_hz)));
  bedside!.render(Math.max(1, Math.round(kSettle_s * kTakeRate_hz) - 4096));
  bedside!.drain();
  const raw = record(wish);
  const [from, to] = wish.isTapped ? [0, raw.moments.length] : wholeBreaths(raw, wish.sound);
  const step = Math.round(kEvery_s * kTakeRate_hz);
  const samples = blended(raw.samples.slice(from * step, to * step));
  const picture = pictureOf(samples);
  const shift = from * kEvery_s, end = to * kEvery_s;
  return { key: wish.key, rateHz: kTakeRate_hz, samples, moments: raw.moments.slice(from, to),
    events: raw.events.filter((one) => one.endS > shift && one.startS < end)
      .map((one) => ({ ...one, startS: Math.max(0, one.startS - shift), endS: Math.min(end, one.endS) - shift })),
    picture, loudest_dbfs: loudestOf(picture) };
}

const scope = self as unknown as { onmessage: (event: MessageEvent<ToMaker>) => void;
  postMessage(message: FromMaker, transfer?: Transferable[]): void };
scope.onmessage = ({ data }) => {
  if (data.do === 'module') {
    bedside = BedsideModule.start(data.wasm);
    bedside.setSites([]);
    return;
  }
  try {
    const take = make(data.wish);
    scope.postMessage({ say: 'made', take }, [take.samples.buffer, take.picture.buffer]);
  } catch (error) {
    scope.postMessage({ say: 'failed', key: data.wish.key, message: (error as Error).message });
  }
};
