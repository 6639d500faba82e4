// Lives an encounter again beside the page: truth, monitor, and the sound of any moment of it.
import { Hands, kEngineRate_hz, type Moment, type Setup } from './hands';
import type { HeardEvent, Vitals } from './protocol';
import { drainEvents, readNow } from './read';

const kStep_frames = kEngineRate_hz / 128;
const kMomentEvery_s = 20; // kept along the way, so that a late moment need not be lived up to again

export interface Relived {
  events: HeardEvent[];
  monitor: { timeS: number; vitals: Vitals }[];
}
export type ToReplay = { ask: 'relive'; setup: Setup; untilS: number } | { ask: 'sound'; fromS: number; toS: number };
export type FromReplay = { tell: 'progress'; share: number } | { tell: 'relived'; relived: Relived } | { tell: 'sound';
  samples: Float32Array } | { tell: 'failed'; message: string };

class Again {
  private readonly hands: Hands;
  private next = 0; // the first action of the log that is not done
  private readonly moments: { moment: Moment; next: number }[] = [];

  constructor(private readonly setup: Setup) {
    this.hands = new Hands(setup, kEngineRate_hz);
  }

  // Actions up to that very time are done.
  private runTo(timeS: number): void {
    const { history } = this.setup;
    for (; this.next < history.length && history[this.next]!.t <= timeS; this.next++) {
      this.hands.engine.phren_run_to(history[this.next]!.t);
      this.hands.perform(history[this.next]!);
    }
    this.hands.engine.phren_run_to(timeS);
  }

  relive(untilS: number, onProgress: (share: number) => void): Relived {
    const out: Relived = { events: [], monitor: [] };
    const { engine } = this.hands;
    const drain = () => {
      for (let some = drainEvents(engine); some.length > 0; some = drainEvents(engine)) out.events.push(...some);
    };
    for (let second = 0;; second++) {
      if (second % kMomentEvery_s === 0) {
        this.moments.push({ moment: this.hands.moment(), next: this.next });
        onProgress(second / untilS);
      }
      this.runTo(Math.min(second, untilS));
      drain();
      out.monitor.push({ timeS: this.hands.timeS, vitals: readNow(engine).vitals });
      if (second >= untilS) break;
    }
    engine.phren_finish();
    drain();
    return out;
  }

  // What the chestpiece gave between two moments, sample by sample.
  sound(fromS: number, toS: number): Float32Array {
    const { hands, setup } = this;
    const start = [...this.moments].reverse().find((one) => one.moment.timeS <= fromS) ?? this.moments[0]!;
    hands.go(start.moment);
    this.next = start.next;
    this.runTo(fromS);
    const samples = new Float32Array(Math.max(0, Math.ceil((toS - hands.timeS) * 128)) * kStep_frames);
    for (let at = 0; at < samples.length; at += kStep_frames) {
      for (; this.next < setup.history.length && setup.history[this.next]!.t <= hands.timeS; this.next++) {
        hands.perform(setup.history[this.next]!);
      }
      samples.set(new Float32Array(hands.engine.memory.buffer, hands.engine.phren_render(kStep_frames), kStep_frames),
        at);
      drainEvents(hands.engine);
    }
    return samples;
  }
}

const scope = self as unknown as { onmessage: (event: MessageEvent<ToReplay>) => void;
  postMessage(message: FromReplay, transfer?: Transferable[]): void };
let again: Again | null = null;
scope.onmessage = ({ data }) => {
  try {
    if (data.ask === 'relive') {
      again = new Again(data.setup);
      scope.postMessage({ tell: 'relived', relived: again.relive(data.untilS, (share) =>
        scope.postMessage({ tell: 'progress', share })) });
    } else {
      const samples = again!.sound(data.fromS, data.toS);
      scope.postMessage({ tell: 'sound', samples }, [samples.buffer]);
    }
  } catch (error) {
    scope.postMessage({ tell: 'failed', message: (error as Error).message });
  }
};
