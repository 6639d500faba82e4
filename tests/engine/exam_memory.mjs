// Usage: node exam_memory.mjs ENGINE.wasm PATIENTS.json  -> one JSON object
// Makes each patient in a module of its own, plays a second, and looks through the whole memory of the module and
// through the packet that the page keeps: for numbers of condition curves, and for what the memory of public
// patients with one condition has in common. exam_memory_test.cc says what may be found.
import { readFileSync } from 'node:fs';
import { Bedside } from './run_module.mjs';

const [wasm, file] = process.argv.slice(2);
const module = new WebAssembly.Module(readFileSync(wasm));
const { sites, known, of_everybody, drawn, control } = JSON.parse(readFileSync(file, 'utf8'));
const kRate_hz = 48000, kRun = 3, kStrides = [1, 2, 3];

function memoryOf(one) {
  const bedside = new Bedside(module), packet = Buffer.from(one.packet, 'base64');
  bedside.make({ packet, sites, seed: one.seed }, [], kRate_hz);
  for (let i = 0; i < 128; i++) bedside.calls.phren_render(kRate_hz / 128);
  bedside.calls.phren_state();
  bedside.calls.phren_drain();
  return { memory: bedside.calls.memory.buffer, packet };
}

// Runs of numbers, by the first of them.
function byFirst(runs) {
  const map = new Map();
  for (const run of runs) map.set(run[0], [...(map.get(run[0]) ?? []), run]);
  return map;
}
function countIn(numbers, runs, round) {
  let found = 0;
  for (let i = 0; i < numbers.length; i++) {
    const v = numbers[i];
    if (v === 0 || !runs.has(v)) continue;
    for (const run of runs.get(v)) {
      for (const stride of kStrides) {
        let k = 1;
        while (k < kRun && numbers[i + k * stride] === round(run[k])) k++;
        if (k === kRun) found++;
      }
    }
  }
  return found;
}
const same = (x) => x;
const asDoubles = byFirst(known), asFloats = byFirst(known.map((run) => run.map(Math.fround)));
const runsIn = (buffer) => countIn(new Float64Array(buffer), asDoubles, same) + countIn(new Float32Array(buffer), asFloats, Math.fround);
// Anywhere, on no boundary: a patient's own curves.
function ownIn(bytes, runs) {
  let found = 0;
  for (const run of runs) found += bytes.indexOf(Buffer.from(new Float64Array(run).buffer)) >= 0 ? 1 : 0;
  return found;
}

// Every pair of eight-byte words that stand together, as 32 bits of a hash; words of nothing are left out.
function windowsOf(buffer) {
  const words = new Uint32Array(buffer), out = new Uint32Array(words.length / 2);
  let n = 0;
  for (let i = 0; i + 4 <= words.length; i += 2) {
    if ((words[i] | words[i + 1]) === 0 || (words[i + 2] | words[i + 3]) === 0) continue;
    let hash = 0x811c9dc5;
    for (let k = 0; k < 4; k++) hash = Math.imul(hash ^ words[i + k], 0x9e3779b1), hash ^= hash >>> 15;
    out[n++] = hash >>> 0;
  }
  return new Set(out.subarray(0, n));
}

// The marks of a condition: windows of public patients who have it, and of none who has not.
const holders = new Map();  // window -> bits of the public patients that have it, as one BigInt would be slow: a list
of_everybody.forEach((one, place) => {
  for (const window of windowsOf(memoryOf(one).memory)) {
    const list = holders.get(window);
    if (list) list.push(place);
    else holders.set(window, [place]);
  }
});
const conditions = [...new Set(of_everybody.flatMap((one) => one.conditions))];
const marks = new Map();  // window -> conditions that it names
for (const [window, places] of holders) {
  const named = conditions.filter((id) => places.every((place) => of_everybody[place].conditions.includes(id)));
  if (named.length > 0) marks.set(window, named);
}
holders.clear();

function guess(buffer) {
  const votes = new Map();
  for (const window of windowsOf(buffer)) {
    for (const id of marks.get(window) ?? []) votes.set(id, (votes.get(id) ?? 0) + 1);
  }
  return [...votes].sort((a, b) => b[1] - a[1]).slice(0, 1);
}
function look(list) {
  const out = { patients: list.length, known_runs: 0, own_runs: 0, in_packets: 0, guessed: 0, right: 0, guesses: [] };
  for (const one of list) {
    const { memory, packet } = memoryOf(one);
    out.known_runs += runsIn(memory);
    out.own_runs += ownIn(Buffer.from(memory), one.curves);
    const whole = packet.buffer.slice(packet.byteOffset, packet.byteOffset + (packet.length & ~7));
    out.in_packets += runsIn(whole) + ownIn(packet, one.curves);
    for (const [id, votes] of guess(memory)) {
      out.guessed++;
      if (one.conditions.includes(id)) out.right++;
      out.guesses.push(`${id}:${votes}${one.conditions.includes(id) ? '!' : ''}`);
    }
    out.bytes = memory.byteLength;
  }
  return out;
}
console.log(JSON.stringify({ marks: marks.size, drawn: look(drawn), control: look(control) }));
