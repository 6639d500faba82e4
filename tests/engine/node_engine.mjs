// Usage: node node_engine.mjs ENGINE.wasm ENCOUNTERS.json  -> one JSON line per encounter
import { readFileSync } from 'node:fs';
import { live } from './run_module.mjs';

const [wasm, file] = process.argv.slice(2);
const bytes = readFileSync(wasm);
const { sites, encounters } = JSON.parse(readFileSync(file, 'utf8'));
for (const one of encounters) console.log(JSON.stringify(live(bytes, { ...one, sites, packet: Buffer.from(one.packet, 'base64') })));
