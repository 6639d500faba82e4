// The audio worklet: holds the engine and makes its sound, one render quantum at a time.
import { Player } from './player';
import type { ToEngine } from './protocol';

declare const sampleRate: number;
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new() => AudioWorkletProcessor): void;

class EngineProcessor extends AudioWorkletProcessor {
  private readonly player = new Player((message, transfer) => this.port.postMessage(message, transfer), sampleRate);

  constructor() {
    super();
    this.port.onmessage = (event: MessageEvent<ToEngine>) => this.player.hear(event.data);
  }

  process(_inputs: Float32Array[][], outputs: Float32Array[][]): boolean {
    const out = outputs[0]?.[0];
    if (out) this.player.fill(out);
    return true;
  }
}

registerProcessor('phren-engine', EngineProcessor);
