// A tension station made in the builder without typing code: who names and decompresses the right side passes those
// items, who decompresses the healthy side fails critically, who does not listen again loses that item. And what the
// learner's page must not do: teach, hide the clock, or tell the answer by its address.
import { check, openPage, run } from './harness.mjs';
import { Visitor, makeClass } from './class_setup.mjs';

const button = (page, name) => page.getByRole('button', { name, exact: true });
const place = (u, v, aspect = 'front') => ({ do: 'place', aspect, u, v });
const kDone_ms = 65000; // the deeds take 70 s; the server's clock may be 10 s behind
const kHigh = [place(-0.6, 0.45), place(0.6, 0.45)]; // F5 and F6

// The deeds of a learner who needles `side`, and listens again or not. Six seconds at each place.
function performance(side, listensAgain) {
  const vitals = ['spo2_percent', 'heart_rate_per_min', 'systolic_mmHg'].map((vital) => ({ do: 'measure', vital }));
  const steps = [
    [1, { do: 'expose', part: 'all' }], ...vitals.map((one, i) => [2 + i / 2, one]),
    [5, kHigh[0]], [12, kHigh[1]], [19, place(-0.5, 0.8, 'back')], [26, place(0.5, 0.8, 'back')], [33, { do: 'lift' }],
    [34, { ...kHigh[0], do: 'tap' }], [35, { ...kHigh[1], do: 'tap' }],
    [36, { do: 'report', finding: 'absent_breath_sounds', presence: 'present', basis: 'heard', side: 'right' }],
    [40, { do: 'treat', treatment: 'needle_decompression', side }],
    ...(listensAgain ? [[45, kHigh[0]], [55, kHigh[1]], [62, { do: 'lift' }]] : []),
    ...vitals.map((one, i) => [64 + i / 2, one]),
    [66, { do: 'rank', conditions: ['tension_pneumothorax', 'pneumothorax'] }],
    [67, { do: 'say', text: `Tension on the right, needle put in on the ${side}, better since then` }],
  ];
  return steps.map(([t, one], i) => ({ id: `d${i}`, t, ...one }));
}

async function marked(address, scene, station, member, side, listensAgain) {
  const learner = await new Visitor(address).join(station.join_code, member.key);
  const encounter = await learner.post('encounters', { station_id: station.id });
  check(!/tension|pneumothorax/i.test(JSON.stringify(encounter)), `${member.name} is not told what is wrong`);
  await new Promise((done) => setTimeout(done, kDone_ms)); // the server takes no action ahead of its clock
  await learner.post(`encounters/${encounter.id}/actions`, { actions: performance(side, listensAgain) });
  await learner.post(`encounters/${encounter.id}/end`, { id: 'end', t: 70 });
  for (let tries = 0; tries < 120; tries++) {
    const answer = await scene.staff.ask('GET', `encounters/${encounter.id}/mark`);
    if (answer.status === 200) return answer.value;
    await new Promise((done) => setTimeout(done, 1000));
  }
  throw new Error('no mark came');
}

await run('station tension', async ({ address, browser }) => {
  const scene = await makeClass(address);
  const page = await openPage(browser);
  await page.goto(`${address}/#/station/new/${scene.classId}`);
  await page.getByLabel('A big man under the boom').check();
  const items = page.locator('.item input.name-field');
  await page.waitForFunction(() => [...document.querySelectorAll('.item input.name-field')]
    .some((one) => /Decompresses the affected side/.test(one.value)));
  check(true, 'the list that fits the patient is there to start from');

  // One more item, composed by choosing.
  const before = await items.count();
  await page.getByLabel('What is asked for').selectOption('treated');
  await page.locator('summary', { hasText: 'Treatments' }).click();
  await button(page, 'Oxygen by mask').click();
  await button(page, 'Add item').click();
  check(await items.count() === before + 1, 'an item was added without typing');
  const texts = await items.evaluateAll((all) => all.map((one) => one.value));
  check(/Oxygen by mask/.test(texts.at(-1)), `it reads: ${texts.at(-1)}`);
  await page.getByLabel('Title, as staff see it').fill('Under the boom');
  await button(page, 'Save the station').click();
  await button(page, 'Open the station').click();
  await page.locator('.join-code strong').waitFor();
  const id = /#\/station\/([^/]+)/.exec(page.url())[1];
  const station = await scene.staff.get(`stations/${id}`);

  const verdict = (sheet, item) => (sheet.mark ?? sheet).items.find((one) => (one.item_id ?? one.id) === item)?.verdict;
  const [good, wrong, deaf] = await Promise.all([
    marked(address, scene, station, scene.members[0], 'right', true),
    marked(address, scene, station, scene.members[1], 'left', true),
    marked(address, scene, station, scene.members[2], 'right', false),
  ]);
  for (const item of ['soft_side', 'decompresses', 'listens_again', 'no_wrong_side']) {
    check(verdict(good, item) === 'met', `right side: ${item} ${verdict(good, item)}`);
  }
  check(verdict(wrong, 'decompresses') === 'missed' && verdict(wrong, 'no_wrong_side') === 'missed', 'wrong side: fails critically');
  check((wrong.mark ?? wrong).critical_missed.includes('no_wrong_side') && !(wrong.mark ?? wrong).passed, 'and is not passed');
  check(verdict(deaf, 'listens_again') === 'missed' && verdict(deaf, 'decompresses') === 'met', 'not listening again loses that item');

  // The learner's page.
  const member = scene.members[3];
  const own = await openPage(browser, { viewport: { width: 390, height: 700 } });
  await own.goto(`${address}/#/join/${station.join_code}`);
  await own.getByLabel('Your own key').fill(member.key);
  await button(own, 'Join').click();
  await button(own, 'Begin').click();
  await own.locator('.time-left').waitFor();
  await own.getByRole('tab', { name: 'Treat', exact: true }).click();
  const words = await own.locator('#hand').innerText();
  check(!/Expect:|Caution:/.test(words), 'treatments carry only their names');
  await own.evaluate(() => scrollTo(0, document.body.scrollHeight));
  const box = await own.locator('.time-left').boundingBox();
  check(box !== null && box.y >= 0 && box.y + box.height <= 700, 'the clock stays on the screen');
  check(!/tension|pneumothorax/i.test(own.url() + await own.title()), 'neither address nor title tells the answer');
});
