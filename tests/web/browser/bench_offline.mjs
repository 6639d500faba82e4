// Recordings are measured on the device: with the server's measurement blocked, watched for requests, and with the
// server gone altogether. The page says what the program says; measure all goes through with progress.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, openPage, program, run, screenFile } from './harness.mjs';

const folder = mkdtempSync(join(tmpdir(), 'phren-bench-'));
const make = (kind, ending, rate) => {
  const file = join(folder, `${kind}.${ending}`);
  execFileSync(program, ['specimen', kind, '--out', file, '--rate', String(rate), '--seconds', '15']);
  return file;
};
const gone = [/ERR_CONNECTION_REFUSED/, /ERR_INTERNET_DISCONNECTED/];

// What lies in the shelf's database of this browser.
const kept = (page) => page.evaluate(() => new Promise((resolve, reject) => {
  const opening = indexedDB.open('phren');
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const all = opening.result.transaction('recordings').objectStore('recordings').getAll();
    all.onsuccess = () => resolve(all.result.map(({ name, measurement }) => ({ name, measurement })));
    all.onerror = () => reject(all.error);
  };
}));

await run('bench offline', async ({ address, browser, server }) => {
  const files = [make('wheeze', 'wav', 8000), make('fine_crackles', 'wav', 44100), make('rhonchus', 'flac', 8000)];
  const native = execFileSync(program, ['measure', '--json', ...files], { encoding: 'utf8' }).trim().split('\n').map((line) => JSON.parse(line));
  const page = await openPage(browser, {}, gone);
  const loaded = [];
  page.context().on('request', (request) => loaded.push(new URL(request.url()).pathname));
  await page.context().route('**/api/v1/measurement', (route) => route.abort());
  await page.goto(address + '/');
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForLoadState('networkidle');
  check(!loaded.some((path) => /measurer(_model)?\.(wasm|bin)$/.test(path)), 'the front page loads no measurer');
  await page.goto(address + '/#/bench');
  await page.getByRole('heading', { name: 'Bench' }).waitFor();
  await page.waitForFunction(async () => (await Promise.all(['/measurer.wasm', '/measurer_model.bin'].map((path) => caches.match(path)))).every(Boolean));
  check(loaded.includes('/measurer.wasm') && loaded.includes('/measurer_model.bin'), 'the Bench loads it and it is kept');

  await page.locator('input[type=file]').setInputFiles(files[0]);
  await page.getByRole('img', { name: /spectrogram of wheeze\.wav/ }).waitFor();
  await page.waitForLoadState('networkidle');
  const asked = [];
  page.context().on('request', (request) => { if (/^https?:/.test(request.url())) asked.push(`${request.method()} ${new URL(request.url()).pathname}${new URL(request.url()).search} ${request.postDataBuffer()?.length ?? 0}`); });
  const start = Date.now();
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  await page.getByRole('heading', { name: /^Measured/ }).waitFor();
  console.log(`       ${((Date.now() - start) / 1000).toFixed(2)} s from the tap to the first verdict on 15 s of sound, the module's start with it`);
  // The list of sites, and the pages' own files, are the same for every recording.
  const sent = asked.filter((line) => !/^GET (\/measurer[_.a-z]*|\/assets\/measurer_worker[^ ]*\.js|\/api\/v1\/sites) 0$/.test(line));
  check(sent.length === 0, `nothing of the recording leaves the page while it is measured${sent.length ? ': ' + sent.join(', ') : ''}`);

  await server.stop();
  await page.reload();
  await page.getByRole('button', { name: /wheeze\.wav/ }).waitFor();
  await page.locator('input[type=file]').setInputFiles(files.slice(1));
  await page.getByRole('img', { name: /spectrogram of rhonchus\.flac/ }).waitFor();
  await page.getByRole('button', { name: 'Measure all' }).click();
  await page.getByRole('status').filter({ hasText: /of 2 measured/ }).waitFor();
  check(true, 'measure all shows how far it is');
  const list = page.getByRole('region', { name: 'Recordings' });
  await page.waitForFunction(() => document.querySelectorAll('.plain-list li').length === 3 && ![...document.querySelectorAll('.plain-list li')].some((one) => !/teach from/.test(one.textContent)));
  console.log((await list.innerText()).replace(/^/gm, '       '));
  await page.screenshot({ path: screenFile('bench-all-measured'), fullPage: true });
  const shelf = await kept(page);
  for (const [i, name] of ['wheeze.wav', 'fine_crackles.wav', 'rhonchus.flac'].entries()) {
    const ours = shelf.find((one) => one.name === name)?.measurement, theirs = native[i];
    const apart = ours ? Math.max(...Object.keys(theirs.record.probabilities).map((key) => Math.abs(ours.record.probabilities[key] - theirs.record.probabilities[key]))) : 1;
    check(ours?.record.label === theirs.record.label && apart <= 1e-5 + 1e-9, `${name}, server gone: ${ours?.record.label}, the program ${theirs.record.label}; probabilities ${apart.toExponential(1)} apart`);
  }
});
rmSync(folder, { recursive: true, force: true });
