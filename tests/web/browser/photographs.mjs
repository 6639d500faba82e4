// Twenty screens on a phone, a desk and a projector, on paper and at night, as they stand in the window: for a person
// to look at. Nothing may be wider than its window. With a third argument the telling ones go there, small, for
// docs/pages; a fourth names the only screens to take, with commas.
// Usage: node tests/web/browser/photographs.mjs PHREN_PROGRAM SCREENS_DIR [GALLERY_DIR [SCREEN,...]]
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { makeClass, practise, takePart } from './class_setup.mjs';
import { check, openPage, run, screensFolder } from './harness.mjs';
import { press } from './judge.mjs';
import { screens } from './screens.mjs';

const gallery = process.argv[4] ?? '';
const only = process.argv[5]?.split(',');
const sizes = { phone: [390, 844], desk: [1280, 800], hall: [1920, 1080] };
const soft = ['--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'];
const button = (page, name) => page.getByRole('button', { name, exact: true });
const named = (name) => screens.find((one) => one.name === name);
const body = (page) => page.locator('.turn-sides').waitFor();

// What goes to the gallery: size and theme.
const shown = { front: [['desk', 'paper'], ['phone', 'night']], bedside: [['desk', 'paper']], 'bedside-listen': [['phone', 'paper'], ['desk', 'night']],
  'bedside-look': [['desk', 'paper'], ['phone', 'night']], 'bedside-explain': [['hall', 'paper']], 'bedside-monitor': [['phone', 'paper']],
  'bedside-debrief': [['desk', 'paper']], 'drill-answered': [['desk', 'paper']], 'round-desk': [['desk', 'paper']], 'round-phone': [['phone', 'night']],
  'bench-measured': [['desk', 'paper']], 'class-skills': [['desk', 'paper']], 'sites-lungs': [['desk', 'night']], 'show-sound': [['hall', 'night']], build: [['desk', 'paper']] };

const listening = async (page) => {
  await page.locator('button.main, .press').filter({ visible: true }).first().click();
  await page.waitForTimeout(2500);
  await body(page);
};

async function list(address) {
  const scene = await makeClass(address);
  const first = await takePart(address, scene, scene.members[0], 9), second = await takePart(address, scene, scene.members[1], 4);
  await practise(first.learner, 'name', 14);
  await practise(second.learner, 'name', 9);
  const room = `#/class/${scene.classId}`;
  return [
    { name: 'front', hash: '#/', prepare: body }, named('bedside-choose'),
    { name: 'bedside', hash: '#/bedside/right_pneumothorax', prepare: body },
    { name: 'bedside-listen', hash: '#/bedside/asthma', prepare: async (page) => { await listening(page); await button(page, 'wheeze').click(); } },
    { name: 'bedside-look', hash: '#/bedside/croup', prepare: async (page) => {
      await page.getByRole('tab', { name: 'Look' }).click();
      await body(page);
      await button(page, 'Neck').click();
      await page.waitForTimeout(2500);
      await button(page, 'retractions').click();
    } },
    named('bedside-monitor'), named('bedside-weigh'), named('bedside-explain'), named('bedside-debrief'), named('build'), named('show-sound'),
    { name: 'drill-answered', hash: '#/drill/name', prepare: async (page) => {
      await page.getByRole('button', { name: /^Play/ }).first().click();
      await button(page, 'wheeze').click();
      await button(page, 'Next').waitFor();
    } },
    { name: 'bench-measured', hash: '#/bench', prepare: async (page) => {
      await page.getByRole('button', { name: 'Specimens' }).first().click();
      await page.getByRole('button', { name: 'Squawk' }).first().click();
      await page.getByRole('img', { name: /Squawk/ }).waitFor();
    } },
    { ...named('sites-lungs'), prepare: async (page) => { await body(page); await button(page, 'Lungs').click(); await page.waitForTimeout(1500); } },
    { name: 'round-desk', hash: '#/round', prepare: async (page) => {
      await page.getByLabel('Patient').selectOption('tension_pneumothorax');
      await button(page, 'Open the round').click();
      await page.locator('.join-code strong').waitFor();
      const code = (await page.locator('.join-code strong').innerText()).trim();
      const phone = await page.context().newPage();
      await phone.setViewportSize({ width: 390, height: 844 });
      await phone.goto(`${address}/#/round/${code}`);
      await button(phone, 'Come in').click();
      await button(phone, 'Listen').click();
      await button(page, 'Begin').click();
      await button(phone, 'Put the chestpiece on').click();
      await phone.waitForTimeout(2500);
      await take(phone, 'round-phone');
      await page.bringToFront();
    } },
    { name: 'station-board', hash: `#/station/${scene.station.id}`, prepare: (page) => page.getByText('under way').first().waitFor().catch(() => {}) },
    { name: 'class-people', hash: room }, { name: 'class-skills', hash: `${room}/skills`, prepare: (page) => page.locator('.map').waitFor() },
    { name: 'class-results', hash: `${room}/results`, prepare: (page) => page.getByRole('heading', { name: 'Items' }).waitFor() },
  ];
}

// Chromium's own WebP is a tenth of the PNG.
async function keepSmall(page, file) {
  const session = await page.context().newCDPSession(page);
  const { data } = await session.send('Page.captureScreenshot', { format: 'webp', quality: 74 });
  writeFileSync(file, Buffer.from(data, 'base64'));
  await session.detach();
}

async function take(page, name) {
  for (const [size, [width, height]] of Object.entries(sizes)) {
    await page.setViewportSize({ width, height });
    for (const theme of ['paper', 'night']) {
      const isNight = await page.evaluate(() => document.documentElement.dataset.theme === 'night');
      if (isNight !== (theme === 'night')) await press(page, 'Night');
      await page.waitForTimeout(700);
      const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
      check(wide <= room, `${name}, ${size}, ${theme}: ${wide} px wide in ${room}`);
      await page.screenshot({ path: join(screensFolder, `${name}-${size}-${theme}.png`) });
      const isShown = (shown[name] ?? []).some(([s, t]) => s === size && t === theme);
      if (gallery && isShown) await keepSmall(page, join(gallery, `${name}-${size}-${theme}.webp`));
    }
  }
}

await run('photographs', async ({ address, browser }) => {
  mkdirSync(screensFolder, { recursive: true });
  if (gallery) mkdirSync(gallery, { recursive: true });
  for (const screen of await list(address)) {
    if (only && !only.includes(screen.name)) continue;
    const page = await openPage(browser, { viewport: { width: 1280, height: 800 } });
    await page.addInitScript(() => localStorage.setItem('phren.theme', localStorage.getItem('phren.theme') ?? 'paper'));
    try {
      await page.goto(`${address}/${screen.hash}`);
      await page.waitForSelector('main h1');
      if (screen.prepare) await screen.prepare(page);
      await take(page, screen.name);
    } catch (error) {
      check(false, `${screen.name}: ${String(error).slice(0, 300)}`);
    }
    await page.context().close();
  }
}, { browse: soft });
