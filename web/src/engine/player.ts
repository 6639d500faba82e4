// The engine behind a loudspeaker, wherever it runs: hears what the page asks, makes the next samples,
// and reports. The audio worklet holds one; so does the page itself where there is no worklet.
import { BedsideModule, type Setup } from './module';
import type { FromEngine, ToEngine } from './protocol';

const kQuantum_frames = 128;
const kReportFrames = 1024;

export class Player {
  private bedside: BedsideModule | null = null;
  private isPaused = false;
  private block = new Float32Array(kReportFrames);
  private filled = 0;

  constructor(private readonly say: (message: FromEngine, transfer: Transferable[]) => void,
    private readonly rateHz: number)
  {}

  hear(message: ToEngine): void {
    if (message.do === 'start') {
      this.start(message.setup);
      return;
    }
    const { bedside } = this;
    if (!bedside) return;
    switch (message.do) {
      case 'deed':
        this.say({ say: 'done', id: message.entry.id, t: bedside.perform(message.entry).t }, []);
        break;
      case 'look':
        this.say({ say: 'findings', findings: bedside.ask('findings', {}), answers: message.finding }, []);
        break;
      case 'pause':
        this.isPaused = message.isPaused;
        break;
      case 'pass':
        this.filled = 0;
        bedside.runTo(bedside.now().timeS + message.seconds);
        this.report();
        break;
      default:
        break;
    }
  }

  private start(setup: Setup): void {
    try {
      const bedside = BedsideModule.start(setup.wasm);
      bedside.make(setup, this.rateHz);
      while (bedside.now().timeS < setup.untilS) bedside.runTo(setup.untilS);
      this.bedside = bedside;
      this.say({ say: 'ready', instruments: bedside.ask('instruments', {}) }, []);
      this.report();
    } catch (error) {
      this.say({ say: 'failed',
        message: error instanceof Error ? error.message : 'The engine could not be started: ' + String(error) }, []);
    }
  }

  // `out` is a whole number of quanta; silence while there is nothing to play.
  fill(out: Float32Array): void {
    const { bedside } = this;
    if (!bedside || this.isPaused) {
      out.fill(0);
      return;
    }
    for (let from = 0; from < out.length; from += kQuantum_frames) {
      const made = bedside.render(kQuantum_frames);
      out.set(made, from);
      this.block.set(made, this.filled);
      this.filled += kQuantum_frames;
      if (this.filled >= kReportFrames) {
        this.filled = 0;
        this.report(this.block.slice());
      }
    }
  }

  private report(block: Float32Array | null = null): void {
    const bedside = this.bedside!;
    this.say({ say: 'now', now: bedside.now(), seen: bedside.seen(), block }, block ? [block.buffer] : []);
    const events = bedside.drain();
    if (events.length > 0) this.say({ say: 'events', events }, []);
  }
}
