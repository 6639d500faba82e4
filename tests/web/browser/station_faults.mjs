// What goes wrong at a station, and that no mark, step or minute is lost by it: lines that hang, clocks
// that are wrong, steps that are refused, taps too fast or at the wrong place.
import { check, openPage, run, startServer } from './harness.mjs';
import { untilKept } from './listening.mjs';
import { makeClass, takePart, Visitor } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });
const kClockAhead_ms = 300_000;
const refusals = [/status of 4\d\d/, /ERR_FAILED/];

async function join(page, address, scene, member) {
  await page.goto(`${address}/#/join/${scene.station.join_code}`);
  await page.getByLabel('Your own key').fill(member.key);
  await button(page, 'Join').click();
}

// The first request hangs, the second must not be overwritten by its repetition.
async function tablet(browser, address, scene, encounter, name) {
  const page = await openPage(browser, {}, refusals);
  let puts = 0;
  await page.route('**/examiner', async (route) => {
    if (route.request().method() !== 'PUT' || puts++ > 0) { await route.continue(); return; }
    await new Promise((wake) => setTimeout(wake, 1200));
    await route.abort();
  });
  await page.goto(`${address}/#/station/${scene.station.id}/mark/${encounter.id}`);
  await page.getByRole('heading', { name: `Mark ${name}` }).waitFor();
  check(true, `the sheet says whose it is: ${name}`);
  await page.getByRole('group', { name: /Explains to the patient/ }).getByRole('button', { name: '1', exact: true }).click();
  await page.getByRole('button', { name: /good enough/ }).click();
  const mine = async () => (await scene.staff.get(`encounters/${encounter.id}/examiner`)).mine;
  for (let i = 0; i < 900 && (await mine()).global_rating !== 4; i++) await page.waitForTimeout(100);
  await page.waitForTimeout(3800);  // longer than the pause before a repetition
  const kept = await mine();
  check(kept.global_rating === 4 && kept.marks.length === 1 && kept.marks[0].points === 1, `a hanging request loses no rating: ${JSON.stringify(kept)}`);
  await page.waitForFunction((id) => localStorage.getItem('phren.tablet.' + id) === null, encounter.id);
  check(true, 'and nothing is left to be sent');
  await page.context().close();
}

async function board(browser, address, scene) {
  const page = await openPage(browser);
  await page.goto(`${address}/#/station/${scene.station.id}`);
  const row = page.locator('.board-row').filter({ hasText: scene.members[1].name });
  await row.getByText('examiner’s points missing').waitFor();
  check(!/\d points|passed/.test(await row.innerText()), `before the examiner has marked, no points and no verdict: ${(await row.innerText()).replaceAll('\n', ' | ')}`);
  await row.getByRole('link', { name: /^Mark/ }).click();
  await button(page, 'Show what the log gives').click();
  await page.locator('.verdict').waitFor();
  check(/1 item for the examiner still open/.test(await page.locator('.verdict').innerText()), `the sheet gives no verdict either: ${await page.locator('.verdict').innerText()}`);
  await page.goto(`${address}/#/class/${scene.classId}/person/${scene.members[1].person_id}`);
  await page.getByText('not released yet').waitFor();
  check(!/passed/.test(await page.locator('main').innerText()), 'nor does the page of the learner');
  await page.goto(`${address}/#/station/${scene.station.id}`);
  await button(page, 'Close the station').click();
  const asked = await page.getByRole('alertdialog').innerText();
  check(/1 learner still under way/.test(asked), `closing says who is still at it: ${asked.split('\n')[0]}`);
  await button(page, 'Not now').click();
  await page.context().close();
}

