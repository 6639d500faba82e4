// The audio worklet: holds the engine and makes its sound, one render quantum at a time.
import { Player } from './player';
import type { FromEngine, ToEngine } from './protocol';
import { RoundPlayer } from './round_player';

declare const sampleRate: number;
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new() => AudioWorkletProcessor): void;

class EngineProcessor extends AudioWorkletProcessor {
  private player: Player | RoundPlayer | null = null;

  constructor() {
    super();
    const say = (message: FromEngine, transfer: Transferable[]) => this.port.postMessage(message, transfer);
    this.port.onmessage = ({ data }: MessageEvent<ToEngine>) => {
      this.player ??= data.do === 'start_round' ? new RoundPlayer(say, sampleRate) : new Player(say, sampleRate);
      this.player.hear(data);
    };
  }

  process(_inputs: Float32Array[][], outputs: Float32Array[][]): boolean {
    const out = outputs[0]?.[0];
    if (out) this.player?.fill(out);
    return true;
  }
}

registerProcessor('phren-engine', EngineProcessor);
