// A learner meets a right pneumothorax: hears the side difference, marks, weighs, treats, listens
// again, and gets a debrief that says what was done. Once by touch, once by keyboard alone.
import { check, openPage, run, screenFile } from './harness.mjs';
import { catchSound, keptEncounter, level_dbfs, listen, patientTime, untilKept, untilPatientTime } from './listening.mjs';

const kBreaths_s = 9;

// On a phone it stands in the bar of hands, under a shorter name.
const chestpiece = (page) => page.getByRole('button', { name: /^(Put (the chestpiece )?on|Lift( the chestpiece)?)$/ }).filter({ visible: true }).first();

const byTouch = {
  name: 'touch', context: { viewport: { width: 390, height: 800 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 },
  press: (page) => chestpiece(page).tap(),
  otherSide: (page) => page.getByRole('button', { name: 'Other side' }).tap(),
  hand: (page, name) => page.getByRole('tab', { name }).tap(),
  choose: (page, name) => page.getByRole('button', { name }).first().tap(),
};

async function tabTo(page, pattern) {
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press('Tab');
    const words = await page.evaluate(() => (document.activeElement instanceof HTMLButtonElement ? document.activeElement.textContent : ''));
    if (pattern.test(words ?? '')) return;
  }
  throw new Error(`Tab never reached ${pattern}`);
}
// The chestpiece has come to rest on that side of the chest: the log has it there, and it slid there for a moment.
async function untilOn(page, side) {
  const { log } = await untilKept(page, (kept) => kept.log.at(-1).do === 'place' && kept.log.at(-1).u > 0 === (side === 'left'));
  await untilPatientTime(page, log.at(-1).t + 0.3);
}
const handKey = { Listen: 'l', Look: 'i', Monitor: 'v', Treat: 'x', Weigh: 'w' };
const byKeyboard = {
  name: 'keyboard', context: {},
  press: (page) => page.keyboard.press(' '),
  otherSide: (page) => page.keyboard.press('o'),
  hand: (page, name) => page.keyboard.press(handKey[name]),
  choose: async (page, name) => { await tabTo(page, name instanceof RegExp ? name : new RegExp('^' + name)); await page.keyboard.press('Enter'); },
};

async function meet(browser, address, way) {
  const page = await openPage(browser, way.context);
  await catchSound(page);
  await page.goto(`${address}/#/bedside/right_pneumothorax`);
  await page.getByRole('heading', { level: 1 }).waitFor();
  await chestpiece(page).waitFor();
  await way.press(page);
  await page.waitForFunction(() => globalThis.caught.blocks.length > 20);
  const right = await level_dbfs(page, await listen(page, kBreaths_s));
  await way.choose(page, 'diminished breath sounds');
  await way.otherSide(page);
  await untilOn(page, 'left');
  const left = await level_dbfs(page, await listen(page, kBreaths_s));
  console.log(`       ${way.name}: right ${right.toFixed(1)} dB, left ${left.toFixed(1)} dB re full scale`);
  check(left - right > 3, `${way.name}: the ill side is at least 3 dB quieter`);
  await way.choose(page, 'normal breath sounds');
  await way.hand(page, 'Look');
  await way.choose(page, 'Chest, belly');
  await way.choose(page, /^right$/);
  await page.getByText('+ asymmetric chest rise').waitFor();
  await page.locator('#hand summary').press('Enter');
  await way.choose(page, /Watch both sides rise/);
  await page.getByText('Yes: asymmetric chest rise').waitFor();
  await way.hand(page, 'Monitor');
  await way.choose(page, /Clip on the oximeter/);
  const before = await saturation(page);
  await way.hand(page, 'Weigh');
  await way.choose(page, /Weigh what was found/);
  await page.getByRole('heading', { name: 'What is likely' }).waitFor();
  const first = await page.locator('.rank strong').allTextContents();
  check(first.slice(0, 3).includes('pneumothorax'), `${way.name}: pneumothorax is among the first three (${first.slice(0, 3).join(', ')})`);
  await page.screenshot({ path: screenFile(`bedside-weigh-${way.name}`) });
  await way.hand(page, 'Treat');
  await way.choose(page, /Oxygen by mask/);
  await way.choose(page, 'Pause');
  const oxygenAt_s = await patientTime(page);
  for (let minute = 0; minute < 5; minute++) await way.choose(page, 'Skip 1 min');
  await way.choose(page, 'Pause');
  await way.hand(page, 'Listen');
  await way.otherSide(page);
  await untilPatientTime(page, oxygenAt_s + 300);  // a slow machine lives the minutes late
  await untilOn(page, 'right');
  const again = await level_dbfs(page, await listen(page, kBreaths_s));
  await way.hand(page, 'Monitor');
  const after = await saturation(page);
  console.log(`       ${way.name}: saturation ${before} % before oxygen, ${after} % five minutes later; right ${again.toFixed(1)} dB`);
  check(after > before, `${way.name}: saturation rises with oxygen`);
  check(left - again > 3, `${way.name}: oxygen does not empty the chest of air: the side is as quiet as before`);
  await way.choose(page, /End and debrief/);
  await page.getByRole('heading', { name: /^Debrief/ }).waitFor();
  await compareDebrief(page, way);
  await hearAgain(page, way);
  await page.screenshot({ path: screenFile(`debrief-${way.name}`), fullPage: true });
  await page.context().close();
}

const saturation = async (page) => Number((await page.locator('.reading', { hasText: 'SpO2' }).locator('.big').innerText()).replace('%', ''));

// The quieter side is still the quieter one when the debrief plays it again.
async function hearAgain(page, way) {
  const hear = page.getByRole('button', { name: /^Hear this at/ }).first();
  if (way.name === 'touch') await hear.tap(); else { await hear.focus(); await page.keyboard.press('Enter'); }
  await page.getByRole('button', { name: 'Stop', exact: true }).waitFor();
  check(true, `${way.name}: a moment sounds again`);
  await page.getByRole('button', { name: 'Stop', exact: true }).click();
}

async function compareDebrief(page, way) {
  await page.locator('table[data-places]').waitFor();
  const kept = await keptEncounter(page);
  const text = await page.locator('article').innerText();
  // A chestpiece that slides writes a line every 150 ms; the debrief shows where it came to rest.
  const steps = await page.locator('article details ol li').count();
  const legible = kept.log.filter((one, i) => !(one.do === 'place' && kept.log[i + 1]?.do === 'place' && kept.log[i + 1].t - one.t < 0.5));
  check(steps === legible.length, `${way.name}: ${steps} steps shown, ${kept.log.length} in the log`);
  check(kept.log.at(-1).do === 'end', `${way.name}: the log is closed`);
  for (const id of ['F5', 'F6']) {
    const shown = Number(await page.locator(`tr[data-site="${id}"] td`).nth(1).innerText());
    check(shown >= kBreaths_s - 1 && shown < kept.log.at(-1).t - 300, `${way.name}: ${id} ${shown} s listened, without the minutes let pass`);
  }
  check(/The patient had: Simple pneumothorax, right/.test(text), `${way.name}: the truth is told`);
  check(kept.log.filter((one) => one.do === 'treat').length === 1, `${way.name}: the treatment is in the log`);
}

await run('end to end', async ({ address, browser }) => {
  await meet(browser, address, byTouch);
  await meet(browser, address, byKeyboard);
});
