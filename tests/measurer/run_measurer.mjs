// The measurer's module (src/app/measurer/exports.cc) in Node, as web/src/bench/measurer_worker.ts calls it.
import { readFileSync } from 'node:fs';

export class Measurer {
  constructor(wasmFile, modelFile) {
    const module = new WebAssembly.Module(readFileSync(wasmFile)), imports = {};
    for (const { module: name, name: call } of WebAssembly.Module.imports(module)) (imports[name] ??= {})[call] = () => 52;
    this.calls = new WebAssembly.Instance(module, imports).exports;
    this.calls._initialize();
    if (modelFile) this.load(readFileSync(modelFile));
  }
  load(bytes) {
    this.give(bytes);
    if (this.calls.phren_load() !== 0) throw new Error(this.text(this.calls.phren_error()));
  }
  give(bytes) {
    const at = this.calls.phren_space(bytes.length);
    new Uint8Array(this.calls.memory.buffer, at, bytes.length).set(bytes);
  }
  text(at) {
    const bytes = new Uint8Array(this.calls.memory.buffer, at);
    return new TextDecoder().decode(bytes.slice(0, bytes.indexOf(0)));
  }
  // { code, said, measured }: 0 and what was measured, 1 and what is wrong, 2: not a file that is read here.
  answer(code) {
    if (code !== 0) return { code, said: this.text(this.calls.phren_error()) };
    return { code, measured: JSON.parse(this.text(this.calls.phren_result())), words: this.calls.phren_words() };
  }
  file(bytes) {
    this.give(bytes);
    return this.answer(this.calls.phren_measure_file());
  }
  samples(samples, rateHz) {
    const at = this.calls.phren_samples(samples.length);
    new Float32Array(this.calls.memory.buffer, at, samples.length).set(samples);
    return this.answer(this.calls.phren_measure_samples(rateHz));
  }
}
