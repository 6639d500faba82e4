// The recordings on this device.
import { signal } from '@preact/signals';
import { all, put, remove as removeStored } from '../lib/store';
import type { Recording } from './recording';

export const shelf = signal<readonly Recording[]>([]);
export const storingTrouble = signal('');

// Two tabs share one shelf: whoever changes it tells the others.
const others = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel('phren-shelf');
if (others) {
  others.onmessage = () => {
    void loadShelf();
  };
}

export async function loadShelf(): Promise<void> {
  try {
    const kept = await all<Recording>('recordings');
    shelf.value = kept.sort((a, b) => a.addedAt.localeCompare(b.addedAt));
  } catch (error) {
    storingTrouble.value = (error as Error).message;
  }
}

export async function keepRecording(recording: Recording): Promise<void> {
  const rest = shelf.value.filter((one) => one.id !== recording.id);
  shelf.value = [...rest, recording].sort((a, b) => a.addedAt.localeCompare(b.addedAt));
  try {
    await put('recordings', recording);
    others?.postMessage('changed');
  } catch (error) {
    storingTrouble.value = `${recording.name} could not be kept on this device: ${(error as Error).message}`;
  }
}

export async function discard(id: string): Promise<void> {
  shelf.value = shelf.value.filter((one) => one.id !== id);
  try {
    await removeStored('recordings', id);
    others?.postMessage('changed');
  } catch { /* it was never kept */ }
}
