// Recordings become a case: placed, with a key and consent; saved as one file, opened again elsewhere,
// listened to at their places, and judged against the key. Damaged files say what is wrong.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, openPage, run, screenFile } from './harness.mjs';

const folder = mkdtempSync(join(tmpdir(), 'phren-recorded-'));
const program = process.argv[2];
const kName = 'anna-larsen-1961';

// A WAV with a text chunk that names somebody (RIFF INFO), as some recorders write it.
function withName(file) {
  const plain = readFileSync(file);
  const text = Buffer.from(`${kName}\0\0`.slice(0, 18));
  const info = Buffer.concat([Buffer.from('LIST'), Buffer.from([12 + text.length, 0, 0, 0]), Buffer.from('INFOIART'), Buffer.from([text.length, 0, 0, 0]), text]);
  const out = Buffer.concat([plain, info]);
  out.writeUInt32LE(out.length - 8, 4);
  writeFileSync(file, out);
}

await run('recorded case', async ({ address, browser }) => {
  const wheeze = join(folder, kName + '.wav'), normal = join(folder, 'right.wav');
  execFileSync(program, ['specimen', 'wheeze', '--out', wheeze, '--rate', '8000', '--seconds', '6']);
  execFileSync(program, ['specimen', 'normal', '--out', normal, '--rate', '8000', '--seconds', '6']);
  withName(wheeze);
  const page = await openPage(browser, { acceptDownloads: true });
  await page.goto(address + '/#/bench');
  for (const [file, site] of [[wheeze, 'F6'], [normal, 'F5']]) {
    await page.locator('input[type=file]').setInputFiles(file);
    await page.getByRole('img', { name: new RegExp(`spectrogram of ${file.split('/').at(-1)}`) }).waitFor();
    await page.getByLabel('Taken at').selectOption(site);
  }
  await page.getByRole('button', { name: 'Make a case' }).click();
  const panel = page.getByRole('region', { name: 'Make a case' });
  await panel.getByRole('textbox', { name: 'Title' }).fill('One side sings');
  await panel.getByRole('group', { name: /^F6/ }).getByRole('button', { name: 'wheeze', exact: true }).click();
  await page.screenshot({ path: screenFile('bench-make-case'), fullPage: true });
  check(await panel.getByRole('button', { name: 'Make the case' }).isDisabled(), 'no case without consent');
  await panel.getByLabel(/agreed to teaching use/).check();
  await panel.getByRole('button', { name: 'Make the case' }).click();
  await page.getByRole('heading', { name: 'One side sings' }).waitFor();

  await page.getByRole('button', { name: 'End and see the answers' }).click();
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save as one file' }).click()]);
  const file = join(folder, 'case.recorded-case.json');
  await download.saveAs(file);
  const text = readFileSync(file, 'utf8');
  const json = JSON.parse(text);
  const all = text + json.recordings.map((one) => Buffer.from(one.wav, 'base64').toString('latin1')).join('');
  check(json.recordings.length === 2 && !all.includes('larsen'), `one file, ${Math.round(text.length / 1024)} kB, without the name that the recorder had written`);
  await page.context().close();

  // Another device, by touch on a phone: the file is opened and listened to.
  const phone = await openPage(browser, { viewport: { width: 390, height: 800 }, hasTouch: true, isMobile: true });
  await phone.addInitScript(() => {
    const plain = AudioBufferSourceNode.prototype.start;
    globalThis.started = [];
    AudioBufferSourceNode.prototype.start = function start(...all) { globalThis.started.push(this.buffer.getChannelData(0).reduce((sum, x) => sum + x * x, 0)); return plain.apply(this, all); };
  });
  await phone.goto(address + '/#/bench');
  await phone.locator('input[type=file]').setInputFiles(file);
  await phone.getByRole('button', { name: 'Put the chestpiece on' }).tap();
  await phone.waitForFunction(() => globalThis.started.length >= 1);
  await phone.getByRole('button', { name: 'Other side' }).tap();
  await phone.waitForFunction(() => globalThis.started.length >= 2);
  const played = await phone.evaluate(() => globalThis.started);
  check(played.length === 2 && played[0] !== played[1], 'each place plays its own recording');
  await phone.screenshot({ path: screenFile('recorded-phone'), fullPage: true });
  const here = await phone.locator('.place-words').innerText();
  await phone.getByRole('button', { name: 'wheeze', exact: true }).tap();
  await phone.getByRole('button', { name: 'Neck', exact: true }).tap();
  await phone.locator('.place-words').filter({ hasText: 'Nothing was recorded here' }).waitFor();
  check(true, 'a place without a recording says so');
  await phone.getByRole('button', { name: 'End and see the answers' }).tap();
  await phone.getByRole('heading', { name: /^Answers/ }).waitFor();
  const rows = await phone.locator('tbody tr').allInnerTexts();
  const marked = rows.find((row) => row.includes(/\((F\d)\)/.exec(here)[1]));
  check(/wheeze/.test(marked), `the key beside the mark: ${marked.replaceAll('\t', ' | ')}`);
  await phone.screenshot({ path: screenFile('recorded-key-phone'), fullPage: true });

  const damaged = { 'cut.json': text.slice(0, 2000), 'other.json': '{"phren":"encounter"}', 'noise.json': text.replace(/"wav":"[^"]{40}/, '"wav":"!!!!'), 'version.json': text.replace('"version":1', '"version":9') };
  await phone.goto(address + '/#/bench');
  for (const [name, contents] of Object.entries(damaged)) {
    writeFileSync(join(folder, name), contents);
    await phone.locator('input[type=file]').setInputFiles(join(folder, name));
    const words = await phone.getByRole('alert').filter({ hasText: name }).innerText();
    check(words.startsWith(name), `${words}`);
  }
});
rmSync(folder, { recursive: true, force: true });
