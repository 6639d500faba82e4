// The audio worklet: holds the engine and makes its sound, one render quantum at a time.
import { Hands, stamped, textAt, type Setup } from './hands';
import type { FromEngine, ToEngine } from './protocol';
import { drainEvents, readNow } from './read';

declare const sampleRate: number;
declare class AudioWorkletProcessor { readonly port: MessagePort }
declare function registerProcessor(name: string, processor: new () => AudioWorkletProcessor): void;

const kReportFrames = 1024;

class EngineProcessor extends AudioWorkletProcessor {
  private hands: Hands | null = null;
  private isPaused = false;
  private block = new Float32Array(kReportFrames);
  private filled = 0;

  constructor() {
    super();
    this.port.onmessage = (event: MessageEvent<ToEngine>) => this.hear(event.data);
  }

  private say(message: FromEngine, transfer: Transferable[] = []): void { this.port.postMessage(message, transfer); }

  private hear(message: ToEngine): void {
    if (message.do === 'start') { this.start(message.setup); return; }
    const { hands } = this;
    if (!hands) return;
    switch (message.do) {
      case 'deed':
        hands.perform(message.entry);
        this.say({ say: 'done', id: message.entry.id, t: stamped(hands.timeS) });
        break;
      case 'look': this.say({ say: 'signs', signs: JSON.parse(textAt(hands.engine, hands.engine.phren_findings())) as Record<string, number>, answers: message.finding }); break;
      case 'pause': this.isPaused = message.isPaused; break;
      case 'pass': this.filled = 0; hands.engine.phren_run_to(hands.timeS + message.seconds); this.report(); break;
      default: break;
    }
  }

  private start(setup: Setup): void {
    try {
      const hands = new Hands(setup, sampleRate);
      hands.catchUp();
      drainEvents(hands.engine);
      this.hands = hands;
      this.say({ say: 'ready' });
      this.report();
    } catch (error) {
      this.say({ say: 'failed', message: error instanceof Error ? error.message : 'The engine could not be started: ' + String(error) });
    }
  }

  process(_inputs: Float32Array[][], outputs: Float32Array[][]): boolean {
    const engine = this.hands?.engine;
    const out = outputs[0]?.[0];
    if (!engine || !out || this.isPaused) return true;
    const at = engine.phren_render(out.length);
    out.set(new Float32Array(engine.memory.buffer, at, out.length));
    this.block.set(out, this.filled);
    this.filled += out.length;
    if (this.filled >= kReportFrames) { this.filled = 0; this.report(this.block.slice()); }
    return true;
  }

  private report(block: Float32Array | null = null): void {
    const { engine } = this.hands!;
    this.say({ say: 'now', now: readNow(engine), block }, block ? [block.buffer] : []);
    const events = drainEvents(engine);
    if (events.length > 0) this.say({ say: 'events', events });
  }
}

registerProcessor('phren-engine', EngineProcessor);
