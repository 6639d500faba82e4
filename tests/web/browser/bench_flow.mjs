// The Bench with a FLAC file of known truth: opened, seen, measured, placed, cut, compared; broken
// files and a refused microphone say what to do.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { check, openPage, root, run, screenFile } from './harness.mjs';

const folder = mkdtempSync(join(tmpdir(), 'phren-bench-'));
const program = process.argv[2];
const make = (kind) => {
  const file = join(folder, kind + '.flac');
  execFileSync(program, ['specimen', kind, '--out', file, '--rate', '8000', '--seconds', '12']);
  return file;
};

// A recording of a real chest. SPRSound (Zhang et al. 2022) is open to all, but the copy at hand carries the
// GPL, so none of its files may lie in this repository: without the folder this part is left out.
const recordings = process.env.PHREN_RECORDINGS ?? join(root, '..', 'shared', 'data', 'clinical-recordings');

async function realRecording(page) {
  if (!existsSync(join(recordings, 'recordings.csv'))) {
    console.log('       skipped: the clinical recordings are not here; name their folder in PHREN_RECORDINGS');
    return;
  }
  const [head, ...rows] = readFileSync(join(recordings, 'recordings.csv'), 'utf8').trim().split(/\r?\n/).map((line) => line.split(','));
  const field = (row, name) => row[head.indexOf(name)];
  const wheezy = rows.find((row) => field(row, 'record_label') === 'CAS');
  const name = field(wheezy, 'recording').replace(/(\.flac)?$/, '.flac');
  const file = join(recordings, 'audio', name);
  const native = JSON.parse(execFileSync(program, ['measure', '--json', file], { encoding: 'utf8' }).split('\n')[0]);
  await page.locator('input[type=file]').setInputFiles(file);
  await page.getByRole('img', { name: new RegExp('spectrogram of ' + name.replaceAll('.', '\\.')) }).waitFor();
  const seconds = Number(/, (\d+\.\d) seconds/.exec(await page.locator('.picture canvas').first().getAttribute('aria-label'))[1]);
  check(Math.abs(seconds - Number(field(wheezy, 'duration_s'))) < 0.11, `a real recording: ${seconds} s shown, ${field(wheezy, 'duration_s')} s by its list`);
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  await page.getByRole('heading', { name: /^Measured/ }).waitFor();
  const words = await page.getByRole('heading', { name: /^Measured/ }).innerText();
  const chance = Math.round(100 * native.record.probabilities[native.record.label]);
  check(words.includes(`${chance} %`), `a real recording with wheeze by its experts' label: page says "${words}", the program ${native.record.label} ${chance} %`);
  const verdict = await page.getByRole('region', { name: 'Measured' }).getByText(/In 9 of 10 people|Cannot tell/).innerText();
  check(verdict.startsWith('Cannot') !== native.verdict.can_tell, `${verdict} The program: ${JSON.stringify(native.verdict)}`);
  await page.getByLabel('Taken at').selectOption('P9');
  await page.getByLabel('from').fill('1');
  await page.getByLabel(/^to\b/).fill('4');
  await page.getByLabel(/^to\b/).blur();
  await page.getByRole('button', { name: 'Cut as a specimen' }).click();
  await page.getByRole('button', { name: /1\.0-4\.0 s/ }).waitFor();
  await page.getByRole('button', { name: 'Play', exact: true }).click();
  await page.getByRole('button', { name: 'Stop', exact: true }).waitFor();
  check(true, 'a real recording: placed, cut and played');
}

await run('bench flow', async ({ address, browser }) => {
  const wheeze = make('wheeze'), crackles = make('fine_crackles');
  const page = await openPage(browser, { acceptDownloads: true }, [/status of 4\d\d/]);
  await page.goto(address + '/#/bench');
  await page.locator('input[type=file]').setInputFiles([crackles, wheeze]);
  await page.getByRole('img', { name: /spectrogram of wheeze\.flac, 12\.0 seconds/ }).waitFor();
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  await page.getByRole('heading', { name: /^Measured/ }).waitFor();
  const measured = await page.getByRole('region', { name: 'Measured' }).innerText();
  check(/Measured: continuous/.test(measured), `a wheeze is measured as such: ${measured.split('\n')[0]}`);
  check(/In 9 of 10 people the truth is: .*\.|Cannot tell: .*\./.test(measured), `what can be said of it: ${/(In 9 of 10|Cannot tell).*/.exec(measured)?.[0]}`);
  check(/\d+ Hz/.test(measured), 'its pitch is given');
  await page.screenshot({ path: screenFile('bench-measured'), fullPage: true });
  await page.getByLabel('Taken at').selectOption('F5');
  await page.getByLabel('from').fill('2');
  await page.getByLabel(/^to\b/).fill('5');
  await page.getByLabel(/^to\b/).blur();
  await page.getByRole('button', { name: 'Cut as a specimen' }).click();
  await page.getByRole('button', { name: /wheeze\.flac 2\.0-5\.0 s/ }).waitFor();
  check(true, 'a part becomes a specimen of its own');
  await page.getByRole('button', { name: 'Compare two' }).click();
  await page.keyboard.press('a');
  await page.getByRole('button', { name: 'Stop A' }).waitFor();
  await page.keyboard.press('b');
  await page.getByRole('button', { name: 'Stop B' }).waitFor();
  await page.getByRole('button', { name: 'Play A' }).waitFor();
  check(true, 'b takes over from a');
  await page.keyboard.press('b');
  await page.screenshot({ path: screenFile('bench-compare'), fullPage: true });

  await page.reload();
  await page.getByRole('button', { name: /wheeze\.flac 2\.0-5\.0 s/ }).waitFor();
  check((await page.locator('.plain-list li').count()) === 3, 'all three are still there after a reload');

  await page.getByRole('button', { name: 'Specimens' }).click();
  await page.getByRole('button', { name: 'Squawk' }).click();
  await page.getByRole('img', { name: /spectrogram of Squawk/ }).waitFor();
  await page.locator('.span, .span-tick').first().waitFor();
  check(true, 'a specimen shows its truth');
  await page.screenshot({ path: screenFile('bench-specimen'), fullPage: true });

  const broken = join(folder, 'broken.flac');
  writeFileSync(broken, readFileSync(wheeze).subarray(0, 40));
  writeFileSync(join(folder, 'words.wav'), 'these are only words');
  for (const file of [broken, join(folder, 'words.wav')]) {
    await page.locator('input[type=file]').setInputFiles(file);
    const words = await page.getByRole('alert').filter({ hasText: basename(file) }).innerText();
    check(/not a sound file|damaged/.test(words) && /WAV and FLAC/.test(words), `broken upload: ${words}`);
  }
  await realRecording(page);
  await page.getByRole('button', { name: 'Record', exact: true }).click();
  const refused = await page.getByRole('alert').filter({ hasText: /microphone/i }).innerText();
  check(/(open a sound file|Allow it)/.test(refused), `microphone: ${refused}`);
});
rmSync(folder, { recursive: true, force: true });
