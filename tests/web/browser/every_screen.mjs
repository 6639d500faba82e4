// axe-core on every screen in both themes, 320 px without sideways scroll, pictures of all.
import { readFileSync } from 'node:fs';
import { axeFile, check, openPage, run, screenFile } from './harness.mjs';
import { screens, show } from './screens.mjs';

const axe = readFileSync(axeFile, 'utf8');

// The page's own policy forbids adding a script, so the checker is evaluated from outside.
async function audit(page) {
  await page.evaluate(axe);
  const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.map((one) => `${one.id}: ${one.help} at ${one.nodes.map((node) => node.target.join(' ')).slice(0, 4).join(', ')}`);
}

async function look(page, name) {
  for (const theme of ['paper', 'night']) {
    const isNight = await page.evaluate(() => document.documentElement.dataset.theme === 'night');
    if (isNight !== (theme === 'night')) await page.getByRole('button', { name: 'Night', exact: true }).click();
    const violations = await audit(page);
    check(violations.length === 0, `${name}, ${theme}: no accessibility violation` + violations.map((one) => `\n         ${one}`).join(''));
  }
  await page.setViewportSize({ width: 320, height: 640 });
  const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
  check(wide <= room, `${name}: ${wide} px wide at ${room}`);
  await page.setViewportSize({ width: 390, height: 844 });
  if (name !== 'bedside-listen') await page.evaluate(() => document.getElementById('hand')?.scrollIntoView());  // as choosing a hand does
  await page.waitForTimeout(300);
  await page.screenshot({ path: screenFile(`${name}-phone`) });
  await page.getByRole('button', { name: 'Night', exact: true }).click();
  await page.getByRole('button', { name: 'Hall size' }).click();
  await page.evaluate(() => scrollTo(0, 0));
  await page.setViewportSize({ width: 1920, height: 1080 });
  await page.waitForTimeout(300);
  await page.screenshot({ path: screenFile(`${name}-projector`) });
}

const kAtOnce = 3;

await run('every screen', async ({ address, browser }) => {
  const waiting = [...screens];
  const worker = async () => {
    for (let screen = waiting.shift(); screen; screen = waiting.shift()) {
      const page = await openPage(browser);
      await show(page, address, screen);
      await look(page, screen.name);
      await page.context().close();
    }
  };
  await Promise.all(Array.from({ length: kAtOnce }, worker));
});
