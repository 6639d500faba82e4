// Usage: node node_engine.mjs ENGINE.wasm SCRIPT.json  -> one hash per line
import { readFileSync } from 'node:fs';
import { play } from './run_engine.mjs';

const [wasm, script] = process.argv.slice(2);
console.log(play(readFileSync(wasm), JSON.parse(readFileSync(script, 'utf8'))).join('\n'));