// A second device, later, with a clock five minutes fast.
async function secondDevice(browser, address, scene, member) {
  const page = await openPage(browser);
  await page.addInitScript((ms) => { const now = Date.now.bind(Date); Date.now = () => now() + ms; }, kClockAhead_ms);
  await join(page, address, scene, member);
  const left = await page.locator('.time-left').innerText();
  const [, minutes, seconds] = /(\d+):(\d\d)/.exec(left) ?? ['', NaN, NaN];
  if (Number.isNaN(minutes)) console.log('       the clock reads: ' + left);
  const state = await scene.staff.get(`stations/${scene.station.id}/board`);
  const row = state.learners.find((one) => one.person_id === member.person_id);
  const truly = (row.ends_ms - state.now_ms) / 1000, shown = 60 * Number(minutes) + Number(seconds);
  check(Math.abs(shown - truly) < 60, `a device whose clock is 300 s fast shows ${shown} s left; the server says ${truly.toFixed(0)} s`);

  await button(page, 'Leave').click();
  await page.getByRole('alertdialog').waitFor();
  check(true, 'leaving in mid-station is asked about');
  await button(page, 'Stay').click();
  check(await button(page, 'Put the chestpiece on').isVisible(), 'and staying stays');
  await page.context().close();
}

async function begin(browser, address, scene, member) {
  const page = await openPage(browser, {}, refusals);
  await join(page, address, scene, member);
  await button(page, 'Begin').click();
  await button(page, 'Put the chestpiece on').click();
  await button(page, 'Lift the chestpiece').waitFor();
  return page;
}

async function fastFingers(browser, address, scene, member) {
  const page = await begin(browser, address, scene, member);
  await page.evaluate(() => {
    const named = (name) => [...document.querySelectorAll('button')].find((one) => one.textContent === name);
    const end = named('I am finished');
    named('Breathe deeply').click(); end.click(); end.click();
  });
  await page.getByText('All you did is stored on the server').waitFor();
  const log = (await untilKept(page, (kept) => kept.log.some((one) => one.do === 'end'))).log.map((one) => one.do);
  check(log.at(-1) === 'end' && log.indexOf('end') === log.length - 1 && log.includes('instruct'), `a deep breath and finished twice at once: ${log.join(' ')}`);
  await page.context().close();
}

async function refusedSteps(browser, address, scene, member) {
  const page = await begin(browser, address, scene, member);
  const detail = 'action 0123456789abcdef0123456789abcdef: t must not fall';
  await page.route('**/actions', (route) => route.fulfill({ status: 422, contentType: 'application/problem+json', body: JSON.stringify({ title: 'wrong value', status: 422, detail }) }));
  await button(page, 'wheeze').click();
  await page.getByRole('alert').waitFor();
  await button(page, 'I am finished').click();
  await page.getByRole('heading', { name: 'Finished' }).waitFor();
  const words = await page.locator('main').innerText();
  check(/examiner/.test(words) && !/Do not close/.test(words) && !/[0-9a-f]{16}/.test(words), `refused steps have a way out: ${words.replaceAll('\n', ' ')}`);
  await page.context().close();
}

async function closedUnderWay(browser, address, scene, member) {
  const page = await begin(browser, address, scene, member);
  const desk = await openPage(browser);
  await desk.goto(`${address}/#/station/${scene.station.id}`);
  await button(desk, 'Close the station').click();
  await desk.getByRole('alertdialog').getByRole('button', { name: 'Close the station' }).click();
  await button(desk, 'Release the results').click();
  const asked = await desk.getByRole('alertdialog').innerText();
  check(/without the examiner’s marks/.test(asked), `releasing says whose marks are missing: ${asked.split('\n')[0]}`);
  await desk.getByRole('alertdialog').getByRole('button', { name: 'Release the results' }).click();
  await desk.getByText('results released').waitFor();
  await button(page, 'wheeze').click();
  await page.getByText(/The station is closed/).or(page.getByRole('heading', { name: 'What the patient had' })).first().waitFor();
  check(true, 'a closed station ends the encounter on the device too');
  await page.getByRole('heading', { name: 'What the patient had' }).waitFor();
  check(true, 'and the result comes');
  await desk.context().close();
  await page.context().close();
}

