// A station with drawn patients: the instructor sets limits and sees who was drawn; learners meet them in
// turn; nobody is told what is wrong.
import { check, openPage, pictureAtWidths, run } from './harness.mjs';
import { Visitor, makeClass } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });

await run('station drawn', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const page = await openPage(browser);
  await page.goto(`${address}/#/station/new/${scene.classId}`);
  await page.locator('summary', { hasText: 'Draw patients at random' }).click();
  await button(page, 'Simple pneumothorax').click();
  await page.getByLabel('Age from').fill('60');
  await page.getByLabel('How many').selectOption('3');
  await button(page, 'Draw 3 patients').click();
  await page.getByText(/^Drawn: /).nth(2).waitFor();
  const drawn = await page.locator('.case.pick', { hasText: 'Drawn:' }).allInnerTexts();
  check(drawn.length === 3 && drawn.every((one) => /Simple pneumothorax, (left|right), (mild|moderate|severe|life-threatening)/.test(one)), `the instructor sees who was drawn: ${drawn.map((one) => one.replaceAll('\n', ' ')).join(' | ')}`);
  check(drawn.every((one) => Number(/(\d+) years/.exec(one)[1]) >= 60), 'all within the limits');
  await pictureAtWidths(page, 'station-drawn');
  await page.getByRole('button', { name: /^Remove/ }).first().click();
  await page.getByText('Several patients: learners meet them in turn').waitFor();
  check(await page.locator('.case.pick', { hasText: 'Drawn:' }).count() === 2, 'one can be taken out again');
  await page.getByLabel('Title, as staff see it').fill('Short of breath, drawn');
  await button(page, 'Save the station').click();
  await button(page, 'Open the station').click();
  await page.locator('.join-code strong').waitFor();
  const id = /#\/station\/([^/]+)/.exec(page.url())[1];
  const station = await scene.staff.get(`stations/${id}`);
  check(station.case_ids.length === 2 && station.case_ids.every((one) => one.startsWith('random-a60_90-')) && station.patients === 'parallel', `the plan: ${station.case_ids.join(', ')}, ${station.patients}`);

  check(station.case_ids.every((one) => Number(/-(\d+)$/.exec(one)[1]) >= 2 ** 52), 'numbers that nobody finds by trying');

  const met = [];
  for (const member of scene.members.slice(0, 3)) {
    const learner = await new Visitor(address).join(station.join_code, member.key);
    const encounter = await learner.post('encounters', { station_id: id });
    check(!/pneumothorax|random-/.test(JSON.stringify(encounter)), `${member.name} is not told what is wrong`);
    met.push(JSON.stringify(encounter.patient.person));
  }
  check(met[0] !== met[1] && met[0] === met[2], 'dealt in turn: the second meets another patient, the third the first one again');
});
