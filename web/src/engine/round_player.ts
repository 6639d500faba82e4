// The engine of one device of a round behind a loudspeaker (src/bedside/round_playout.h): lives no further than
// the server has said, and tells where it stands.
import { BedsideModule } from './module';
import type { FromEngine, RoundSetup, ToEngine } from './protocol';

const kQuantum_frames = 128;
const kReportFrames = 1024;

export class RoundPlayer {
  private bedside: BedsideModule | null = null;
  private block = new Float32Array(kReportFrames);
  private filled = 0;
  private isPlaying = false;

  constructor(private readonly say: (message: FromEngine, transfer: Transferable[]) => void,
    private readonly rateHz: number)
  {}

  hear(message: ToEngine): void {
    if (message.do === 'start_round') {
      this.start(message.setup);
      return;
    }
    const { bedside } = this;
    if (!bedside) return;
    try {
      switch (message.do) {
        case 'deed': {
          const { t } = bedside.perform(message.entry);
          this.standing();
          const { take, step } = bedside.roundStanding();
          this.say({ say: 'own', entry: { ...message.entry, t }, take, step }, []);
          break;
        }
        case 'look':
          this.say({ say: 'findings', findings: bedside.ask('findings', {}), answers: message.finding }, []);
          break;
        case 'lines': {
          const next = bedside.roundHear(message.lines);
          this.say({ say: 'wants', n: next }, []);
          this.standing();
          break;
        }
        case 'beat':
          bedside.roundAllow(message.take, message.step, message.last);
          break;
        case 'catch_up':
          bedside.roundCatchUp();
          this.standing();
          this.report();
          break;
        case 'live_again':
          bedside.roundLiveAgain();
          this.standing();
          break;
        default:
          break;
      }
    } catch (error) {
      this.say({ say: 'failed', message: (error as Error).message }, []);
    }
  }

  private start(setup: RoundSetup): void {
    try {
      const bedside = BedsideModule.start(setup.wasm);
      bedside.makeRound(setup, this.rateHz);
      this.bedside = bedside;
      this.say({ say: 'ready', instruments: [] }, []);
    } catch (error) {
      this.say({ say: 'failed',
        message: error instanceof Error ? error.message : 'The engine could not be started: ' + String(error) }, []);
    }
  }

  // What has happened to the device since it was looked at last.
  private standing(): void {
    const now = this.bedside!.roundStanding();
    if (now.hasTakenUp) this.say({ say: 'taken_up', take: now.take, step: now.step }, []);
    if (now.sum) this.say({ say: 'sum', ...now.sum }, []);
    if (now.isPlaying !== this.isPlaying) {
      this.isPlaying = now.isPlaying;
      this.say({ say: 'playing', isPlaying: now.isPlaying }, []);
      if (!now.isPlaying) this.report();
    }
  }

  fill(out: Float32Array): void {
    const { bedside } = this;
    if (!bedside) {
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
        this.standing();
        if (this.isPlaying) this.report(this.block.slice());
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
