// The network goes in the middle of an encounter: nothing is lost, a reload goes on where it was, a
// second tab is told, and what needs the server says so.
import { check, openPage, run } from './harness.mjs';
import { catchSound, keptEncounter, listen, untilLastIs } from './listening.mjs';

// The Bench looks for its measurer when it opens; here it was never opened with the server there.
const gone = [/ERR_CONNECTION_REFUSED/, /ERR_INTERNET_DISCONNECTED/, /ERR_FAILED \S*\/measurer/];

await run('offline', async ({ address, browser, server }) => {
  const page = await openPage(browser, {}, gone);
  await catchSound(page);
  await page.goto(address + '/#/bedside');
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.reload();  // through the worker once, so that data is kept too
  await page.waitForSelector('.case');
  await page.waitForLoadState('networkidle');

  await page.goto(address + '/#/bedside/asthma');
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.waitForFunction(() => globalThis.caught.firstSoundMs > 0);
  await page.getByRole('button', { name: 'wheeze', exact: true }).click();
  await server.stop();
  await page.getByRole('tab', { name: 'Weigh' }).click();
  await page.getByRole('button', { name: 'Weigh what was found' }).click();
  const words = await page.getByRole('alert').innerText();
  check(/cannot be reached.*kept on this device/.test(words), `weighing says what happened: ${words}`);
  await page.getByRole('tab', { name: 'Treat' }).click();
  await page.getByRole('button', { name: 'Oxygen by mask' }).click();
  await untilLastIs(page, 'treat');
  await listen(page, 3);

  await page.goto(address + '/#/bedside');
  await page.reload();
  const before = await keptEncounter(page);
  console.log('       kept: ' + before.marks.length + ' mark, ' + before.log.map((one) => one.do).join(' '));
  await page.getByRole('link', { name: /^Go on/ }).click();
  await page.getByRole('button', { name: 'Put the chestpiece on' }).waitFor();
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.waitForFunction(() => globalThis.caught.firstSoundMs > 0);
  await page.getByRole('button', { name: /wheeze.*marked present/ }).waitFor();
  check(true, 'the mark is still there after a reload without network');
  const resumedS = await page.evaluate(() => globalThis.caught.blocks[0].endS);
  check(resumedS >= before.left_s - 0.1 && resumedS < before.left_s + 2, `the patient goes on at ${resumedS.toFixed(1)} s (left at ${before.left_s.toFixed(1)} s)`);

  const second = await page.context().newPage();
  await second.goto(address + '/#/bedside');
  await second.getByRole('link', { name: /^Go on/ }).click();
  const told = await second.getByRole('alert').innerText();
  check(/open in another tab/.test(told), `the second tab says: ${told}`);

  await page.goto(address + '/#/bench');
  await page.getByRole('heading', { name: 'Bench' }).waitFor();
  check(true, 'the Bench opens with the server gone');
});
