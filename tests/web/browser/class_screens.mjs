// Every screen of Drill, Station and Class, judged as the others are.
import { execFileSync } from 'node:child_process';
import { newRecords, openPage, program, run, startServer } from './harness.mjs';
import { look } from './judge.mjs';
import { makeClass, practise, takeAbilityTest, takePart } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });
const press = (name) => (page) => button(page, name).click();
const tab = (name) => (page) => page.getByRole('tab', { name, exact: true }).click();
const inTurn = (...steps) => async (page) => { for (const step of steps) await step(page); };
const play = async (page) => { await page.getByRole('button', { name: /^Play/ }).first().click(); };

const joinAs = (scene, member, address) => async (page) => {
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(member.key);
  await button(page, 'Join').click();
  await button(page, 'Begin').waitFor();
};

function staffScreens({ classId, station, members, encounterId }) {
  const desk = `#/station/${station.id}`;
  return [
    { name: 'drill', hash: '#/drill', prepare: (page) => page.getByRole('heading', { name: 'Where you stand' }).waitFor() },
    { name: 'drill-play', hash: '#/drill/name', prepare: play },
    { name: 'drill-answered', hash: '#/drill/name', prepare: inTurn(play, press('wheeze'), (page) => button(page, 'Next').waitFor()) },
    { name: 'drill-side', hash: '#/drill/side', prepare: play },
    { name: 'drill-lobe', hash: '#/drill/lobe', prepare: inTurn(play, press('left lower lobe'), (page) => button(page, 'Next').waitFor()) },
    { name: 'ability-question', hash: '#/drill/test', prepare: inTurn(press('Begin the test'), play) },
    { name: 'drill-summary', hash: '#/drill/same', prepare: inTurn(press('the same kind'), (page) => button(page, 'Next').waitFor(), press('Stop here')) },
    { name: 'stations', hash: '#/station' },
    { name: 'station-new', hash: `#/station/new/${classId}`, prepare: (page) => page.getByLabel('Upright at the kitchen table').check() },
    { name: 'station-board', hash: desk, prepare: (page) => page.getByText('under way').first().waitFor() },
    { name: 'station-join', hash: desk, prepare: inTurn(press('Join'), (page) => page.locator('.qr').waitFor()) },
    { name: 'station-pass-mark', hash: desk, prepare: inTurn(press('Pass mark'), (page) => page.locator('summary', { hasText: 'Give your own' }).click()) },
    { name: 'station-plan', hash: desk, prepare: press('Plan') },
    { name: 'station-tablet', hash: `${desk}/mark/${encounterId}`, prepare: inTurn(press('Show what the log gives'), (page) => page.locator('.marks').waitFor()) },
    { name: 'classes', hash: '#/class' },
    { name: 'class-people', hash: `#/class/${classId}`, prepare: (page) => page.locator('summary', { hasText: 'Add an examiner' }).click() },
    { name: 'class-skills', hash: `#/class/${classId}/skills`, prepare: (page) => page.locator('.map').waitFor() },
    { name: 'class-drill', hash: `#/class/${classId}/drill`, prepare: (page) => page.getByText('of 11 chosen').waitFor() },
    { name: 'class-stations', hash: `#/class/${classId}/stations` },
    { name: 'class-results', hash: `#/class/${classId}/results`, prepare: (page) => page.getByRole('heading', { name: 'Items' }).waitFor() },
    { name: 'class-audit', hash: `#/class/${classId}/audit`, prepare: (page) => page.locator('table').waitFor() },
    { name: 'class-learner', hash: `#/class/${classId}/person/${members[0].person_id}`, prepare: inTurn(press('Delete this person')) },
    { name: 'join', hash: `#/join/${station.join_code}`, prepare: press('I have no key') },
  ];
}

function learnerScreens(scene, address) {
  const [, , , d, e, f] = scene.members;
  return [
    { name: 'learner-ready', prepare: joinAs(scene, d, address) },
    { name: 'learner-examines', prepare: inTurn(joinAs(scene, d, address), press('Begin'), press('Put the chestpiece on'), (page) => page.waitForTimeout(1500)) },
    { name: 'learner-ranks', prepare: inTurn(joinAs(scene, e, address), press('Begin'), tab('Weigh'), (page) => page.getByLabel('Add').selectOption({ label: 'asthma' }), (page) => page.getByLabel('Add').selectOption({ label: 'pneumothorax' })) },
    { name: 'learner-finished', prepare: inTurn(joinAs(scene, f, address), press('Begin'), press('I am finished'), (page) => page.getByText('is stored on the server').waitFor()) },
  ];
}

async function judge(browser, address, screen) {
  const page = await openPage(browser, {}, screen.allowed ?? []);
  await page.addInitScript(() => localStorage.setItem('phren.theme', 'paper'));
  if (screen.hash) {
    await page.goto(`${address}/${screen.hash}`);
    await page.waitForSelector('main h1');
    await page.waitForLoadState('networkidle');
  }
  if (screen.prepare) await screen.prepare(page);
  await look(page, screen.name);
  await page.context().close();
}

const kAtOnce = 3;

await run('class screens', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const first = await takePart(address, scene, scene.members[0], 9);
  const second = await takePart(address, scene, scene.members[1], 4);
  await takePart(address, scene, scene.members[2], 6, false);
  const test = await takeAbilityTest(first.learner, 8);
  await first.learner.post(`ability-tests/${test.id}/stop`, {});
  await practise(first.learner, 'name', 14);
  await practise(second.learner, 'name', 9);
  await practise(scene.staff, 'name', 8);
  scene.encounterId = first.encounter.id;
  await scene.staff.ask('PUT', `encounters/${first.encounter.id}/examiner`, { marks: [{ item_id: 'explains', points: 1.5, note: '' }], global_rating: 4, note: '' });
  const waiting = [...staffScreens(scene), ...learnerScreens(scene, address)];
  const worker = async () => { for (let screen = waiting.shift(); screen; screen = waiting.shift()) await judge(browser, address, screen); };
  await Promise.all(Array.from({ length: kAtOnce }, worker));

  await scene.staff.post(`stations/${scene.station.id}/state`, { state: 'closed' });
  await scene.staff.post(`stations/${scene.station.id}/state`, { state: 'released' });
  const page = await openPage(browser);
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(scene.members[0].key);
  await button(page, 'Join').click();
  await page.getByRole('heading', { name: 'What the patient had' }).waitFor();
  await look(page, 'learner-result');
  await page.context().close();

  // With an account there is a login.
  const records = newRecords();
  execFileSync(program, ['records', 'add', '--login', 'ingrid', '--name', 'Ingrid Voll', '--role', 'instructor', '--records', records, '--create'], { input: 'a long enough password\n' });
  const server = await startServer([], records);
  await judge(browser, server.address, { name: 'login', hash: '#/class', allowed: [/401.*\/session$/], prepare: async (login) => {
    await login.getByLabel('Login').fill('ingrid');
    await login.getByLabel('Password').fill('not the password');
    await button(login, 'Log in').click();
    await login.getByRole('alert').waitFor();
  } });
  await server.stop();
});