async function staffOnly(browser) {
  const server = await startServer();
  const { address } = server;
  const scene = await makeClass(address);

  const page = await openPage(browser, {}, refusals);
  await page.goto(`${address}/#/class/${scene.classId}/people`);
  await page.route('**/roster', (route) => route.abort());
  await page.getByLabel('Name', { exact: true }).first().fill('Gudrun Moe');
  await page.getByLabel('Login, short and unique').fill('gudrun');
  await button(page, 'Add learner').click();
  await page.getByRole('alert').waitFor();
  check(await page.getByLabel('Login, short and unique').inputValue() === 'gudrun', 'a learner who could not be added stays in the fields');
  await page.context().close();

  const refused = await openPage(browser, {}, refusals);
  await refused.route('**/api/v1/session', (route) => route.fulfill({ status: 429, contentType: 'application/problem+json', body: JSON.stringify({ title: 'too many', status: 429, detail: 'too many requests; wait a minute' }) }));
  await refused.goto(`${address}/#/class`);
  check(/wait a minute/.test(await refused.getByRole('alert').innerText()), 'a refused session says why');
  await refused.context().close();

  // An examiner; from now on there is a login.
  await scene.staff.post(`classes/${scene.classId}/staff`, { login: 'torvald', role: 'examiner', name: 'Torvald Ness', password: 'a long enough password' });
  const examiner = new Visitor(address);
  await examiner.enter();
  examiner.csrf = (await examiner.post('session', { login: 'torvald', password: 'a long enough password' })).csrf;
  const marking = await openPage(browser);
  await marking.context().addCookies([{ name: examiner.cookie.split('=')[0], value: examiner.cookie.split('=')[1], url: address }]);
  const offered = async (hash, wait) => {
    await marking.goto(`${address}/#/${hash}`);
    await marking.getByText(wait).first().waitFor();
    await marking.waitForLoadState('networkidle');
    return marking.locator('main').innerText();
  };
  const shown = [await offered('class', 'Skerrow Sound'), await offered(`class/${scene.classId}/people`, 'Staff'),
    await offered(`class/${scene.classId}/person/${scene.members[0].person_id}`, 'Encounters'), await offered(`station/${scene.station.id}`, 'Board')].join('\n');
  await button(marking, 'Plan').click();
  const plan = await marking.locator('main').innerText();
  await button(marking, 'Join').click();
  const all = shown + plan + await marking.locator('main').innerText();
  const barred = ['New class', 'Delete this person', 'Close the station', 'Change the plan', 'Roster as CSV', 'under People'].filter((words) => all.includes(words));
  check(/Torvald/.test(shown) && barred.length === 0, `an examiner is offered nothing that is refused${barred.map((one) => `: ${one}`).join('')}`);

  await marking.goto(`${address}/#/station`);
  await marking.getByRole('heading', { name: 'Stations' }).waitFor();
  await button(marking, 'Log out').click();
  await marking.getByRole('heading', { name: 'Join' }).waitFor();
  await button(marking, 'Staff: log in').click();
  await marking.getByRole('heading', { name: 'Log in' }).waitFor();
  check(true, 'without a session, Station asks learners for the code and lets staff log in');
  await marking.context().close();
  await server.stop();
}

await run('station faults', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const [first, second, third, fourth, fifth, sixth] = scene.members;
  const ended = await takePart(address, scene, first, 9);
  await takePart(address, scene, second, 5);
  await takePart(address, scene, third, 4, false);
  await tablet(browser, address, scene, ended.encounter, first.name);
  await board(browser, address, scene);
  await secondDevice(browser, address, scene, third);
  await fastFingers(browser, address, scene, fourth);
  await refusedSteps(browser, address, scene, fifth);
  await closedUnderWay(browser, address, scene, sixth);
  await staffOnly(browser);
});
