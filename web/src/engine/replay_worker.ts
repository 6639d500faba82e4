// Lives an encounter again beside the page: what there was to hear, and the sound of any moment of it.
import { type DebriefAnswer, kStepsPerSecond } from '../generated/bedside';
import { BedsideModule, kEngineRate_hz, type Setup } from './module';

const kStep_frames = kEngineRate_hz / kStepsPerSecond;
const kMomentEvery_s = 20; // kept along the way, so that a late moment need not be lived up to again

export type ToReplay = { ask: 'relive'; setup: Setup; untilS: number } | { ask: 'sound'; fromS: number; toS: number };
export type FromReplay = { tell: 'progress'; share: number } | { tell: 'relived'; relived: DebriefAnswer } | {
  tell: 'sound';
  samples: Float32Array;
} | { tell: 'failed'; message: string };

class Again {
  private readonly bedside: BedsideModule;
  private readonly moments: { timeS: number; memory: ArrayBuffer }[] = [];

  constructor(setup: Setup) {
    this.bedside = BedsideModule.start(setup.wasm);
    this.bedside.make(setup, kEngineRate_hz);
  }

  relive(untilS: number, onProgress: (share: number) => void): DebriefAnswer {
    for (let second = 0; second < untilS; second += kMomentEvery_s) {
      this.bedside.runTo(second);
      this.moments.push({ timeS: this.bedside.now().timeS, memory: this.bedside.moment() });
      onProgress(second / untilS);
    }
    return this.bedside.relived<DebriefAnswer>();
  }

  // What the chestpiece gave between two moments, sample by sample.
  sound(fromS: number, toS: number): Float32Array {
    const { bedside } = this;
    const start = [...this.moments].reverse().find((one) => one.timeS <= fromS) ?? this.moments[0]!;
    bedside.go(start.memory);
    bedside.runTo(fromS);
    const steps = Math.max(0, Math.ceil((toS - bedside.now().timeS) * kStepsPerSecond));
    const samples = new Float32Array(steps * kStep_frames);
    for (let at = 0; at < samples.length; at += kStep_frames) samples.set(bedside.render(kStep_frames), at);
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
