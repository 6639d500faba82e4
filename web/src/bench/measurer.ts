// Measuring on this device: one worker, one recording after another. The module and the models are loaded when the
// Bench is opened and kept for use without a network; a recording never leaves the page.
import { signal } from '@preact/signals';
import type { Measurement } from './measurement';
import type { FromMeasurer, ToMeasurer } from './measurer_worker';
import workerUrl from './measurer_worker?worker&url';
import type { Recording } from './recording';
import { keepRecording, shelf } from './shelf';

const kFiles = ['/measurer.wasm', '/measurer_model.bin'] as const;

async function fetchFile(path: string): Promise<ArrayBuffer> {
  const response = await fetch(path).catch(() => {
    throw new Error(
      'The measurer could not be loaded: the server cannot be reached, and the Bench was not opened here before. Try ' +
        'again when the connection is back.',
    );
  });
  if (!response.ok) {
    throw new Error(
      `The measurer could not be loaded (${response.status}). Load the page again; if that does not help, the server ` +
        `was built without it.`,
    );
  }
  return response.arrayBuffer();
}

let loading: Promise<ArrayBuffer[]> | null = null;
export function loadMeasurer(): Promise<ArrayBuffer[]> {
  if (loading === null && navigator.serviceWorker && !navigator.serviceWorker.controller) {
    // What was fetched before there was somebody to keep it is fetched once more, to be kept.
    navigator.serviceWorker.addEventListener('controllerchange', () => {
      for (const path of kFiles) void fetch(path).catch(() => {/* not kept, then */});
    }, { once: true });
  }
  loading ??= Promise.all(kFiles.map(fetchFile)).catch((error: Error) => {
    loading = null;
    throw error;
  });
  return loading;
}

let worker: Worker | null = null;

function ask(message: ToMeasurer): Promise<FromMeasurer> {
  return new Promise((resolve) => {
    worker!.onmessage = ({ data }: MessageEvent<FromMeasurer>) => resolve(data);
    worker!.onerror = (event) =>
      resolve({ tell: 'failed', message: event.message || 'The measurer could not be started.' });
    worker!.postMessage(message);
  });
}

function settled(answer: FromMeasurer): FromMeasurer {
  if (answer.tell === 'failed') throw new Error(answer.message);
  return answer;
}

async function start(): Promise<void> {
  if (typeof WebAssembly === 'undefined') {
    throw new Error(
      'This browser cannot measure (WebAssembly is missing or switched off). A current Firefox, Chrome, Edge or ' +
        'Safari can, and so can “phren measure”.',
    );
  }
  const [wasm, model] = await loadMeasurer();
  worker = new Worker(workerUrl, { type: 'module' });
  settled(await ask({ ask: 'start', wasm: wasm!, model: model! }));
}

async function measureNow(recording: Recording): Promise<Measurement> {
  try {
    if (worker === null) await start();
    let answer = settled(await ask({ ask: 'file', bytes: await recording.original.arrayBuffer() }));
    if (answer.tell === 'not_read') {
      answer = settled(await ask({ ask: 'samples', samples: recording.samples, rateHz: recording.rateHz }));
    }
    return (answer as Extract<FromMeasurer, { tell: 'measured' }>).measurement;
  } catch (error) {
    worker?.terminate();
    worker = null;
    throw error;
  }
}

// What is being measured or waits for it, and what went wrong, by the recording's id.
export const waiting = signal<readonly string[]>([]);
export const troubles = signal<ReadonlyMap<string, string>>(new Map());

let turn: Promise<void> = Promise.resolve();

// Measures in turn and keeps what came out with each recording.
export function measure(recordings: readonly Recording[]): Promise<void> {
  const fresh = recordings.map((one) => one.id).filter((id) => !waiting.value.includes(id));
  waiting.value = [...waiting.value, ...fresh];
  troubles.value = new Map([...troubles.value].filter(([id]) => !fresh.includes(id)));
  const current = (id: string) => shelf.value.find((one) => one.id === id);
  for (const id of fresh) {
    turn = turn.then(async () => {
      const before = current(id); // may have been removed while it waited
      try {
        const measurement = before && await measureNow(before);
        const now = current(id); // may have been named anew meanwhile
        if (measurement && now) await keepRecording({ ...now, measurement });
      } catch (error) {
        troubles.value = new Map([...troubles.value, [id, (error as Error).message]]);
      } finally {
        waiting.value = waiting.value.filter((one) => one !== id);
      }
    });
  }
  return turn;
}
