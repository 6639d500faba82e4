// Plays one recording at a time, from a tap; A and B can be brought to the same level.
import { signal } from '@preact/signals';
import { open } from '../audio/output';
import { type Recording, rms } from './recording';

export const playing = signal<{ id: string; startedAtS: number; fromS: number; lengthS: number } | null>(null);
let source: AudioBufferSourceNode | null = null;

export function stop(): void {
  source?.stop();
  source = null;
  playing.value = null;
}

// `levelRms`: bring the sound to this level; null leaves it as it is.
export function play(recording: Recording, span: [number, number] | null, levelRms: number | null): void {
  stop();
  const { context, input } = open();
  const buffer = context.createBuffer(1, recording.samples.length, recording.rateHz);
  buffer.copyToChannel(recording.samples, 0);
  const gain = context.createGain();
  gain.gain.value = levelRms === null ? 1 : Math.min(100, levelRms / Math.max(1e-6, rms(recording.samples)));
  const node = context.createBufferSource();
  node.buffer = buffer;
  node.connect(gain).connect(input);
  const fromS = span?.[0] ?? 0;
  const lengthS = (span?.[1] ?? buffer.duration) - fromS;
  node.start(0, fromS, lengthS);
  node.onended = () => {
    if (source === node) stop();
  };
  source = node;
  playing.value = { id: recording.id, startedAtS: context.currentTime, fromS, lengthS };
}

export function playheadS(id: string): number | null {
  const now = playing.value;
  if (now === null || now.id !== id) return null;
  return now.fromS + Math.min(now.lengthS, open().context.currentTime - now.startedAtS);
}
