// With the network gone, a reload shows the pages again and what was kept is still there.
import { check, openPage, run } from './harness.mjs';

await run('offline', async ({ address, browser, server }) => {
  const page = await openPage(browser, {}, [/ERR_CONNECTION_REFUSED/, /ERR_INTERNET_DISCONNECTED/]);
  await page.goto(address + '/#/sites');
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.reload();  // through the worker once, so that data is kept too
  await page.waitForFunction(() => document.querySelectorAll('.chest .site').length > 5);
  await server.stop();
  await page.reload();
  await page.waitForFunction(() => document.querySelectorAll('.chest .site').length > 5, null, { timeout: 5000 });
  check(true, 'the sites are drawn with the server gone');
  await page.goto(address + '/#/bench');
  check(await page.getByRole('heading', { name: 'Bench' }).isVisible(), 'the Bench opens with the server gone');
});
