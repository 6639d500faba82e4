// The body to look at: it comes after the page, is turned and listened at by mouse and keys, weighs little,
// and leaves its place to the line drawing where there is no WebGL. The main action, the volume and the
// places are in view on every size.
import { axeFile, check, openPage, run, startBrowser } from './harness.mjs';
import { press } from './judge.mjs';
import { readFileSync } from 'node:fs';

const sizes = [[390, 844], [320, 568], [1280, 800], [1920, 1080]];
const screens = [['front', '#/', 'button.main'],
  ['bedside', '#/bedside/healthy_volunteer', '.main-action .main, .press']];
const soft = ['--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'];

// Whether some of the elements lies wholly in the window.
const inView = (page, selector) => page.evaluate((wanted) => [...document.querySelectorAll(wanted)].some((one) => {
  const box = one.getBoundingClientRect();
  return box.width > 0 && box.top >= 0 && box.bottom <= innerHeight && box.left >= 0 && box.right <= innerWidth;
}), selector);

await run('body', async ({ address, browser }) => {
  let bytes = 0;
  const page = await openPage(browser);
  const network = await page.context().newCDPSession(page);
  await network.send('Network.enable');
  network.on('Network.loadingFinished', (event) => { bytes += event.encodedDataLength; });
  await page.goto(`${address}/#/sites`);
  await page.locator('.turn-sides').waitFor();
  await page.waitForTimeout(1500);
  console.log(`       whole page with the body: ${(bytes / 1000).toFixed(0)} kB over the network`);
  check(bytes < 1_000_000, 'whole page with the body under 1.0 MB');

  const canvas = page.locator('.body-stage canvas');
  const box = await canvas.boundingBox();
  const place = async () => {
    const [aspect, u, v] = (await canvas.getAttribute('data-place')).split(' ');
    return { aspect, u: Number(u), v: Number(v) };
  };
  const tap = async (x, y) => {
    await page.mouse.click(box.x + x * box.width, box.y + y * box.height);
    await page.waitForTimeout(400);
    return place();
  };
  const picture = await canvas.screenshot();
  check(picture.length > 15_000, `something is drawn (${picture.length} bytes of picture)`);
  const left = await tap(0.57, 0.52), right = await tap(0.43, 0.52);
  check(left.aspect === 'front' && left.u > 0.1, 'a tap to the right of the picture is on the patient\'s left');
  check(right.aspect === 'front' && right.u < -0.1, 'and to the left on the right');
  const before = await place();
  await canvas.focus();
  for (let i = 0; i < 4; i++) await page.keyboard.press('ArrowDown');
  await page.waitForTimeout(300);
  const after = await place();
  check(after.v > before.v + 0.15 && Math.abs(after.u - before.u) < 0.15, 'arrow keys go down the chest');
  await page.getByRole('button', { name: 'Back', exact: true }).click();
  await page.locator('canvas[data-side="back"]').waitFor();
  await page.waitForTimeout(3000);  // the turn's end, drawn in software
  const behind = await tap(0.42, 0.55);
  check(behind.aspect === 'back' && behind.u > 0.1, `from behind the left is on the left (${JSON.stringify(behind)})`);
  await page.getByRole('button', { name: 'Lungs', exact: true }).click();
  await page.waitForTimeout(800);
  const inside = await canvas.screenshot();
  check(inside.length > 15_000, 'and under the skin');

  for (const [width, height] of sizes) {
    await page.setViewportSize({ width, height });
    for (const [name, hash, main] of screens) {
      await page.goto(`${address}/${hash}`);
      await page.locator('.body, .chest').first().waitFor();
      await page.waitForTimeout(300);
      check(await inView(page, main), `${name}, ${width} x ${height}: the main action is in view`);
      check(await inView(page, '.bar-volume'), `${name}, ${width} x ${height}: the volume is in view`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      check(wide <= width, `${name}: ${wide} px wide at ${width}`);
    }
  }
  await page.goto(`${address}/#/`);
  await page.locator('.turn-sides').waitFor();
  await page.evaluate(readFileSync(axeFile, 'utf8'));
  for (const theme of ['paper', 'night']) {
    const isNight = await page.evaluate(() => document.documentElement.dataset.theme === 'night');
    if (isNight !== (theme === 'night')) await press(page, 'Night');
    await page.waitForTimeout(400);
    const found = await page.evaluate(async () =>
      (await globalThis.axe.run(document, { resultTypes: ['violations'] })).violations.map((one) =>
        `${one.id} at ${one.nodes.map((node) => node.target.join(' ')).slice(0, 3).join(', ')}`));
    check(found.length === 0, `front, ${theme}: no accessibility violation ${found.join('; ')}`);
  }

  const blind = await startBrowser(['--disable-gpu', '--disable-software-rasterizer', '--disable-3d-apis']);
  const plain = await openPage(blind, {}, [/WebGL|webgl/]);
  await plain.goto(`${address}/#/sites`);
  await plain.locator('.chest svg').waitFor();
  await plain.waitForTimeout(2500);
  check(await plain.locator('.chest svg').isVisible() && await plain.locator('.turn-sides').count() === 0,
    'without WebGL the line drawing stays');
  await blind.close();
}, { browse: soft });
