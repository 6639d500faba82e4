// The recording side of the microphone, on the sound thread: a busy page loses nothing of what is heard.
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new() => AudioWorkletProcessor): void;

const kBlock_frames = 1024;

// Sends what it hears as Float32Array blocks of one channel; any message ends it.
class Taker extends AudioWorkletProcessor {
  private block = new Float32Array(kBlock_frames);
  private filled = 0;
  private isOver = false;

  constructor() {
    super();
    this.port.onmessage = () => {
      this.isOver = true;
    };
  }

  process(inputs: Float32Array[][]): boolean {
    const heard = inputs[0]?.[0];
    if (heard && !this.isOver) {
      this.block.set(heard, this.filled);
      this.filled += heard.length;
      if (this.filled >= kBlock_frames) {
        this.port.postMessage(this.block, [this.block.buffer]);
        this.block = new Float32Array(kBlock_frames);
        this.filled = 0;
      }
    }
    return !this.isOver;
  }
}

registerProcessor('phren-taker', Taker);
