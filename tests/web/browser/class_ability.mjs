// A learner takes the ability test on a phone: nothing is told before the end, the page may be loaded
// again in between, the result comes with its uncertainty and where it rests; the instructor sees the same.
import { check, openPage, pictureAtWidths, run } from './harness.mjs';
import { look } from './judge.mjs';
import { makeClass } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });

async function answerOne(page, i) {
  const send = button(page, 'Give this answer');
  await page.getByRole('button', { name: /^Play/ }).first().waitFor();
  const choices = page.locator('.choices button');
  await choices.nth((i * 7 + 3) % await choices.count()).click();
  if (i === 1) await pictureAtWidths(page, 'ability-question');
  const before = await page.getByRole('status').first().innerText();
  await send.click();
  await page.waitForFunction((was) => [...document.querySelectorAll('h1')].some((one) => one.textContent === 'Your ability test') || document.querySelector('[role=status]')?.textContent !== was, before);
}

await run('class ability', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const page = await openPage(browser, { viewport: { width: 390, height: 844 } });
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(scene.members[0].key);
  await button(page, 'Join').click();
  await button(page, 'Begin').waitFor();
  await page.goto(`${address}/#/drill/test`);
  await button(page, 'Begin the test').waitFor();
  await pictureAtWidths(page, 'ability-start');

  const told = [];
  page.on('response', async (response) => {
    if (!response.url().includes('/ability-tests') || !response.headers()['content-type']?.includes('json')) return;
    const body = await response.json().catch(() => null);
    if (body && !body.has_ended) told.push(JSON.stringify([body.right, body.ability, body.share, Object.keys(body.item ?? {}).sort()]));
  });
  await button(page, 'Begin the test').click();
  let asked = 0;
  for (; asked < 90 && !await page.getByRole('heading', { name: 'Your ability test' }).isVisible(); asked++) {
    if (asked === 4) {
      await page.reload();
      await button(page, 'Go on with the test').click();
      check(await page.getByText('Question 5, at most 80').waitFor().then(() => true), 'loaded again, the test goes on where it was');
    }
    await answerOne(page, asked);
    if (asked === 0) check(!/right|wrong|✓|✗/i.test(await page.locator('main').innerText().then((text) => text.replace(/right, left|patient's right|\bright\b(?= *\n)|Play right/g, ''))), 'nothing on the page says whether the answer was right');
  }
  check(told.length >= asked && told.every((one) => one === '[null,null,null,["choices","has_one_gain","item_id","mode","question","sound_labels","sounds"]]'), `${told.length} answers of the server before the end: neither marks, ability nor truth in them`);
  const sentence = await page.locator('.caption').innerText();
  check(/^Your ability is −?\d\.\d and most likely \(95 %\) between −?\d\.\d and −?\d\.\d: of 100 questions of all kinds alike about \d+ right, likely between \d+ and \d+\.$/.test(sentence), `after ${asked} questions one sentence: ${sentence}`);
  check(await page.getByText('was assumed, not measured').isVisible(), 'the page says that the difficulties were assumed');
  await pictureAtWidths(page, 'ability-result');
  await look(page, 'ability-result');

  const staff = await openPage(browser);
  await staff.goto(`${address}/#/class/${scene.classId}/person/${scene.members[0].person_id}`);
  const seen = await staff.locator('.card .caption').first().innerText();
  check(seen === sentence.replace('Your ability', 'The ability'), 'the instructor sees the same result on the learner’s page');
  await pictureAtWidths(staff, 'ability-learner-page');
});
