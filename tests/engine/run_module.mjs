// Lives one encounter in the browser module, in Node or in a page: first live, a deed at a time as the page
// sends them, hashing every sample; then again from the log that came of it. replay_bits_test.cc compares.
// `one`: { packet: bytes, sites, seed, log: [...] }.

export function imports(module) {
  const out = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) (out[name] ??= {})[call] = () => 52;
  return out;
}

const bytesOf = (text) => Uint8Array.from(unescape(encodeURIComponent(text)), (c) => c.charCodeAt(0));
// 64-bit FNV-1a would need BigInt; two 32-bit lanes of it over whole samples are enough to see one wrong bit.
export const fnvStart = () => 0x811c9dc5 | 0;
export const fnv = (hash, word) => Math.imul(hash ^ word, 0x01000193);

export class Bedside {
  constructor(module) {
    this.calls = new WebAssembly.Instance(module, imports(module)).exports;
    this.calls._initialize();
  }
  give(bytes) {
    const at = this.calls.phren_space(bytes.length);
    new Uint8Array(this.calls.memory.buffer, at, bytes.length).set(bytes);
    return bytes.length;
  }
  text(at) {
    const bytes = new Uint8Array(this.calls.memory.buffer);
    let out = '';
    for (let i = at; bytes[i]; i++) out += String.fromCharCode(bytes[i]);
    return decodeURIComponent(escape(out));
  }
  make(one, log, rate) {
    if (this.calls.phren_sites(this.give(bytesOf(JSON.stringify(one.sites)))) !== 0) throw new Error(this.text(this.calls.phren_error()));
    const words = bytesOf(JSON.stringify(log)), both = new Uint8Array(one.packet.length + words.length);
    both.set(one.packet);
    both.set(words, one.packet.length);
    this.give(both);
    if (this.calls.phren_make(one.packet.length, words.length, one.seed, rate) !== 0) throw new Error(this.text(this.calls.phren_error()));
  }
  timeS() { return new Float64Array(this.calls.memory.buffer, this.calls.phren_state(), 1)[0]; }
  perform(entry) {
    const line = this.text(this.calls.phren_perform(this.give(bytesOf(JSON.stringify(entry)))));
    if (!line) throw new Error(this.text(this.calls.phren_error()));
    return JSON.parse(line);
  }
}

const kRate_hz = 48000, kStep_frames = kRate_hz / 128;

export function live(wasm, one) {
  const module = new WebAssembly.Module(wasm);
  const playing = new Bedside(module), log = [];
  playing.make(one, [], kRate_hz);
  let hash = fnvStart(), frames = 0;
  const waiting = [...one.log];
  // To the end of the log as it was stamped, as a replay goes: the last deed is felt at the first step after its time.
  for (;;) {
    while (waiting.length > 0 && waiting[0].t <= playing.timeS()) log.push(playing.perform(waiting.shift()));
    if (waiting.length === 0 && playing.timeS() > log.at(-1).t) break;
    const bits = new Uint32Array(playing.calls.memory.buffer, playing.calls.phren_render(kStep_frames), kStep_frames);
    for (let i = 0; i < kStep_frames; i++) hash = fnv(hash, bits[i]);
    frames += kStep_frames;
    playing.calls.phren_drain();
  }
  const again = new Bedside(module);
  again.make(one, log, kRate_hz);
  return { hash: hash >>> 0, frames, log, relived: again.text(again.calls.phren_relived()) };
}
