// The Bedside before anything is heard offers little, and a place is heard and marked with three taps.
import { check, openPage, run } from './harness.mjs';

const kMostControls = 20, kMostTaps = 3;  // ENGINEERING: what a learner on a phone is asked to look over
const sizes = [[390, 844], [320, 568], [1280, 800], [1920, 1080]];

const inView = () =>
  [...document.querySelectorAll('button, a[href], input, select, summary, textarea, [role=tab]')].filter((one) => {
    const r = one.getBoundingClientRect();
    return r.width > 0 && r.bottom > 0 && r.top < innerHeight && one.checkVisibility({ visibilityProperty: true });
  }).map((one) => one.textContent.trim() || one.getAttribute('aria-label') || one.type);

await run('bedside controls', async ({ address, browser }) => {
  for (const [width, height] of sizes) {
    const page = await openPage(browser, { viewport: { width, height }, hasTouch: width < 600 });
    await page.goto(`${address}/#/bedside/asthma`);
    await page.getByRole('heading', { level: 1 }).waitFor();
    await page.locator('.body, .chest').first().waitFor();
    const seen = await page.evaluate(inView);
    check(seen.length <= kMostControls, `${width} x ${height}: ${seen.length} controls before anything is heard (${seen.join(', ')})`);
    check(await page.locator('.story').isVisible(), `${width} x ${height}: the story stands there first`);
    let taps = 0;
    const tap = async (button) => { taps++; await button.click(); };
    await tap(page.getByRole('button', { name: /^(Put the chestpiece on|Put on)$/ }).filter({ visible: true }).first());
    await tap(page.getByRole('button', { name: 'wheeze', exact: true }));
    await page.getByText('+ wheeze').first().waitFor();
    check(taps <= kMostTaps, `${width} x ${height}: heard and marked with ${taps} taps`);
    await page.context().close();
  }
});
