// The server's clock jumps while a learner's page is at a station: the page goes on without being loaded anew, and all
// that was done is kept.
// Usage: node clock_jump.mjs PHREN SCREENS_DIR FAULTS_LIBRARY
import { mkdtempSync, renameSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join as joinPath } from 'node:path';
import { makeClass } from './class_setup.mjs';
import { check, kPatience_ms, openPage, run } from './harness.mjs';

const folder = mkdtempSync(joinPath(tmpdir(), 'phren-clock-')), clock = joinPath(folder, 'clock');
const setClock = (seconds) => { writeFileSync(clock + '.next', String(seconds)); renameSync(clock + '.next', clock); };
const button = (page, name) => page.getByRole('button', { name, exact: true });

// A request that is answered with 503 is an error in the browser's console, and is sent again.
const sentAgain = [/status of 503/];

await run('clock jump', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const page = await openPage(browser, {}, sentAgain);
  let loads = 0;
  page.on('load', () => loads++);
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(scene.members[0].key);
  await button(page, 'Join').click();
  await button(page, 'Begin').click();
  const before = loads;
  const kept = async () => (await scene.staff.get(`stations/${scene.station.id}/board`)).learners.find((one) => one.person_id === scene.members[0].person_id).actions;
  let last = 0;
  for (const jump of [0, -60, 20 * 60, 13 * 3600, 0]) {
    setClock(jump);
    await page.waitForTimeout(1500);
    await button(page, 'Put the chestpiece on').click();
    await button(page, 'Lift the chestpiece').click();
    const until = Date.now() + kPatience_ms;
    while (await kept() < last + 2 && Date.now() < until) await page.waitForTimeout(250);
    const now = await kept();
    check(now >= last + 2, `the clock ${jump} s beside the true time: ${now} deeds are kept`);
    last = now;
  }
  await button(page, 'I am finished').click();
  await page.getByText('All you did is stored on the server').waitFor();
  check(loads === before, 'the page was not loaded anew, and all it did is stored');
  await page.context().close();
}, { environment: { ...process.env, LD_PRELOAD: process.argv[4], PHREN_TEST_CLOCK: (setClock(0), clock) } });
