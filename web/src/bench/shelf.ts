// The recordings on this device.
import { signal } from '@preact/signals';
import { all, put, remove as removeStored } from '../lib/store';
import type { Recording } from './recording';

export const shelf = signal<readonly Recording[]>([]);
export const storingTrouble = signal('');

export async function loadShelf(): Promise<void> {
  try {
    const kept = await all<Recording>('recordings');
    shelf.value = kept.sort((a, b) => a.addedAt.localeCompare(b.addedAt));
  } catch (error) {
    storingTrouble.value = (error as Error).message;
  }
}

export async function keepRecording(recording: Recording): Promise<void> {
  const others = shelf.value.filter((one) => one.id !== recording.id);
  shelf.value = [...others, recording].sort((a, b) => a.addedAt.localeCompare(b.addedAt));
  try {
    await put('recordings', recording);
  } catch (error) {
    storingTrouble.value = `${recording.name} could not be kept on this device: ${(error as Error).message}`;
  }
}

export async function discard(id: string): Promise<void> {
  shelf.value = shelf.value.filter((one) => one.id !== id);
  try { await removeStored('recordings', id); } catch { /* it was never kept */ }
}
