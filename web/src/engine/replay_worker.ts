// Lives an encounter again beside the page: truth, monitor, and the sound of any moment of it.
import { Hands, kEngineRate_hz, type LogEntry, type Setup } from './hands';
import type { HeardEvent, Vitals } from './protocol';
import { drainEvents, readNow } from './read';

const kStep_frames = kEngineRate_hz / 128;

export interface Relived { events: HeardEvent[]; monitor: { timeS: number; vitals: Vitals }[] }
export type ToReplay = { ask: 'relive'; setup: Setup; untilS: number } | { ask: 'sound'; fromS: number; toS: number };
export type FromReplay = { tell: 'relived'; relived: Relived } | { tell: 'sound'; fromS: number; samples: Float32Array } | { tell: 'failed'; message: string };

const scope = self as unknown as { onmessage: (event: MessageEvent<ToReplay>) => void; postMessage(message: FromReplay, transfer?: Transferable[]): void };
let setup: Setup | null = null;

// Runs to `untilS`, handing out each whole second and each action in their order.
function run(hands: Hands, log: readonly LogEntry[], untilS: number, eachSecond: () => void): void {
  let next = 0;
  for (let second = 0; ; second++) {
    const stop = Math.min(second, untilS);
    for (; next < log.length && log[next]!.t <= stop; next++) {
      hands.engine.phren_run_to(log[next]!.t);
      hands.perform(log[next]!);
    }
    hands.engine.phren_run_to(stop);
    eachSecond();
    if (second >= untilS) return;
  }
}

function relive(untilS: number): Relived {
  const hands = new Hands(setup!, kEngineRate_hz);
  const out: Relived = { events: [], monitor: [] };
  const drain = () => { for (let some = drainEvents(hands.engine); some.length > 0; some = drainEvents(hands.engine)) out.events.push(...some); };
  run(hands, setup!.history, untilS, () => { drain(); out.monitor.push({ timeS: hands.timeS, vitals: readNow(hands.engine).vitals }); });
  hands.engine.phren_finish();
  drain();
  return out;
}

// What the chestpiece gave between two moments, sample by sample.
function sound(fromS: number, toS: number): Float32Array {
  const hands = new Hands(setup!, kEngineRate_hz);
  const { engine } = hands;
  const log = setup!.history;
  const before = log.filter((entry) => entry.t <= fromS), during = log.filter((entry) => entry.t > fromS);
  run(hands, before, fromS, () => drainEvents(engine));
  const samples = new Float32Array(Math.max(0, Math.ceil((toS - hands.timeS) * 128)) * kStep_frames);
  for (let at = 0, next = 0; at < samples.length; at += kStep_frames) {
    while (next < during.length && during[next]!.t <= hands.timeS) hands.perform(during[next++]!);
    samples.set(new Float32Array(engine.memory.buffer, engine.phren_render(kStep_frames), kStep_frames), at);
    drainEvents(engine);
  }
  return samples;
}

scope.onmessage = ({ data }) => {
  try {
    if (data.ask === 'relive') {
      setup = data.setup;
      scope.postMessage({ tell: 'relived', relived: relive(data.untilS) });
    } else {
      const samples = sound(data.fromS, data.toS);
      scope.postMessage({ tell: 'sound', fromS: data.fromS, samples }, [samples.buffer]);
    }
  } catch (error) {
    scope.postMessage({ tell: 'failed', message: (error as Error).message });
  }
};
