// What an examiner sees and a learner does not: the roster without keys, a case in use at a station.
import { execFileSync } from 'node:child_process';
import { check, newRecords, openPage, program, run, screenFile, startServer } from './harness.mjs';
import { makeClass, Visitor } from './class_setup.mjs';

const password = 'a long enough password';
const button = (page, name) => page.getByRole('button', { name, exact: true });
const heads = (page) => page.getByRole('region', { name: 'Roster' }).locator('thead th').allInnerTexts();

async function enter(browser, address, login) {
  const page = await openPage(browser, {}, [/401.*\/session$/]);
  await page.goto(`${address}/#/class`);
  await page.getByLabel('Login').fill(login);
  await page.getByLabel('Password').fill(password);
  await button(page, 'Log in').click();
  await page.getByRole('heading', { name: 'Classes' }).waitFor();
  return page;
}

async function roster(page, address, made, sees) {
  await page.goto(`${address}/#/class/${made.classId}`);
  await page.getByRole('region', { name: 'Roster' }).waitFor();
  const names = (await heads(page)).filter((one) => one !== '' && one !== 'Remove');
  const text = await page.locator('main').evaluate((main) => main.textContent);
  const keys = made.members.filter((one) => text.includes(one.key)).length;
  check(names.includes('Key to join') === sees && keys === (sees ? made.members.length : 0), `the roster has the columns ${names.join(', ')} and ${keys} keys`);
  check(await button(page, 'Roster as CSV').isVisible() === sees && await button(page, 'Print key slips').isVisible() === sees, sees ? 'it can be taken away' : 'nothing on it is refused when it is pressed');
}

const listed = async (page, address) => {
  await page.goto(`${address}/#/bedside`);
  await page.getByRole('heading', { name: 'Prepared patients' }).waitFor();
  await page.locator('a.case').nth(3).waitFor();
  return page.locator('a.case').evaluateAll((all) => all.map((one) => ({ to: one.getAttribute('href'), words: one.textContent })));
};

// The device keeps copies for when the network is gone; of a case in use it must not.
const copies = (page) => page.evaluate(async () => (await (await caches.open('data')).keys()).map((one) => new URL(one.url).pathname));

await run('class for an examiner', async ({ browser }) => {
  const records = newRecords();
  execFileSync(program, ['records', 'add', '--login', 'ingrid', '--name', 'Ingrid Voll', '--role', 'instructor', '--records', records, '--create'], { input: password + '\n' });
  const server = await startServer([], records);
  const staff = new Visitor(server.address);
  staff.csrf = (await staff.post('session', { login: 'ingrid', password })).csrf;
  const made = await makeClass(server.address, staff);
  await staff.post(`classes/${made.classId}/staff`, { login: 'eira', name: 'Eira Moen', role: 'examiner', password });

  await roster(await enter(browser, server.address, 'ingrid'), server.address, made, true);
  const examiner = await enter(browser, server.address, 'eira');
  await roster(examiner, server.address, made, false);
  await examiner.screenshot({ path: screenFile('class-people-examiner-desktop') });

  await examiner.evaluate(() => navigator.serviceWorker.ready);
  await examiner.reload();
  const seen = await listed(examiner, server.address);
  const used = seen.filter((one) => one.words.includes('in use at a station'));
  check(used.length === 1 && used[0].to === '#/bedside/asthma', `the examiner sees ${seen.length} patients, one of them in use: ${used[0]?.words}`);
  await examiner.screenshot({ path: screenFile('bedside-choose-examiner-desktop') });
  await examiner.goto(`${server.address}/${used[0].to}`);
  await button(examiner, 'Put the chestpiece on').waitFor();
  let kept = [];
  for (let i = 0; i < 100 && !kept.includes('/api/v1/cases/healthy_volunteer/config'); i++) { await examiner.waitForTimeout(200); kept = await copies(examiner); }
  check(kept.includes('/api/v1/cases/healthy_volunteer/config') && !kept.some((one) => one.includes('/asthma') || one.endsWith('/cases')), `it opens, and the device keeps no copy of it among ${kept.length}`);

  const learner = await openPage(browser, {}, [/401.*\/session$/]);
  await learner.goto(`${server.address}/#/join/${made.station.join_code}`);
  await learner.getByLabel('Your own key').fill(made.members[0].key);
  await button(learner, 'Join').click();
  await button(learner, 'Begin').waitFor();
  const own = await learner.evaluate(async () => (await (await fetch('/api/v1/cases')).json()).cases.map((one) => one.id));
  check(own.length === seen.length - 1 && !own.includes('asthma'), `the learner's page is told of ${own.length}, without it`);
  await server.stop();
});
