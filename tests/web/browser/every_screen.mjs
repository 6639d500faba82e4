// axe-core on every screen in both themes, 320 px without sideways scroll, pictures of all.
import { axeFile, check, openPage, run, screenFile } from './harness.mjs';
import { screens, show } from './screens.mjs';

const phone = { viewport: { width: 360, height: 740 }, deviceScaleFactor: 2 };
const narrow = { viewport: { width: 320, height: 640 } };
const projector = { viewport: { width: 1920, height: 1080 } };

await run('every screen', async ({ address, browser }) => {
  for (const screen of screens) {
    for (const theme of ['paper', 'night']) {
      const page = await openPage(browser);
      await show(page, address, screen, theme);
      const violations = await audit(page);
      check(violations.length === 0, `${screen.name}, ${theme}: no accessibility violation` + violations.map((one) => `\n         ${one}`).join(''));
      await page.context().close();
    }
    const small = await openPage(browser, narrow);
    await show(small, address, screen);
    const [wide, room] = await small.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
    check(wide <= room, `${screen.name}: ${wide} px wide at ${room}`);
    await small.context().close();
    for (const [size, options] of [['phone', phone], ['projector', projector]]) {
      const page = await openPage(browser, options);
      if (size === 'projector') await page.addInitScript(() => localStorage.setItem('phren.size', 'hall'));
      await show(page, address, screen, size === 'phone' ? 'night' : 'paper');
      await page.screenshot({ path: screenFile(`${screen.name}-${size}`) });
      await page.context().close();
    }
  }
});

// The page's own policy forbids adding a script, so the checker is evaluated from outside.
async function audit(page) {
  const { readFileSync } = await import('node:fs');
  await page.evaluate(readFileSync(axeFile, 'utf8'));
  const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.map((one) => `${one.id}: ${one.help} at ${one.nodes.map((node) => node.target.join(' ')).slice(0, 4).join(', ')}`);
}
