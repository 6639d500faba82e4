// Show, by keys alone: sound at the key, sentence with source, picture, look-alike; sizes of what is read; a lesson.
import { check, median, openPage, run, screenFile } from './harness.mjs';

// What the page sends to the ear, and when: the moment a loop is started, and that its samples are not silence.
async function catchLoops(page) {
  await page.addInitScript(() => {
    globalThis.loops = [];
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function(...rest) {
      const samples = this.buffer.getChannelData(0);
      let sum = 0;
      for (const one of samples) sum += one * one;
      globalThis.loops.push({ at: performance.now(), level: 10 * Math.log10(sum / samples.length + 1e-20), seconds: this.buffer.duration });
      return start.apply(this, rest);
    };
    addEventListener('keydown', () => { globalThis.lastKey = performance.now(); }, true);
  });
}
const loopsOf = (page) => page.evaluate(() => globalThis.loops);
const title = (page) => page.locator('.show-head h1').innerText();

await run('show', async ({ address, browser }) => {
  const page = await openPage(browser, { viewport: { width: 1920, height: 1080 } });
  await catchLoops(page);
  await page.goto(address + '/#/show');
  await page.getByRole('link', { name: 'Start the first lesson' }).focus();
  await page.keyboard.press('Enter');
  await page.locator('.show-title').waitFor();
  // The next ones are made while the title stands; a teacher begins to speak meanwhile.
  await page.waitForTimeout(6000);
  const names = [], delays = [];
  for (let i = 1; i <= 5; i++) {
    const before = (await loopsOf(page)).length;
    await page.keyboard.press('PageDown');
    await page.waitForFunction((n) => globalThis.loops.length > n, before);
    const last = (await loopsOf(page)).at(-1);
    delays.push(last.at - await page.evaluate(() => globalThis.lastKey));
    names.push(await title(page));
    await page.locator('.show-picture[data-ready=yes]').first().waitFor();
    if (i < 5) check(last.level > -90, `${names.at(-1)}: something sounds (${last.level.toFixed(0)} dB, ${last.seconds.toFixed(1)} s)`);
    const words = await page.locator('.show-words').innerText();
    check(/Why/.test(words) && /Means/.test(words) && /Taken for/.test(words), `${names.at(-1)}: why, what it means, what it is taken for`);
    await page.waitForTimeout(1500);
  }
  check(names.length === new Set(names).size, `five sounds in five key presses: ${names.join(', ')}`);
  console.log(`       key to sound: median ${median(delays).toFixed(0)} ms, ${delays.map((one) => one.toFixed(0)).join(' ')}`);
  check(median(delays) < 300, 'sound in under 300 ms after the key');

  // Every sound by the remote's two keys: a source beside the sentence, a picture, nothing cut off, large enough.
  const shown = await page.evaluate(async () => (await fetch('/api/v1/show')).json());
  await page.goto(address + '/#/show/all');
  await page.locator('.show-title').waitFor();
  for (const one of shown.sounds) {
    await page.keyboard.press('PageDown');
    await page.waitForFunction((name) => document.querySelector('.show-head h1')?.textContent === name, one.name);
    const words = await page.locator('.show-words').innerText();
    const fits = await page.evaluate(() => {
      const box = document.querySelector('.show-words');
      const small = [...document.querySelectorAll('.show p, .show h1, .show button, .show span, .show select')]
        .filter((node) => node.textContent.trim() && !node.closest('.unseen') && parseFloat(getComputedStyle(node).fontSize) < innerHeight / 30);
      return { over: box.scrollHeight - box.clientHeight, wide: document.documentElement.scrollWidth - innerWidth, small: small.map((node) => node.textContent.slice(0, 20)) };
    });
    check(words.includes(one.mechanism.slice(0, 30)) && words.includes(one.source.slice(0, 12)), `${one.id}: the mechanism with its source`);
    check(fits.over <= 1 && fits.wide <= 0, `${one.id}: all of it fits (${fits.over}, ${fits.wide})`);
    check(fits.small.length === 0, `${one.id}: no letter under a thirtieth of the height ${fits.small.join('|')}`);
    await page.locator('.show-picture[data-ready=yes]').first().waitFor();
  }
  await page.screenshot({ path: screenFile('show-sound') });
  await page.keyboard.press('PageUp');
  const own = await title(page);
  await page.keyboard.press('l');
  check(await title(page) !== own, `look-alike by one key: ${own}, ${await title(page)}`);
  await page.keyboard.press('l');
  check(await title(page) === own, 'and back');
  await page.keyboard.press('a');
  await page.waitForFunction((n) => document.querySelectorAll('.show-all > li').length === n, shown.sounds.length);
  await page.waitForFunction(() => [...document.querySelectorAll('.show-picture')].every((one) => one.dataset.ready === 'yes'));
  await page.screenshot({ path: screenFile('show-all') });
  await page.keyboard.press('Home');
  await page.keyboard.press('Escape');

  // Comparisons: each has its panels, both ready, the arrows go from one to the other.
  await page.goto(address + '/#/show/wheeze/1');
  await page.locator('.show-sound').waitFor();
  for (const [key, count] of [['1', 2], ['2', 2], ['3', 2], ['4', 2], ['5', 3]]) {
    await page.keyboard.press(key);
    await page.waitForFunction((n) => document.querySelectorAll('.show-panels > li').length === n, count);
    await page.waitForFunction(() => [...document.querySelectorAll('.show-picture')].every((one) => one.dataset.ready === 'yes'));
    await page.keyboard.press('ArrowRight');
    check(await page.locator('.show-panels > li').nth(1).locator('button[aria-pressed=true]').count() === 1, `${await title(page)}: ${count} panels, the second by a key`);
  }
  await page.screenshot({ path: screenFile('show-builds') });
  await page.keyboard.press('.');
  check(await page.locator('.show-blank').isVisible(), 'full stop blanks the screen');
  await page.keyboard.press('.');
  await page.keyboard.press('Escape');
  await page.keyboard.press('Escape');
  await page.getByRole('heading', { name: 'Show a sound to the room' }).waitFor();

  // A lesson: made, kept, saved, opened again; a broken file says its line.
  await page.getByRole('link', { name: 'Make a lesson' }).click();
  await page.getByLabel('Title').fill('Two sounds and a man');
  await page.getByLabel('A sound').selectOption('stridor');
  await page.getByRole('button', { name: 'On the whole screen' }).click();
  await page.getByRole('button', { name: 'bare against clothed' }).click();
  await page.getByLabel('A live patient').selectOption('croup');
  await page.getByRole('button', { name: 'Put the patient in' }).click();
  await page.getByLabel('Your note').first().fill('Ask who has heard it before');
  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save as a file' }).click()]);
  const text = (await (await import('node:fs/promises')).readFile(await file.path(), 'utf8'));
  check(text.startsWith('phren lesson 1\ntitle Two sounds and a man\n') && text.includes('compare clothing stridor\n') && text.includes('patient croup\n'), 'the file says the same');
  await page.screenshot({ path: screenFile('show-edit') });
  await page.getByRole('button', { name: 'Keep it', exact: true }).click();
  const open = page.locator('input[type=file]');
  await open.setInputFiles({ name: 'bad.txt', mimeType: 'text/plain', buffer: Buffer.from('phren lesson 1\ntitle x\nsound weeze\n') });
  const said = await page.getByRole('alert').innerText();
  check(/bad\.txt: Line 3: there is no sound “weeze”/.test(said), said.slice(0, 80));
  await open.setInputFiles({ name: 'again.txt', mimeType: 'text/plain', buffer: Buffer.from(text) });
  await page.locator('.show-title').waitFor();
  for (let i = 0; i < 4; i++) await page.keyboard.press('f');
  await page.locator('.show-places').waitFor();
  await page.waitForFunction(() => /SpO2 \d/.test(document.querySelector('.show-words').textContent));
  check(await page.getByText('A seal’s bark in the night').or(page.getByText("A seal's bark in the night")).first().isVisible(), 'the live patient breathes on the projector');
  await page.screenshot({ path: screenFile('show-live') });
  for (const [width, height] of [[390, 844], [1280, 800]]) {
    await page.setViewportSize({ width, height });
    await page.goto(address + '/#/show/first/2');
    await page.locator('.show-sound').waitFor();
    await page.waitForTimeout(500);  // for the picture only
    check(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `no wider than ${width}`);
    await page.screenshot({ path: screenFile(`show-${width}`) });
  }
});
