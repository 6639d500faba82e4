// Usage: node browser_engine.mjs ENGINE.wasm ENCOUNTERS.json  -> one JSON line per encounter
// The same as node_engine.mjs, in headless Chromium; the first encounter is also rendered in an audio worklet of
// an offline audio context, and what comes out of the context must be the same samples.
import { createServer } from 'node:http';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const web = new URL('../../web/package.json', import.meta.url);
const { chromium } = createRequire(web)('playwright-core');
const [wasm, encounters] = process.argv.slice(2);
const runner = readFileSync(new URL('./run_module.mjs', import.meta.url), 'utf8');
const worklet = runner.replaceAll('export ', '') + `
class Player extends AudioWorkletProcessor {
  constructor(options) {
    super();
    const { wasm, one } = options.processorOptions;
    this.bedside = new Bedside(new WebAssembly.Module(wasm));
    this.bedside.make(one, one.log, 48000);
  }
  process(inputs, outputs) {
    const { calls } = this.bedside;
    outputs[0][0].set(new Float32Array(calls.memory.buffer, calls.phren_render(128), 128));
    calls.phren_drain();
    return true;
  }
}
registerProcessor('player', Player);
`;
const files = {
  '/': ['text/html', '<!doctype html><title>engine</title>'],
  '/worklet.js': ['text/javascript', worklet],
  '/run_module.mjs': ['text/javascript', runner],
  '/engine.wasm': ['application/wasm', readFileSync(wasm)],
  '/encounters.json': ['application/json', readFileSync(encounters)],
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
  const lines = await page.evaluate(async () => {
    const { live, fnv, fnvStart } = await import('/run_module.mjs');
    const { sites, encounters } = await (await fetch('/encounters.json')).json();
    const wasm = await (await fetch('/engine.wasm')).arrayBuffer();
    const all = encounters.map((one) => ({ ...one, sites, packet: Uint8Array.from(atob(one.packet), (c) => c.charCodeAt(0)) }));
    const out = all.map((one) => live(wasm, one));
    const context = new OfflineAudioContext(1, out[0].frames, 48000);
    await context.audioWorklet.addModule('/worklet.js');
    const one = { ...all[0], log: out[0].log };
    const node = new AudioWorkletNode(context, 'player', { numberOfInputs: 0, outputChannelCount: [1], processorOptions: { wasm, one } });
    node.connect(context.destination);
    const sound = (await context.startRendering()).getChannelData(0);
    let hash = fnvStart();
    for (const word of new Uint32Array(sound.buffer, sound.byteOffset, sound.length)) hash = fnv(hash, word);
    out[0].hash = hash >>> 0;
    return out.map((line) => JSON.stringify(line));
  });
  console.log(lines.join('\n'));
} finally {
  await browser.close();
  server.close();
}
