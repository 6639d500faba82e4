// How often the body is drawn while a breath sounds, in software at 1280 x 720, and whether the sound ran dry.
// Printed, and held to what a learner needs to count breaths; a quiet machine is asked for.
import { check, openPage, run } from './harness.mjs';
import { catchSound, listen, untilPatientTime } from './listening.mjs';

const kSeconds = 20, kLeastFrames_per_s = 20;
const soft = ['--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'];
const views = [
  ['listening', null], ['looking at the face', 'Face'], ['looking at chest and belly', 'Chest, belly'], ['under the skin', 'Lungs'],
];

await run('frame rate', async ({ address, browser }) => {
  const page = await openPage(browser, { viewport: { width: 1280, height: 720 } });
  await catchSound(page, false);
  // Counts what is drawn: each picture of the body ends with a call for its last mesh.
  await page.addInitScript(() => {
    globalThis.drawn = 0;
    const { clear } = WebGL2RenderingContext.prototype;
    WebGL2RenderingContext.prototype.clear = function count(...args) { globalThis.drawn++; return clear.apply(this, args); };
  });
  await page.goto(`${address}/#/bedside/asthma`);
  await page.locator('.turn-sides').waitFor();
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await untilPatientTime(page, 3);
  const read = () => page.evaluate(() => {
    const stats = globalThis.caught.context.playbackStats ?? globalThis.caught.context.playoutStats ?? {};
    return { drawn: globalThis.drawn, at_ms: performance.now(), underruns: stats.underrunEvents ?? stats.fallbackFramesEvents ?? null };
  });
  for (const [name, what] of views) {
    if (what === 'Lungs') await page.getByRole('tab', { name: 'Explain' }).click();
    else if (what) await page.getByRole('tab', { name: 'Look' }).click();
    if (what) await page.getByRole('button', { name: what, exact: true }).click();
    await page.waitForTimeout(2500);
    const before = await read();
    await listen(page, kSeconds);
    const after = await read();
    const rate = 1000 * (after.drawn - before.drawn) / (after.at_ms - before.at_ms);
    console.log(`       ${name}: ${rate.toFixed(1)} pictures a second, underruns ${after.underruns === null ? 'not counted' : after.underruns - before.underruns}`);
    check(rate >= kLeastFrames_per_s, `${name}: at least ${kLeastFrames_per_s} pictures a second`);
  }
}, { browse: soft });
