// The one way out to the ear: a volume that starts low, then a limiter. Nothing sounds by itself:
// open() is called from a tap or a key.
import { signal } from '@preact/signals';
import { kEngineRate_hz } from '../engine/module';
import { keep } from '../lib/settings';

const kStart = 0.25;
export const volume = signal(kStart); // 0..1, never remembered: every visit starts low

export interface Output {
  context: AudioContext;
  input: AudioNode;
}
let output: Output | null = null;

function makeOutput(): Output {
  const context = new AudioContext({ latencyHint: 'interactive', sampleRate: kEngineRate_hz });
  const gain = context.createGain();
  const limiter = context.createDynamicsCompressor();
  limiter.threshold.value = -12;
  limiter.knee.value = 6;
  limiter.ratio.value = 20;
  limiter.attack.value = 0.002;
  limiter.release.value = 0.15;
  gain.connect(limiter).connect(context.destination);
  gain.gain.value = gainOf(volume.value);
  volume.subscribe((value) => gain.gain.setTargetAtTime(gainOf(value), context.currentTime, 0.02));
  return { context, input: gain };
}

// A slider feels even when its level goes in decibels: 0 is off, then -36 dB to +12 dB.
function gainOf(value: number): number {
  return value <= 0 ? 0 : 10 ** ((-36 + 48 * value) / 20);
}

export function open(): Output {
  output ??= makeOutput();
  if (output.context.state === 'suspended') void output.context.resume();
  return output;
}

// Listening through headphones: the caution is shown until it is put away on this device.
export const isLevelNoteAway = signal((() => {
  try {
    return localStorage.getItem('phren.level-note') === 'away';
  } catch {
    return false;
  }
})());
export function putLevelNoteAway(): void {
  isLevelNoteAway.value = true;
  keep('level-note', 'away');
}
