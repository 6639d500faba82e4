// The engine behind a loudspeaker, wherever it runs: hears what the page asks, makes the next samples,
// and reports. The audio worklet holds one; so does the page itself where there is no worklet.
import { Hands, type Setup, stamped, textAt } from './hands';
import type { FromEngine, ToEngine } from './protocol';
import { drainEvents, readNow } from './read';

const kQuantum_frames = 128;
const kReportFrames = 1024;

export class Player {
  private hands: Hands | null = null;
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
    const { hands } = this;
    if (!hands) return;
    switch (message.do) {
      case 'deed':
        hands.perform(message.entry);
        this.say({ say: 'done', id: message.entry.id, t: stamped(hands.timeS) }, []);
        break;
      case 'look':
        this.say({ say: 'signs',
          signs: JSON.parse(textAt(hands.engine, hands.engine.phren_findings())) as Record<string, number>,
          answers: message.finding }, []);
        break;
      case 'pause':
        this.isPaused = message.isPaused;
        break;
      case 'pass':
        this.filled = 0;
        hands.engine.phren_run_to(hands.timeS + message.seconds);
        this.report();
        break;
      default:
        break;
    }
  }

  private start(setup: Setup): void {
    try {
      const hands = new Hands(setup, this.rateHz);
      hands.catchUp();
      drainEvents(hands.engine);
      this.hands = hands;
      this.say({ say: 'ready' }, []);
      this.report();
    } catch (error) {
      this.say({ say: 'failed',
        message: error instanceof Error ? error.message : 'The engine could not be started: ' + String(error) }, []);
    }
  }

  // `out` is a whole number of quanta; silence while there is nothing to play.
  fill(out: Float32Array): void {
    const engine = this.hands?.engine;
    if (!engine || this.isPaused) {
      out.fill(0);
      return;
    }
    for (let from = 0; from < out.length; from += kQuantum_frames) {
      const at = engine.phren_render(kQuantum_frames);
      const made = new Float32Array(engine.memory.buffer, at, kQuantum_frames);
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
    const { engine } = this.hands!;
    this.say({ say: 'now', now: readNow(engine), block }, block ? [block.buffer] : []);
    const events = drainEvents(engine);
    if (events.length > 0) this.say({ say: 'events', events }, []);
  }
}
