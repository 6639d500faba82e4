// At the bedside nothing done is lost or misplaced: the end is the end, a reload goes on, a debrief can
// be opened again, and what was named nearly right is said to be nearly right.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { check, openPage, root, run } from './harness.mjs';
import { catchSound, keptEncounter, listen, untilKept } from './listening.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });
const hand = (page, name) => page.getByRole('tab', { name, exact: true }).click();
const deeds = async (page) => (await keptEncounter(page)).log.map((one) => one.do);

// Which families count half is written down twice: for the mark and for the page.
function sameFamilies() {
  const read = (path) => readFileSync(join(root, path), 'utf8');
  const words = (list) => [...list.matchAll(/["']([a-z_]+)["']/g)].map((one) => one[1]).join('+');
  const native = [...read('src/bedside/verdict.cc').matchAll(/case Sound::k(\w+):\s*return \{\{"\w+"\}, \{([^}]*)\}\}/g)]
    .map(([, name, list]) => [name.replace(/(?!^)([A-Z])/g, '_$1').toLowerCase(), words(list)]).filter(([, list]) => list);
  const text = /const familyOf[^{]*\{([^}]*)\}/.exec(read('web/src/bedside/debrief_truth.ts'))[1];
  const page = [...text.matchAll(/(\w+): \[([^\]]*)\]/g)].map(([, name, list]) => [name, words(list)]);
  const told = (pairs) => pairs.map((one) => one.join(': ')).sort().join('; ');
  check(native.length > 0 && told(native) === told(page), `${native.length} families are the same in mark and debrief`);
}

await run('bedside faults', async ({ address, browser }) => {
  sameFamilies();
  const page = await openPage(browser);
  await catchSound(page);
  await page.goto(`${address}/#/bedside/asthma`);
  await button(page, 'Put the chestpiece on').click();
  await button(page, 'Lift the chestpiece').waitFor();
  await button(page, 'rhonchi').click();
  await page.waitForFunction(() => location.hash.includes('/again/'));
  const { id } = await untilKept(page, ({ log }) => log.some((one) => one.do === 'place') && log.some((one) => one.do === 'report'));
  await page.reload();
  await page.getByRole('button', { name: /^rhonchi.*marked present/ }).waitFor();
  check((await keptEncounter(page)).id === id, 'a reload in mid-encounter goes on with the same patient and marks');

  await hand(page, 'Weigh');
  await page.getByLabel('Most likely').selectOption('asthma');
  await page.waitForFunction(() => document.querySelectorAll('fieldset select').length === 2);
  await page.getByLabel('Most likely').selectOption('');
  await page.waitForFunction(() => document.querySelectorAll('fieldset select').length === 1);
  const isRank = (one) => one.do === 'rank';
  const ranks = (await untilKept(page, ({ log }) => log.filter(isRank).length >= 2)).log.filter(isRank);
  check(ranks.length === 2 && ranks[1].conditions.length === 0, 'taking the likeliest back is written down');

  await hand(page, 'Listen');
  await button(page, 'Put the chestpiece on').click();
  await button(page, 'Lift the chestpiece').waitFor();
  await listen(page, 8);
  await hand(page, 'Look');
  // All in one moment, as fast fingers do: a cough, a look, and End twice.
  const pressed = await page.evaluate(() => {
    const all = [...document.querySelectorAll('button')];
    const end = all.find((one) => one.textContent === 'End and debrief');
    const look = document.querySelector('#hand .answer button');
    document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'c', bubbles: true }));
    look.click(); end.click(); end.click();
    return look.textContent;
  }).catch((error) => String(error));
  await page.getByRole('heading', { name: /^Debrief/ }).waitFor();
  await page.locator('table[data-places]').waitFor();
  const done = await deeds(page);
  check(done.at(-1) === 'end' && done.filter((one) => one === 'end').length === 1, `one end, and nothing after it: … ${done.slice(-6).join(' ')}`);
  check(done.includes('instruct') && done.includes('examine') && done.slice(done.indexOf('examine')).includes('report'), `what was under way is in the log: a cough, and ${pressed} with its answer`);
  const words = await page.locator('article').innerText();
  check(/nearly: you marked rhonchi/i.test(words), 'rhonchi for wheeze is said to be nearly right, as the mark has it');

  await page.reload();
  await page.getByRole('heading', { name: /^Debrief/ }).waitFor();
  check((await deeds(page)).join() === done.join(), 'a reloaded debrief stays a debrief');
  await page.goto(`${address}/#/bedside`);
  await page.getByRole('heading', { name: 'Finished' }).waitFor();
  check(await page.getByRole('link', { name: /^Go on/ }).count() === 0, 'an ended encounter is not offered to go on with');
  await page.getByRole('link', { name: /^Debrief/ }).click();
  await page.getByRole('heading', { name: /^Debrief/ }).waitFor();
  check(true, 'and its debrief can be opened again from the list');

  for (const time of ['once', 'and once more']) {
    await page.getByRole('link', { name: 'The same patient again' }).click();
    await button(page, 'wheeze').click();
    await page.waitForFunction(() => location.hash.includes('/again/'));
    await button(page, 'End and debrief').click();
    await page.getByRole('heading', { name: /^Debrief/ }).waitFor();
    check(true, `the same patient again, ${time}`);
  }
});
