// axe-core on every screen in both themes, 320 px without sideways scroll, pictures of all.
import { openPage, run } from './harness.mjs';
import { look } from './judge.mjs';
import { screens, show } from './screens.mjs';

const kAtOnce = 2;

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
