// Plays one take over and over, and knows where it is.
import { signal } from '@preact/signals';
import { open } from '../audio/output';
import type { Take } from './take_worker';

const kFade_s = 0.03;
export const playing = signal<Take | null>(null);
let now: { take: Take; node: AudioBufferSourceNode; gain: GainNode; from: number } | null = null;

export function play(take: Take): void {
  if (now?.take === take) return;
  stop();
  const { context, input } = open();
  const buffer = context.createBuffer(1, take.samples.length, take.rateHz);
  buffer.copyToChannel(take.samples, 0);
  const node = context.createBufferSource(), gain = context.createGain();
  node.buffer = buffer;
  node.loop = true;
  gain.gain.value = 0;
  gain.gain.setTargetAtTime(1, context.currentTime, kFade_s / 3);
  node.connect(gain).connect(input);
  node.start();
  now = { take, node, gain, from: context.currentTime };
  playing.value = take;
}

export function stop(): void {
  if (!now) return;
  const { node, gain } = now;
  const { context } = open();
  gain.gain.setTargetAtTime(0, context.currentTime, kFade_s / 3);
  node.stop(context.currentTime + kFade_s * 2);
  node.onended = () => gain.disconnect();
  now = null;
  playing.value = null;
}

// Seconds into the take, or -1 where that take is not playing.
export function positionIn(take: Take): number {
  if (now?.take !== take) return -1;
  const length = take.samples.length / take.rateHz;
  return (open().context.currentTime - now.from) % length;
}
