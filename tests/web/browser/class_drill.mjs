// An instructor sets what the class practises; a learner's drill offers and plays only that, without pictures.
import { check, openPage, pictureAtWidths, run } from './harness.mjs';
import { makeClass } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });

await run('class drill', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const staff = await openPage(browser, {}, [/422/]);
  await staff.goto(`${address}/#/class/${scene.classId}/drill`);
  await staff.getByText('11 of 11 chosen').waitFor();
  for (const label of ['normal (vesicular)', 'coarse crackles', 'fine crackles', 'diminished', 'absent', 'bronchial breathing', 'pleural friction rub', 'squawk']) await button(staff, label).click();
  await button(staff, 'Save').click();
  await staff.getByText(/can ask about/).waitFor();
  check(true, 'too few sounds for a kind of question are refused with the reason');
  for (const name of [/When in the breath/, /Which side/, /Which lobe/, /Weigh it/, /First danger/]) await staff.getByLabel(name).uncheck();
  await staff.getByLabel(/^New sounds a day/).selectOption('2');
  await staff.getByLabel(/Sound only/).check();
  await button(staff, 'Save').click();
  await staff.getByText('Saved.').waitFor();
  await pictureAtWidths(staff, 'class-drill');

  const page = await openPage(browser, { viewport: { width: 390, height: 844 } });
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(scene.members[0].key);
  await button(page, 'Join').click();
  await button(page, 'Begin').waitFor();
  await page.goto(`${address}/#/drill`);
  await page.getByText('Your class practises this now: wheeze, rhonchus, stridor; 2 new a day.').waitFor();
  check(await page.locator('a.case').count() === 2, 'only the chosen kinds of question are offered');
  await pictureAtWidths(page, 'drill-of-class');
  await page.setViewportSize({ width: 390, height: 844 });
  await page.goto(`${address}/#/drill/name`);
  await button(page, 'wheeze').waitFor({ timeout: 60000 });
  check(await page.locator('.choices button').count() === 3, 'only the chosen sounds are offered as answers');
  await button(page, 'wheeze').click();
  await button(page, 'Next').waitFor({ timeout: 60000 });
  check(await page.getByRole('region', { name: /^Picture/ }).count() === 0 && await page.locator('canvas').count() === 0, 'no picture, even after the answer');
});
