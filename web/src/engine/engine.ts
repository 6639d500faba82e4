// The engine as the page sees it: made from a tap, it runs in the audio worklet and reports.
import { open } from '../audio/output';
import type { Setup } from './hands';
import type { FromEngine, HeardEvent, Now, ToEngine } from './protocol';
import workletUrl from './worklet?worker&url';

export interface EngineHandlers {
  onNow: (now: Now, block: Float32Array | null) => void;
  onEvents: (events: HeardEvent[]) => void;
  onSigns: (signs: Record<string, number>, finding: string) => void;
  onDone: (id: string, t: number) => void;
  onFailed: (message: string) => void;
}
export interface Engine { send: (message: ToEngine) => void; close: () => void }

export function unsupportedReason(): string {
  if (typeof WebAssembly === 'undefined') return 'This browser cannot run the engine (WebAssembly is missing or switched off). A current Firefox, Chrome, Edge or Safari can.';
  if (typeof AudioContext === 'undefined') return 'This browser has no Web Audio. A current Firefox, Chrome, Edge or Safari has.';
  if (!window.isSecureContext) return 'Browsers run the engine only on this computer or over HTTPS. Open Phren at http://localhost on the computer that serves it, or put it behind HTTPS.';
  return '';
}

// The module is the same for every patient, so it is fetched once, ahead of the first tap.
let fetching: Promise<ArrayBuffer> | null = null;
export function fetchModule(): Promise<ArrayBuffer> {
  fetching ??= fetch('/engine.wasm').then((response) => {
    if (!response.ok) throw new Error(`The engine could not be loaded (${response.status}).`);
    return response.arrayBuffer();
  }).catch((error: Error) => { fetching = null; throw error; });
  return fetching;
}

let addingModule: Promise<void> | null = null;

export async function startEngine(setup: Omit<Setup, 'wasm'>, handlers: EngineHandlers): Promise<Engine> {
  const { context, input } = open();
  addingModule ??= context.audioWorklet.addModule(workletUrl);
  const [wasm] = await Promise.all([fetchModule(), addingModule]);
  const node = new AudioWorkletNode(context, 'phren-engine', { numberOfInputs: 0, numberOfOutputs: 1, outputChannelCount: [1] });
  node.port.onmessage = (event: MessageEvent<FromEngine>) => {
    const message = event.data;
    if (message.say === 'now') handlers.onNow(message.now, message.block);
    else if (message.say === 'events') handlers.onEvents(message.events);
    else if (message.say === 'signs') handlers.onSigns(message.signs, message.answers);
    else if (message.say === 'done') handlers.onDone(message.id, message.t);
    else if (message.say === 'failed') handlers.onFailed(message.message);
  };
  const send = (message: ToEngine) => node.port.postMessage(message);
  send({ do: 'start', setup: { ...setup, wasm } });
  node.connect(input);
  return { send, close: () => { node.disconnect(); node.port.close(); } };
}
