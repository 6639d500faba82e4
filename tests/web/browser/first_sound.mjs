// First sound after the first tap, cold: a new browser with an empty cache each time; page weight. How long
// it takes is told, not judged: that depends on the machine.
import { check, median, openPage, run, startBrowser } from './harness.mjs';
import { catchSound } from './listening.mjs';

const kLoads = 10;

await run('first sound', async ({ address }) => {
  const times = [];
  let bytes = 0;
  for (let i = 0; i < kLoads; i++) {
    const browser = await startBrowser();
    const page = await openPage(browser);
    await catchSound(page);
    const network = await page.context().newCDPSession(page);
    await network.send('Network.enable');
    let sum = 0;
    network.on('Network.loadingFinished', (event) => { sum += event.encodedDataLength; });
    await page.goto(`${address}/#/bedside/asthma`);
    const button = page.getByRole('button', { name: 'Put the chestpiece on' });
    await button.waitFor();
    await button.click();
    await page.waitForFunction(() => globalThis.caught.firstSoundMs > 0);
    times.push(await page.evaluate(() => globalThis.caught.firstSoundMs - globalThis.caught.firstTapMs));
    bytes = Math.max(bytes, sum);
    await browser.close();
  }
  console.log(`       first sound: median ${median(times).toFixed(0)} ms of ${kLoads} cold loads (${times.map((time) => time.toFixed(0)).join(' ')})`);
  console.log(`       page weight: ${(bytes / 1000).toFixed(0)} kB over the network, with the engine and the data`);
  check(times.every((time) => time > 0), 'the first tap brings sound, on each cold load');
  check(bytes < 1_000_000, 'page weight under 1 MB');
});
