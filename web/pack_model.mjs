// The trained models as the Bench loads them: four lengths (32 bits, little end first), then the four files
// (src/app/measurer/exports.cc reads this). Usage: node web/pack_model.mjs OUT EVENTS POOR DECISION NETWORK
import { readFileSync, writeFileSync } from 'node:fs';

const [out, ...files] = process.argv.slice(2);
const parts = files.map((file) => readFileSync(file));
const lengths = Buffer.alloc(4 * parts.length);
parts.forEach((part, i) => lengths.writeUInt32LE(part.length, 4 * i));
writeFileSync(out, Buffer.concat([lengths, ...parts]));
