// The browser's measurement says what `phren measure` says: specimens of every kind, as WAV of other rates and codings,
// labels the same and every number of the JSON within 1e-5 where it is a probability. Damaged and foreign files are
// refused in words. With PHREN_WAVS naming a folder of WAV files, those are compared too.
// Usage: node same_numbers.mjs PHREN MEASURER.wasm MODEL.bin
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { Measurer } from './run_measurer.mjs';

const [program, wasm, model] = process.argv.slice(2);
let failures = 0;
const check = (isTrue, words) => {
  if (!isTrue) failures++;
  console.log((isTrue ? '  ok   ' : '  FAIL ') + words);
};
const folder = mkdtempSync(join(tmpdir(), 'phren-measurer-'));
const measurer = new Measurer(wasm, model);
const kWithin = 1e-5 + 1e-9; // the JSON has five decimals

// The largest difference of two lists of probabilities.
const apart = (a, b) => Math.max(0, ...Object.keys(a).map((key) => Math.abs(a[key] - b[key])));
// What differs in words, lists' lengths and places in time; and the largest difference of a probability.
function compare(native, ours) {
  const words = [];
  const same = (what, a, b) => { if (JSON.stringify(a) !== JSON.stringify(b)) words.push(`${what}: ${JSON.stringify(a)} natively, ${JSON.stringify(b)}`); };
  same('label', native.record.label, ours.record.label);
  same('verdict', native.verdict, ours.verdict);
  same('quality', [native.quality.usable, native.quality.reasons], [ours.quality.usable, ours.quality.reasons]);
  same('text beside the sound', native.has_metadata_text, ours.has_metadata_text);
  same('length and rate', [native.duration_s, native.sample_rate_hz], [ours.duration_s, ours.sample_rate_hz]);
  same('breaths', native.events.map((one) => [one.start_ms, one.end_ms, one.label]), ours.events.map((one) => [one.start_ms, one.end_ms, one.label]));
  same('tones', native.tones.length, ours.tones.length);
  same('crackles', native.crackles.length, ours.crackles.length);
  let most = apart(native.record.probabilities, ours.record.probabilities);
  native.events.forEach((one, i) => { if (ours.events[i]) most = Math.max(most, apart(one.probabilities, ours.events[i].probabilities)); });
  return { words, most };
}

const measureNatively = (files) => execFileSync(program, ['measure', '--json', ...files], { encoding: 'utf8', maxBuffer: 1 << 28 })
  .trim().split('\n').map((line) => JSON.parse(line));

function compareAll(what, files) {
  const native = measureNatively(files);
  let most = 0, breaths = 0, different = 0, seconds = 0, took_s = 0;
  files.forEach((file, i) => {
    const bytes = readFileSync(file), start = performance.now();
    const { code, said, measured } = measurer.file(bytes);
    took_s += (performance.now() - start) / 1000;
    if (code !== 0) { check(false, `${basename(file)}: ${said}`); return; }
    const found = compare(native[i], measured);
    if (found.words.length > 0 || found.most > kWithin) {
      different++;
      console.log(`       ${basename(file)}: ${found.most.toExponential(1)} ${found.words.join('; ')}`);
    }
    most = Math.max(most, found.most);
    breaths += measured.events.length;
    seconds += measured.duration_s;
  });
  check(different === 0, `${what}: ${files.length} recordings, ${breaths} breaths: ${different} differ; probabilities at most ${most.toExponential(1)} apart`);
  console.log(`       ${(15 * took_s / seconds).toFixed(2)} s for 15 s of sound`);
}

const kinds = ['wheeze', 'fine_crackles', 'coarse_crackles', 'rhonchus', 'stridor', 'normal', 'squawk', 'pleural_rub', 'cough', 'third_heart_sound'];
const made = [];
let n = 0;
for (const kind of kinds) {
  for (const rate of [[4000, 8000, 44100, 48000][n % 4], [11025, 16000, 22050, 32000][n % 4]]) {
    const file = join(folder, `${kind}-${rate}.wav`);
    execFileSync(program, ['specimen', kind, '--out', file, '--rate', String(rate), '--seconds', '15']);
    made.push(file);
  }
  n++;
}
check(made.length >= 10, `${made.length} recordings made`);
compareAll('specimens', made);

// What the browser decodes itself comes in as samples: the same numbers as from the file.
const bytes = readFileSync(made[0]), data = bytes.indexOf('data') + 8;
const pcm = new Int16Array(bytes.buffer.slice(bytes.byteOffset + data, bytes.byteOffset + data + bytes.readUInt32LE(data - 4)));
const fromFile = measurer.file(bytes).measured, rate = bytes.readUInt32LE(24);
const fromSamples = measurer.samples(Float32Array.from(pcm, (x) => x / 32768), rate).measured;
check(JSON.stringify(fromFile) === JSON.stringify(fromSamples), 'samples give what their file gives');

const flac = join(folder, 'wheeze.flac');
execFileSync(program, ['specimen', 'wheeze', '--out', flac, '--rate', '8000', '--seconds', '3']);
check(measurer.file(readFileSync(flac)).code === 2, 'a FLAC is left to the browser to decode');
const cut = measurer.file(bytes.subarray(0, 1000));
check(cut.code === 1 && /cut short, \d+ bytes/.test(cut.said), `a cut file: ${cut.said}`);
const tiny = measurer.samples(new Float32Array(80), 8000);
check(tiny.code === 1 && /at least 100 ms/.test(tiny.said), `a recording of 10 ms: ${tiny.said}`);
const broken = measurer.samples(new Float32Array(8000).fill(NaN), 8000);
check(broken.code === 1 && /not a number/.test(broken.said), `samples that are no numbers: ${broken.said}`);
const silent = measurer.samples(new Float32Array(16000), 8000);
check(silent.code === 0 && !silent.measured.quality.usable, 'silence is measured and not to teach from');
const damaged = Buffer.from(readFileSync(model));
damaged[damaged.length >> 1] ^= 1;
let said = '';
try { new Measurer(wasm, null).load(damaged); } catch (error) { said = error.message; }
check(/checksum/.test(said), `damaged models: ${said}`);

const size = gzipSync(readFileSync(wasm), { level: 9 }).length + gzipSync(readFileSync(model), { level: 9 }).length;
check(size <= 1.2e6, `module and models: ${size} bytes with gzip (module ${gzipSync(readFileSync(wasm), { level: 9 }).length}); at most 1,200,000`);

if (process.env.PHREN_WAVS) {
  const all = readdirSync(process.env.PHREN_WAVS).filter((name) => name.endsWith('.wav')).map((name) => join(process.env.PHREN_WAVS, name));
  compareAll(process.env.PHREN_WAVS, all);
}
rmSync(folder, { recursive: true, force: true });
console.log(`same numbers: ${failures === 0 ? 'passed' : failures + ' failed'}`);
process.exit(failures === 0 ? 0 : 1);
