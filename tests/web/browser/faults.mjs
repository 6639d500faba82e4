// What goes wrong for people, and that the page says what happened and what to do.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, openPage, run, startBrowser } from './harness.mjs';
import { keptEncounter, untilLastIs } from './listening.mjs';

const folder = mkdtempSync(join(tmpdir(), 'phren-faults-'));
const program = process.argv[2];
const anyError = [/./];

await run('faults', async ({ address, browser }) => {
  // A browser without what the engine needs.
  for (const [missing, words] of [['WebAssembly', /WebAssembly is missing/], ['AudioContext', /no Web Audio/]]) {
    const page = await openPage(browser, {}, anyError);
    await page.addInitScript((name) => { delete globalThis[name]; }, missing);
    await page.goto(address + '/#/bedside/asthma');
    const told = await page.getByRole('alert').first().innerText();
    check(words.test(told) && /Firefox|Chrome/.test(told), `without ${missing}: ${told}`);
    await page.context().close();
  }
  // One so old that no script of ours runs.
  const old = await openPage(browser, {}, anyError);
  await old.route('**/*.js', (route) => route.abort());
  await old.goto(address + '/');
  check(/too old/.test(await old.locator('#page').innerText()), `no script runs: ${await old.locator('#page').innerText()}`);
  await old.context().close();

  // The engine cannot be fetched.
  const cut = await openPage(browser, { serviceWorkers: 'block' }, anyError);
  await cut.route('**/engine.wasm', (route) => route.abort());
  await cut.goto(address + '/#/bedside/asthma');
  await cut.getByRole('button', { name: 'Put the chestpiece on' }).click();
  const engine = await cut.getByRole('alert').innerText();
  check(/engine could not be loaded/.test(engine) && /Try again/.test(engine), `no engine: ${engine}`);
  await cut.unroute('**/engine.wasm');
  await cut.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await cut.getByRole('button', { name: 'Lift the chestpiece' }).waitFor();
  check(await cut.getByRole('alert').count() === 0, 'and trying again works, and takes the message away');
  await cut.context().close();

  // A browser that keeps nothing.
  const full = await openPage(browser, {}, anyError);
  await full.addInitScript(() => { IDBObjectStore.prototype.put = () => { throw new DOMException('The quota has been exceeded.', 'QuotaExceededError'); }; });
  await full.goto(address + '/#/bedside/asthma');
  await full.getByRole('button', { name: 'Put the chestpiece on' }).click();
  const storing = await full.getByRole('alert').first().innerText();
  check(/no room left/.test(storing) && /Remove recordings/.test(storing), `storage full: ${storing}`);
  await full.context().close();

  // Huge, endless and odd uploads.
  const bench = await openPage(browser, {}, [/status of 4\d\d/]);
  await bench.goto(address + '/#/bench');
  const say = async (name, make) => {
    const file = join(folder, name);
    make(file);
    await bench.locator('input[type=file]').setInputFiles(file);
    await bench.getByRole('alert').filter({ hasText: name }).waitFor();
    return bench.getByRole('alert').innerText();
  };
  const huge = await say('huge.wav', (file) => { writeFileSync(file, 'RIFF'); truncateSync(file, 65 * 1024 * 1024); });
  check(/65 MB; at most 64 MB/.test(huge), `huge: ${huge}`);
  const endless = await say('endless.flac', (file) => {
    execFileSync(program, ['specimen', 'normal', '--out', file, '--rate', '8000', '--seconds', '2']);
    const bytes = readFileSync(file);  // STREAMINFO now promises 48 hours (RFC 9639, section 8.2)
    bytes[21] = bytes[21] & 0xf0;
    bytes.writeUInt32BE(8000 * 3600 * 48, 22);
    writeFileSync(file, bytes);
  });
  check(/2880 minutes/.test(endless), `endless: ${endless}`);
  const empty = await say('empty.wav', (file) => writeFileSync(file, ''));
  check(/empty/.test(empty), `empty: ${empty}`);

  // The shelf in two tabs.
  const second = await bench.context().newPage();
  await second.goto(address + '/#/bench');
  const wheeze = join(folder, 'two-tabs.flac');
  execFileSync(program, ['specimen', 'wheeze', '--out', wheeze, '--rate', '8000', '--seconds', '3']);
  await bench.locator('input[type=file]').setInputFiles(wheeze);
  await second.getByRole('button', { name: /two-tabs\.flac/ }).waitFor();
  check(true, 'a recording opened in one tab is there in the other');
  await bench.getByRole('button', { name: 'Remove', exact: true }).click();
  await bench.getByRole('button', { name: 'Yes, remove it' }).click();
  await second.getByText('Open a WAV or FLAC file').waitFor();
  check(true, 'and is gone from both when it is removed');
  await bench.context().close();

  // The tab is closed in mid-encounter, the chestpiece on: nothing is lost.
  const killed = await openPage(browser);
  await killed.goto(address + '/#/bedside/right_pneumothorax');
  await killed.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await untilLastIs(killed, 'place');
  await killed.getByRole('button', { name: 'diminished breath sounds' }).click();
  await untilLastIs(killed, 'report');
  const context = killed.context();
  await killed.close();
  const again = await context.newPage();
  await again.goto(address + '/#/bedside');
  await again.getByRole('link', { name: /^Go on/ }).click();
  await again.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await untilLastIs(again, 'place');
  await again.getByRole('button', { name: 'End and debrief' }).click();
  await again.locator('table[data-places]').waitFor();
  const { log } = await keptEncounter(again);
  check(log.map((one) => one.do).join(' ') === 'place report lift place lift end', `closed and gone on: ${log.map((one) => one.do).join(' ')}`);
  check(log.every((one, i) => i === 0 || one.t >= log[i - 1].t), 'its times never fall');
  await context.close();

  // A microphone that works: Chromium's own test device, which plays a file.
  const spoken = join(folder, 'spoken.wav');
  execFileSync(program, ['specimen', 'wheeze', '--out', spoken, '--rate', '48000', '--seconds', '8']);
  const withMicrophone = await startBrowser(['--use-fake-ui-for-media-stream', '--use-fake-device-for-media-stream', `--use-file-for-fake-audio-capture=${spoken}`]);
  try {
    const page = await openPage(withMicrophone, { permissions: ['microphone'] });
    await page.goto(address + '/#/bench');
    await page.getByRole('button', { name: 'Record', exact: true }).click();
    await page.getByText('Hold the chestpiece still').waitFor();
    await page.getByRole('timer').filter({ hasText: /^(9|[1-9]\d+) s$/ }).waitFor();
    await page.getByRole('button', { name: 'Stop recording' }).click();
    await page.getByRole('img', { name: /spectrogram of Recording/ }).waitFor();
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await page.getByRole('heading', { name: /^Measured/ }).waitFor();
    const words = await page.getByRole('heading', { name: /^Measured/ }).innerText();
    check(/Measured: continuous/.test(words), `a wheeze through the microphone: ${words}`);
  } finally {
    await withMicrophone.close();
  }
});
rmSync(folder, { recursive: true, force: true });
