// Plays a script of actions on the engine and returns a hash per 1000 blocks of 128 frames; the same
// file runs in Node and in a page. The native engine makes the same hashes (engine_test.cc).

export function play(wasmBytes, script) {
  const module = new WebAssembly.Module(wasmBytes);
  const imports = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) (imports[name] ??= {})[call] = () => 52;
  const engine = new WebAssembly.Instance(module, imports).exports;
  engine._initialize();
  const at = engine.phren_config_space(script.config.length);
  new Float64Array(engine.memory.buffer, at, script.config.length).set(script.config);
  if (engine.phren_make(script.seed, script.rate_hz) !== 0) throw new Error('phren_make failed');
  const hashes = [];
  let hash = fnvStart(), next = 0;
  for (let block = 0; block < script.blocks; block++) {
    while (next < script.actions.length && script.actions[next].block === block) {
      const { call, values } = script.actions[next++];
      engine[call](...values);
    }
    const bits = new Uint32Array(engine.memory.buffer, engine.phren_render(128), 128);
    for (let i = 0; i < 128; i++) hash = fnv(hash, bits[i]);
    if (block % 1000 === 999) hashes.push(hash >>> 0);
    engine.phren_drain();
  }
  hashes.push(hash >>> 0);
  return hashes;
}

// 32-bit FNV-1a over whole samples.
export function fnvStart() { return 0x811c9dc5 | 0; }
export function fnv(hash, word) { return Math.imul(hash ^ word, 0x01000193); }
