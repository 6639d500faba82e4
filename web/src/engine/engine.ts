// The engine as the page sees it: made from a tap, it runs in the audio worklet and reports. Browsers give
// pages that come over plain HTTP no worklet; there it runs beside the page, with a longer reserve of
// sound, so that a class needs no certificate.
import { open, type Output } from '../audio/output';
import type { FindingAnswer, HeardEvent, InstrumentAnswer, Now } from '../generated/bedside';
import type { Setup } from './module';
import { Player } from './player';
import type { FromEngine, RoundSetup, ToEngine } from './protocol';
import { RoundPlayer } from './round_player';
import workletUrl from './worklet?worker&url';

export interface EngineHandlers {
  onNow: (now: Now, block: Float32Array | null, seen: Float64Array) => void;
  onEvents: (events: HeardEvent[]) => void;
  onFindings: (findings: readonly FindingAnswer[], finding: string) => void;
  onDone: (id: string, t: number) => void;
  onReady: (instruments: readonly InstrumentAnswer[]) => void;
  onFailed: (message: string) => void;
}
export interface Engine {
  send: (message: ToEngine) => void;
  close: () => void;
}

export function unsupportedReason(): string {
  if (typeof WebAssembly === 'undefined') {
    return 'This browser cannot run the engine (WebAssembly is missing or switched off). A current Firefox, ' +
      'Chrome, Edge or Safari can.';
  }
  if (typeof AudioContext === 'undefined') {
    return 'This browser has no Web Audio. A current Firefox, Chrome, Edge or Safari has.';
  }
  return '';
}

// The module is the same for every patient, so it is fetched once, ahead of the first tap.
let fetching: Promise<ArrayBuffer> | null = null;
export function fetchModule(): Promise<ArrayBuffer> {
  fetching ??= fetch('/engine.wasm').catch(() => {
    throw new Error(
      'The engine could not be loaded: the server cannot be reached. Try again when the connection is back.',
    );
  }).then((response) => {
    if (!response.ok) {
      throw new Error(
        `The engine could not be loaded (${response.status}). Load the page again; if that does not ` +
          `help, the server was built without it.`,
      );
    }
    return response.arrayBuffer();
  }).catch((error: Error) => {
    fetching = null;
    throw error;
  });
  return fetching;
}

export interface RoundHandlers extends Omit<EngineHandlers, 'onDone' | 'onReady'> {
  onRound: (message: Extract<FromEngine, { say: 'own' | 'taken_up' | 'wants' | 'sum' | 'playing' }>) => void;
}

function hear(message: FromEngine, handlers: EngineHandlers | RoundHandlers): void {
  if (message.say === 'now') handlers.onNow(message.now, message.block, message.seen);
  else if (message.say === 'events') handlers.onEvents(message.events);
  else if (message.say === 'findings') handlers.onFindings(message.findings, message.answers);
  else if (message.say === 'failed') handlers.onFailed(message.message);
  else if (message.say === 'ready') { if ('onReady' in handlers) handlers.onReady(message.instruments); }
  else if (message.say === 'done') { if ('onDone' in handlers) handlers.onDone(message.id, message.t); }
  else if ('onRound' in handlers) handlers.onRound(message);
}

export const startEngine = (setup: Omit<Setup, 'wasm'>, handlers: EngineHandlers): Promise<Engine> =>
  start((wasm) => ({ do: 'start', setup: { ...setup, wasm } }), handlers);
// One device of a round.
export const startRoundEngine = (setup: Omit<RoundSetup, 'wasm'>, handlers: RoundHandlers): Promise<Engine> =>
  start((wasm) => ({ do: 'start_round', setup: { ...setup, wasm } }), handlers);

type First = (wasm: ArrayBuffer) => ToEngine;
let addingModule: Promise<void> | null = null;

async function start(first: First, handlers: EngineHandlers | RoundHandlers): Promise<Engine> {
  const output = open();
  if (!output.context.audioWorklet) return startBeside(first, handlers, output);
  addingModule ??= output.context.audioWorklet.addModule(workletUrl);
  const [wasm] = await Promise.all([fetchModule(), addingModule]);
  const node = new AudioWorkletNode(output.context, 'phren-engine', { numberOfInputs: 0, numberOfOutputs: 1,
    outputChannelCount: [1] });
  node.port.onmessage = (event: MessageEvent<FromEngine>) => hear(event.data, handlers);
  const send = (message: ToEngine) => node.port.postMessage(message);
  send(first(wasm));
  node.connect(output.input);
  return { send, close: () => {
    node.disconnect();
    node.port.close();
  } };
}

const kReserve_frames = 4096; // 85 ms: the page's own work may take that long

async function startBeside(first: First, handlers: EngineHandlers | RoundHandlers,
  { context, input }: Output): Promise<Engine>
{
  const message = first(await fetchModule());
  // Answers come after the asking has returned, as they do from a worklet.
  const say = (answer: FromEngine) => queueMicrotask(() => hear(answer, handlers));
  const player = message.do === 'start_round'
    ? new RoundPlayer(say, context.sampleRate)
    : new Player(say, context.sampleRate);
  const node = context.createScriptProcessor(kReserve_frames, 1, 1);
  node.onaudioprocess = (event) => player.fill(event.outputBuffer.getChannelData(0));
  player.hear(message);
  node.connect(input);
  return { send: (next) => player.hear(next), close: () => {
    node.onaudioprocess = null;
    node.disconnect();
  } };
}
