// Usage: node browser_engine.mjs ENGINE.wasm SCRIPT.json  -> one hash per line
// Renders in headless Chromium, in an audio worklet of an offline audio context, as the page does,
// and hashes what comes out of the context.
import { createServer } from 'node:http';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const web = new URL('../../web/package.json', import.meta.url);
const { chromium } = createRequire(web)('playwright-core');
const [wasm, scriptFile] = process.argv.slice(2);
const script = JSON.parse(readFileSync(scriptFile, 'utf8'));

const worklet = `
class Player extends AudioWorkletProcessor {
  constructor(options) {
    super();
    const { wasm, script } = options.processorOptions;
    this.script = script; this.next = 0; this.block = 0;
    const module = new WebAssembly.Module(wasm);
    const imports = {};
    for (const { module: name, name: call } of WebAssembly.Module.imports(module)) (imports[name] ??= {})[call] = () => 52;
    const engine = this.engine = new WebAssembly.Instance(module, imports).exports;
    engine._initialize();
    const at = engine.phren_config_space(script.config.length);
    new Float64Array(engine.memory.buffer, at, script.config.length).set(script.config);
    if (engine.phren_make(script.seed, script.rate_hz) !== 0) throw new Error('phren_make failed');
  }
  process(inputs, outputs) {
    const { actions } = this.script;
    while (this.next < actions.length && actions[this.next].block === this.block) {
      const { call, values } = actions[this.next++];
      this.engine[call](...values);
    }
    this.block++;
    outputs[0][0].set(new Float32Array(this.engine.memory.buffer, this.engine.phren_render(128), 128));
    this.engine.phren_drain();
    return true;
  }
}
registerProcessor('player', Player);
`;
const runner = readFileSync(new URL('./run_engine.mjs', import.meta.url), 'utf8');
const files = {
  '/': ['text/html', '<!doctype html><title>engine</title>'],
  '/worklet.js': ['text/javascript', worklet],
  '/run_engine.mjs': ['text/javascript', runner],
  '/engine.wasm': ['application/wasm', readFileSync(wasm)],
  '/script.json': ['application/json', JSON.stringify(script)],
};
const server = createServer((request, response) => {
  const file = files[request.url];
  response.writeHead(file ? 200 : 404, { 'Content-Type': file ? file[0] : 'text/plain' });
  response.end(file ? file[1] : 'not here');
}).listen(0, '127.0.0.1');
await new Promise((resolve) => server.once('listening', resolve));
const browser = await chromium.launch({ executablePath: process.env.PHREN_CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox'] });
try {
  const page = await browser.newPage();
  await page.goto(`http://127.0.0.1:${server.address().port}/`);
  const hashes = await page.evaluate(async () => {
    const { fnv, fnvStart } = await import('/run_engine.mjs');
    const script = await (await fetch('/script.json')).json();
    const wasm = await (await fetch('/engine.wasm')).arrayBuffer();
    const context = new OfflineAudioContext(1, script.blocks * 128, script.rate_hz);
    await context.audioWorklet.addModule('/worklet.js');
    const node = new AudioWorkletNode(context, 'player', { numberOfInputs: 0, outputChannelCount: [1], processorOptions: { wasm, script } });
    node.connect(context.destination);
    const sound = (await context.startRendering()).getChannelData(0);
    const bits = new Uint32Array(sound.buffer, sound.byteOffset, sound.length);
    const out = [];
    let hash = fnvStart();
    for (let i = 0; i < bits.length; i++) {
      hash = fnv(hash, bits[i]);
      if ((i + 1) % 128000 === 0) out.push(hash >>> 0);
    }
    out.push(hash >>> 0);
    return out;
  });
  console.log(hashes.join('\n'));
} finally {
  await browser.close();
  server.close();
}
