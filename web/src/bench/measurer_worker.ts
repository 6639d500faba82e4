// Measures recordings beside the page: the module of src/app/measurer with the trained models. Nothing is sent.
import { noSystem } from '../engine/module';
import type { Measurement } from './measurement';

export type ToMeasurer = { ask: 'start'; wasm: ArrayBuffer; model: ArrayBuffer } | { ask: 'file'; bytes: ArrayBuffer }
  | {
    ask: 'samples';
    samples: Float32Array;
    rateHz: number;
  };
// not_read: no WAV, so the samples that the browser decoded are wanted.
export type FromMeasurer = { tell: 'ready' } | { tell: 'not_read' } | { tell: 'measured'; measurement: Measurement } | {
  tell: 'failed';
  message: string;
};

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  phren_space(bytes: number): number;
  phren_error(): number;
  phren_load(): number;
  phren_measure_file(): number;
  phren_samples(count: number): number;
  phren_measure_samples(rateHz: number): number;
  phren_result(): number;
  phren_words(): number;
}
const kNotRead = 2, kNotLookedFor = 2;

class Measurer {
  private readonly calls: Exports;

  constructor(wasm: ArrayBuffer, model: ArrayBuffer) {
    const module = new WebAssembly.Module(wasm);
    this.calls = new WebAssembly.Instance(module, noSystem(module)).exports as unknown as Exports;
    this.calls._initialize();
    this.give(model);
    if (this.calls.phren_load() !== 0) throw new Error(this.text(this.calls.phren_error()));
  }
  file(bytes: ArrayBuffer): FromMeasurer {
    this.give(bytes);
    return this.answer(this.calls.phren_measure_file());
  }
  samples(samples: Float32Array, rateHz: number): FromMeasurer {
    const at = this.calls.phren_samples(samples.length);
    new Float32Array(this.calls.memory.buffer, at, samples.length).set(samples);
    return this.answer(this.calls.phren_measure_samples(rateHz));
  }

  private answer(code: number): FromMeasurer {
    if (code === kNotRead) return { tell: 'not_read' };
    if (code !== 0) return { tell: 'failed', message: this.text(this.calls.phren_error()) };
    const measurement = JSON.parse(this.text(this.calls.phren_result())) as Measurement;
    return { tell: 'measured',
      measurement: { ...measurement, is_text_looked_for: this.calls.phren_words() !== kNotLookedFor } };
  }
  private give(bytes: ArrayBuffer): void {
    const at = this.calls.phren_space(bytes.byteLength);
    new Uint8Array(this.calls.memory.buffer, at, bytes.byteLength).set(new Uint8Array(bytes));
  }
  private text(at: number): string {
    const bytes = new Uint8Array(this.calls.memory.buffer, at);
    return new TextDecoder().decode(bytes.slice(0, bytes.indexOf(0)));
  }
}

const scope = self as unknown as { onmessage: (event: MessageEvent<ToMeasurer>) => void;
  postMessage(message: FromMeasurer): void };
let measurer: Measurer | null = null;
scope.onmessage = ({ data }) => {
  try {
    if (data.ask === 'start') {
      measurer = new Measurer(data.wasm, data.model);
      scope.postMessage({ tell: 'ready' });
    } else {
      scope.postMessage(
        data.ask === 'file' ? measurer!.file(data.bytes) : measurer!.samples(data.samples, data.rateHz),
      );
    }
  } catch (error) { // a module that stopped cannot go on: whoever asked starts another
    scope.postMessage({ tell: 'failed', message: `The measurement stopped: ${(error as Error).message}` });
  }
};
