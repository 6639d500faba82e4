// The debrief's own engine, in a worker, so that the page stays alive while minutes are lived again.
import type { DebriefAnswer } from '../generated/bedside';
import { fetchModule } from './engine';
import type { Setup } from './module';
import type { FromReplay, ToReplay } from './replay_worker';
import workerUrl from './replay_worker?worker&url';

export interface Replay {
  relived: Promise<DebriefAnswer>;
  sound: (fromS: number, toS: number) => Promise<Float32Array>;
  close: () => void;
}

export function startReplay(setup: Omit<Setup, 'wasm'>, untilS: number, onProgress: (share: number) => void): Replay {
  const worker = new Worker(workerUrl, { type: 'module' });
  const ask = (message: ToReplay) => worker.postMessage(message);
  let turn: Promise<unknown> = Promise.resolve();
  const answer = <T>(message: () => Promise<ToReplay> | ToReplay, take: (answer: FromReplay) => T): Promise<T> => {
    const mine = turn.then(async () => {
      const asked = await message();
      return new Promise<T>((resolve, reject) => {
        worker.onmessage = ({ data }: MessageEvent<FromReplay>) => {
          if (data.tell === 'progress') onProgress(data.share);
          else if (data.tell === 'failed') reject(new Error(data.message));
          else resolve(take(data));
        };
        worker.onerror = (event) => reject(new Error(event.message || 'The replay could not be started.'));
        ask(asked);
      });
    });
    turn = mine.catch(() => {/* the next question may still be answered */});
    return mine;
  };
  return {
    relived: answer(async () => ({ ask: 'relive', setup: { ...setup, wasm: await fetchModule() }, untilS }),
      (data) => (data as { relived: DebriefAnswer }).relived),
    sound: (fromS, toS) =>
      answer(() => ({ ask: 'sound', fromS, toS }), (data) => (data as { samples: Float32Array }).samples),
    close: () => worker.terminate(),
  };
}
