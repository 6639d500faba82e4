// A class from roster to files: an instructor makes a class and a station, three learners join by code
// in browsers of their own and examine the same patient well, fairly and badly, one of them with the
// line dropping; an examiner marks; the marks are those of `phren replay` run on the exported logs; the
// results leave as PDF, CSV, xAPI and FHIR.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, openPage, program, root, run, screenFile, screensFolder } from './harness.mjs';
import { catchSound, listen, untilLastIs } from './listening.mjs';

const folder = mkdtempSync(join(tmpdir(), 'phren-class-'));
const roster = 'login,name,extra_time_percent\r\nailsa,Ailsa Brekke,0\r\nbo,"Tangen, Bo",25\r\ncato,=Cato Fjelde,0\r\n';
const button = (page, name) => page.getByRole('button', { name, exact: true });

// A name that a spreadsheet would run comes out of the roster disarmed.
async function rosterOut(page) {
  const text = readFileSync(await fileOf(page, 'Roster as CSV'), 'utf8');
  check(text.includes("'=Cato Fjelde") && !/(^|,|")=/m.test(text), 'roster out: a name that begins with = cannot run in a spreadsheet');
}

async function makeClass(page, address) {
  await page.goto(`${address}/#/class`);
  await page.getByLabel('New class').fill('Skerrow Sound, autumn crew');
  await button(page, 'Make the class').click();
  await page.getByText('Nobody is on the roster').waitFor();
  await page.locator('input[type=file]').setInputFiles({ name: 'crew.csv', mimeType: 'text/csv', buffer: Buffer.from(roster) });
  await page.getByText('3 added, 0 changed; 3 on the roster.').waitFor();
  await page.locator('table tbody tr').nth(2).waitFor();
  const rows = await page.locator('table tbody tr').evaluateAll((all) => all.map((row) => ({
    name: row.querySelector('th').innerText, key: row.querySelector('code').innerText, extra: row.querySelector('select').value })));
  check(rows.length === 3 && rows.every((one) => one.key.replace(/[^A-Z0-9]/gi, '').length === 8), 'the roster gives each learner a key of 8');
  check(rows.find((one) => one.name === 'Tangen, Bo')?.extra === '25', 'extra time came in with the roster');
  await rosterOut(page);
  await page.screenshot({ path: screenFile('class-people-desktop'), fullPage: true });
  return rows;
}

async function makeStation(page) {
  const startedAt = Date.now();
  await page.getByRole('link', { name: 'Stations', exact: true }).click();
  await page.getByRole('link', { name: 'New station' }).click();
  await page.getByLabel('Scrubbing lines on the mussel raft').check();
  await page.getByLabel('Minutes, 0 for no limit').fill('30');
  await page.getByLabel('What is asked for').selectOption('examiner');
  await page.getByLabel('As the learner reads it').fill('Explains to the patient what is done');
  await button(page, 'Add item').click();
  await page.screenshot({ path: screenFile('station-new-desktop'), fullPage: true });
  await button(page, 'Save the station').click();
  await button(page, 'Open the station').click();
  const code = await page.locator('.join-code strong').innerText();
  await page.waitForFunction(() => { const qr = document.querySelector('.qr'); return qr && qr.complete && qr.naturalWidth > 0; });
  check(/^[A-Z0-9]{6}$/.test(code), `the station stands and is open, code of 6 shown with its QR code, after ${((Date.now() - startedAt) / 1000).toFixed(0)} s of clicking`);
  await page.screenshot({ path: screenFile('station-join-desktop') });
  return code;
}

async function joinStation(page, address, code, key) {
  await page.goto(`${address}/#/join/${code}`);
  check(await page.getByLabel('Code of the station').inputValue() === code, 'the QR address brings the code along');
  await page.getByLabel('Your own key').fill(key.toLowerCase());
  await button(page, 'Join').click();
  await button(page, 'Begin').waitFor();
}

// On a phone the main action stands in the bar of hands, under a shorter name.
const putOn = (page) => page.getByRole('button', { name: /^Put (the chestpiece )?on$/ }).filter({ visible: true }).first();
const liftOff = (page) => page.getByRole('button', { name: /^Lift( the chestpiece)?$/ }).filter({ visible: true }).first();
const tap = (page, name) => page.getByRole('button', { name }).first().click();
const hand = (page, name) => page.getByRole('tab', { name, exact: true }).click();
// A tap at each breath in, until the page has seen half a minute of them.
async function countBreaths(page) {
  for (let taps = 1; ; taps++) {
    await button(page, 'Tap each breath').click();
    await page.getByText(new RegExp(`^${taps} counted|as you counted$`)).waitFor();
    if (await button(page, 'Count again').isVisible()) return;
    await listen(page, 2.8);
  }
}
async function listenPair(page, seconds) {
  await listen(page, seconds);
  await button(page, 'Other side').click();
  await listen(page, seconds);
  await button(page, 'Other side').click();
}
async function rank(page, label) {
  await hand(page, 'Weigh');
  await page.getByLabel('Add').selectOption({ label });
}

// Each does what such a learner does; nothing is sent but by the page itself.
const ways = {
  good: async (page) => {
    await hand(page, 'Monitor');
    for (const name of [/Clip on/, /Take the pressure/]) await tap(page, name);
    await countBreaths(page);
    await hand(page, 'Listen');
    await button(page, 'Breathe deeply').click();
    await putOn(page).click();
    await listenPair(page, 5);
    await page.keyboard.press('n'); await page.keyboard.press('n');
    await listenPair(page, 5);
    await tap(page, 'wheeze');
    for (const [key, presses] of [['2', 0], ['n', 2]]) { await page.keyboard.press(key); for (let i = 0; i < presses; i++) await page.keyboard.press('n'); await listenPair(page, 5); }
    await liftOff(page).click();
    await hand(page, 'Treat');
    await tap(page, /bronchodilator/i);
    await hand(page, 'Listen');
    await putOn(page).click();
    await listen(page, 9);
    await rank(page, 'asthma');
    await page.getByLabel('What would you tell').fill('Asthma, wheeze on both sides, better after a bronchodilator.');
    await button(page, 'Save handover').click();
  },
  fair: async (page) => {
    await putOn(page).click();
    await listenPair(page, 5);
    await page.context().setOffline(true);  // the line drops
    await tap(page, 'wheeze');
    await page.getByText('The line is down').waitFor();
    await page.screenshot({ path: screenFile('learner-offline-phone') });
    await rank(page, 'asthma');
    await untilLastIs(page, 'rank');
    await page.reload().catch(() => { /* the copy on the device answers, or nothing does */ });
    await page.context().setOffline(false);
    await page.reload();
    await putOn(page).click();
    await listen(page, 3);
    await hand(page, 'Treat');
    await tap(page, /bronchodilator/i);
  },
  bad: async (page) => {
    await putOn(page).click();
    await listen(page, 3);
    await tap(page, 'fine crackles');
    await hand(page, 'Treat');
    await tap(page, /Needle decompression/i);
  },
};

async function finish(page) {
  await button(page, 'I am finished').click();
  await page.getByText('All you did is stored on the server').waitFor();
}

// While they are at work: how old is what the server has of each? Held still, the board asks once more and stays with that answer.
async function watchBoard(page) {
  const answers = [];
  page.on('response', async (answer) => { if (/\/board$/.test(answer.url())) answers.push(await answer.json().catch(() => null)); });
  await button(page, 'Board').click();
  await button(page, 'Freeze').click();
  await page.locator('button[aria-pressed=true]', { hasText: 'Freeze' }).waitFor();
  const words = (board, one) => {
    const age_s = (board.now_ms - one.heard_ms) / 1000;
    return `${one.name}: last heard ${age_s < 60 ? `${Math.round(age_s)} s` : `${Math.floor(age_s / 60)} min`} ago`;
  };
  const shown = async () => Promise.all((await page.locator('.board-row').all()).map(async (row) => `${await row.locator('strong').innerText()}: ${/last heard \d+ \w+ ago/.exec(await row.innerText())?.[0]}`));
  let board = null, underWay = [], rows = [], isTold = false;
  for (let tries = 0; tries < 100 && !isTold; tries++) {
    await page.waitForTimeout(200);
    board = answers.filter(Boolean).reduce((last, one) => (last && last.now_ms >= one.now_ms ? last : one), null);
    underWay = board?.learners.filter((one) => one.phase === 'under_way') ?? [];
    rows = await shown();
    isTold = underWay.length > 0 && underWay.every((one) => rows.includes(words(board, one)));
  }
  check(underWay.every((one) => one.heard_ms >= one.started_ms && one.heard_ms <= board.now_ms), `board: ${underWay.length} under way, each last heard since it began`);
  check(isTold, `board: tells how long ago each was heard as the server counts it (${rows.join('; ')})`);
  await page.screenshot({ path: screenFile('station-board-under-way-desktop') });
  await button(page, 'Freeze').click();
}

const rounded = (points) => Math.round(points * 100) / 100;
const replayed = (log, checklist) => JSON.parse(execFileSync(program, ['replay', log, '--checklist', checklist, '--json'], { encoding: 'utf8', maxBuffer: 64 << 20 }));

const isWhole = (sent) => sent.marks.length > 0 && sent.global_rating > 0;
async function examinerMarks(page, address, stationId, encounterId, points, rating) {
  await page.goto(`${address}/#/station/${stationId}/mark/${encounterId}`);
  await page.getByRole('group', { name: /Explains to the patient/ }).getByRole('button', { name: String(points), exact: true }).click();
  const saving = page.waitForResponse((answer) => answer.request().method() === 'PUT' && answer.ok() && isWhole(answer.request().postDataJSON()));
  await page.getByRole('button', { name: rating }).click();
  await saving;
  await page.getByText('Saved').waitFor();
}

// As the file of the asthma station counts its items.
const kItems = readFileSync(join(root, 'data', 'checklists', 'asthma_station.toml'), 'utf8').match(/^\[\[item/gm).length;

await run('class flow', async ({ address, browser }) => {
  const instructor = await openPage(browser, { acceptDownloads: true });
  const rows = await makeClass(instructor, address);
  const classId = /#\/class\/([^/]+)/.exec(instructor.url())[1];
  const code = await makeStation(instructor);
  const stationId = /#\/station\/([^/]+)/.exec(instructor.url())[1];

  const names = Object.keys(ways);
  const pages = [];
  for (const [i, name] of names.entries()) {
    const page = await openPage(browser, { viewport: { width: 390, height: 844 } }, [/ERR_INTERNET_DISCONNECTED/]);
    await catchSound(page, false);
    await joinStation(page, address, code, rows[i].key);
    pages.push(page);
    if (name === 'good') await page.screenshot({ path: screenFile('learner-ready-phone') });
  }
  const begun = Promise.all(pages.map((page) => putOn(page).waitFor({ timeout: 60000 })));
  await Promise.all([begun.then(() => watchBoard(instructor)), ...pages.map(async (page, i) => {
    await button(page, 'Begin').click();
    await putOn(page).waitFor();
    check(!/asthma/i.test(await page.locator('main').innerText()), `${names[i]}: nothing on the page says what the patient has`);
    await ways[names[i]](page);
    await page.screenshot({ path: screenFile(`learner-encounter-${names[i]}-phone`) });
    await finish(page);
  })]);

  await button(instructor, 'Board').click();
  await instructor.getByText('3 finished').waitFor();
  await instructor.screenshot({ path: screenFile('station-board-desktop') });
  const board = await instructor.evaluate((id) => fetch(`/api/v1/stations/${id}/board`).then((answer) => answer.json()), stationId);
  const encounterOf = (i) => board.learners.find((one) => one.name === rows[i].name).encounter_id;
  const given = [[2, /good enough/], [1, /borderline/], [0, /clearly not yet/]];
  for (const [i] of names.entries()) await examinerMarks(instructor, address, stationId, encounterOf(i), ...given[i]);
  await instructor.screenshot({ path: screenFile('station-tablet-desktop') });

  await instructor.goto(`${address}/#/station/${stationId}`);
  await button(instructor, 'Close the station').click();
  await instructor.getByRole('alertdialog').getByRole('button', { name: 'Close the station' }).click();
  await button(instructor, 'Release the results').click();
  await instructor.getByRole('alertdialog').getByRole('button', { name: 'Release the results' }).click();

  const totals = [];
  for (const [i, name] of names.entries()) {
    const log = join(folder, `${name}.encounter.jsonl`);
    writeFileSync(log, await instructor.evaluate((id) => fetch(`/api/v1/encounters/${id}/log`).then((answer) => answer.text()), encounterOf(i)));
    const native = replayed(log, 'asthma_station');
    await pages[i].getByRole('heading', { name: 'What the patient had' }).waitFor();
    const shown = await pages[i].locator('.marks .mark').evaluateAll((all) => all.map((one) => ({
      text: one.querySelector('strong').innerText, points: one.querySelector('.mark-points').innerText })));
    const differing = native.mark.items.filter((item, k) => item.verdict !== 'not judged' && shown[k].points !== `${rounded(item.points)} / ${rounded(item.max_points)}`);
    check(differing.length === 0, `${name}: ${native.mark.items.length} items marked as the native replay marks them${differing.map((one) => ` (not ${one.id})`).join('')}`);
    const total = Number(/^([\d.]+) of/.exec(await pages[i].locator('article .big').innerText())[1]);
    check(Math.abs(total - native.mark.points - given[i][0]) < 0.005, `${name}: ${total} points = ${rounded(native.mark.points)} of the log + ${given[i][0]} of the examiner`);
    totals.push(total);
    await pages[i].screenshot({ path: screenFile(`learner-result-${name}-phone`), fullPage: true });
  }
  check(totals[0] > totals[1] && totals[1] > totals[2], `better encounters earn more: ${totals.join(' > ')}`);

  await instructor.goto(`${address}/#/class/${classId}/results`);
  await instructor.getByRole('heading', { name: 'How far the marks can be trusted' }).waitFor();
  await instructor.screenshot({ path: screenFile('class-results-desktop'), fullPage: true });
  await handOver(instructor);
  await forget(instructor, address, classId);
});

async function fileOf(page, name) {
  const [download] = await Promise.all([page.waitForEvent('download'), button(page, name).click()]);
  const path = join(folder, download.suggestedFilename());
  await download.saveAs(path);
  return path;
}

async function handOver(page) {
  const pdf = await fileOf(page, 'PDF sheets');
  check(readFileSync(pdf).subarray(0, 5).toString() === '%PDF-', 'PDF: a PDF');
  execFileSync('pdftoppm', ['-r', '70', '-png', pdf, join(screensFolder, 'results-pdf')]);
  const text = execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' });
  check(/Ailsa Brekke/.test(text) && /Tangen, Bo/.test(text) && /Not passed|not passed/i.test(text), 'PDF: names and verdicts are on the sheets');

  const csv = readFileSync(await fileOf(page, 'CSV table'), 'utf8');
  const rows = csv.split('\r\n').filter(Boolean);
  const shares = ['ailsa', 'bo', 'cato'].map((login) => rows.filter((row) => row.startsWith(login + ',')).length);
  // The list that fits the patient, and the item that was added to it.
  check(shares.every((one) => one === kItems + 1) && rows.length - 1 === 3 * (kItems + 1), `CSV: ${rows.length - 1} rows, ${shares.join(', ')} items of the three learners`);

  const xapi = JSON.parse(readFileSync(await fileOf(page, 'xAPI'), 'utf8'));
  const verbs = new Set(xapi.map((one) => one.verb.id.split('/').pop()));
  check(xapi.filter((one) => one.verb.id.endsWith('/completed')).length === 3 && verbs.has('answered'), `xAPI: ${xapi.length} statements, three of them "completed"`);
  check(xapi.every((one) => one.actor.account && !('mbox' in one.actor) && one.result.score.scaled <= 1), 'xAPI: accounts, no addresses; scaled scores within 1');

  // One bundle a line, as FHIR's bulk data has resources (application/fhir+ndjson).
  const bundles = readFileSync(await fileOf(page, 'FHIR'), 'utf8').split('\n').filter(Boolean).map((line) => JSON.parse(line));
  const resources = bundles.flatMap((one) => one.entry.map((entry) => entry.resource));
  check(bundles.length === 3 && bundles.every((one) => one.resourceType === 'Bundle'), `FHIR: ${bundles.length} bundles, ${resources.length} resources`);
  check(resources.every((one) => JSON.stringify(one.meta?.security ?? '').includes('HTEST')), 'FHIR: every resource is marked as test data');
}

async function forget(page, address, classId) {
  await page.goto(`${address}/#/class/${classId}/people`);
  await page.getByRole('link', { name: 'Tangen, Bo' }).click();
  await button(page, 'Delete this person').click();
  await page.getByLabel(/Type “Tangen, Bo”/).fill('Tangen, Bo');
  await page.getByRole('alertdialog').getByRole('button', { name: 'Delete this person' }).click();
  await page.getByRole('heading', { name: 'Skerrow Sound, autumn crew' }).waitFor();
  await page.locator('table tbody tr').nth(1).waitFor();
  check((await page.locator('table tbody tr').count()) === 2, 'a person is deleted on request');
  await page.getByRole('link', { name: 'Activity' }).click();
  const lines = page.getByRole('region', { name: 'Log' }).locator('tbody tr');
  await lines.first().waitFor();
  const audit = (await lines.allInnerTexts()).join('\n');
  check(/made a station\s+Scrubbing lines on the mussel raft/.test(audit) && /\tmarked\tAilsa Brekke, Scrubbing lines/.test(audit) && !/[0-9a-f]{32}/.test(audit), 'it is in words and names');
  check(!audit.includes('Tangen'), 'the log of deeds keeps that it happened, without the name');
}
