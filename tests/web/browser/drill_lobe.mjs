// Which lobe: six places of one chest, answered by touch on a narrow phone and by keyboard alone.
import { check, openPage, pictureAtWidths, run } from './harness.mjs';

const places = ['right upper front', 'left upper front', 'right lower front', 'left lower front', 'right back base', 'left back base'];

await run('drill lobe', async ({ address, browser }) => {
  const page = await openPage(browser, { viewport: { width: 320, height: 640 }, hasTouch: true });
  const bodies = [];
  page.on('response', async (response) => { if (response.url().endsWith('/drill/next')) bodies.push(await response.text()); });
  await page.goto(`${address}/#/drill/lobe`);
  for (const place of places) {
    const play = page.getByRole('button', { name: `Play ${place}`, exact: true });
    await play.waitFor({ timeout: 60000 });
    await play.tap();
  }
  check(true, 'six places can be played, each under its name');
  check(bodies.length > 0 && !/truth|"lobe":|lobar/.test(bodies[0]), 'nothing that is sent beforehand says which lobe');
  await pictureAtWidths(page, 'drill-lobe');
  await page.setViewportSize({ width: 320, height: 640 });
  await page.getByRole('button', { name: 'left lower lobe' }).tap();
  await page.getByRole('button', { name: 'Next', exact: true }).waitFor({ timeout: 60000 });
  const said = await page.locator('.caption').innerText();
  check(/lobe/.test(said), `after the answer: ${said}`);
  check(await page.getByText(/lies? over it; the same place of the other side/).isVisible(), 'it says which places lie over the lobe');
  await pictureAtWidths(page, 'drill-lobe-answered');

  // By keyboard alone: Next has the focus; then the places and the lobes are reached with Tab.
  await page.setViewportSize({ width: 390, height: 844 });
  await page.keyboard.press('Enter');
  await page.getByText('1 of 20 answered').waitFor();
  await page.getByRole('button', { name: 'Play right upper front', exact: true }).waitFor({ timeout: 60000 });
  const reached = new Set();
  for (let i = 0; i < 40; i++) {
    await page.keyboard.press('Tab');
    const name = await page.evaluate(() => document.activeElement?.textContent ?? '');
    reached.add(name.replace(/^Play /, '').trim());
    if (name === 'right middle lobe') { await page.keyboard.press('Enter'); break; }
  }
  check(places.every((one) => reached.has(one)), 'Tab reaches all six places and the lobes');
  await page.getByText('2 of 20 answered').waitFor({ timeout: 60000 });
  check(true, 'and Enter answers');
});
