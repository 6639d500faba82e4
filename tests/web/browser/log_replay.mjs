// What a page logs, the native program lives again: the same stays, the same sounds, the same mark as the
// page's own debrief, and the very samples that were played.
// Usage: node log_replay.mjs PROGRAM FOLDER [DRAWN]: with a number, so many drawn patients in place of two prepared ones.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, openPage, run } from './harness.mjs';
import { catchSound, keptEncounter, listen, untilLastIs } from './listening.mjs';

const program = process.argv[2];
const folder = mkdtempSync(join(tmpdir(), 'phren-log-'));

// Samples of a 32-bit float WAV (RFC 2361 format 3), chunk by chunk.
function floatWav(file) {
  const bytes = readFileSync(file);
  for (let at = 12; at + 8 <= bytes.length;) {
    const size = bytes.readUInt32LE(at + 4);
    if (bytes.toString('latin1', at, at + 4) === 'data') return new Float32Array(Uint8Array.from(bytes.subarray(at + 8, at + 8 + size)).buffer);
    at += 8 + size + (size & 1);
  }
  throw new Error('no data in ' + file);
}

// The rows of the debrief's table, added up from the native stays.
function nativePlaces(replayed) {
  const places = new Map();
  for (const stay of replayed.stays) {
    const place = places.get(stay.site_id) ?? { seconds: 0, counts: {} };
    places.set(stay.site_id, place);
    place.seconds += stay.end_s - stay.start_s;
    for (const heard of stay.heard) if (heard.sound !== 'heart') place.counts[heard.sound] = (place.counts[heard.sound] ?? 0) + heard.events;
  }
  return new Map([...places].filter(([, one]) => one.seconds > 0.3));
}

const label = { 'normal (vesicular)': 'normal', 'bronchial breathing': 'bronchial', 'tracheal breathing': 'tracheal', 'heart sound': 'heart',
  'fine crackle': 'fine_crackle', 'coarse crackle': 'coarse_crackle', 'pleural friction rub': 'pleural_friction_rub' };

async function pagePlaces(page) {
  const rows = await page.locator('table[data-places] tbody tr').evaluateAll((all) => all.map((row) => ({
    site: row.getAttribute('data-site'), seconds: Number(row.children[1].textContent), heard: row.children[3].textContent })));
  return new Map(rows.map((row) => [row.site, { seconds: row.seconds, counts: Object.fromEntries(row.heard === 'nothing' ? [] : row.heard.split(', ').map((part) => {
    const [words, count] = part.split(' × ');
    return [label[words] ?? words, Number(count)];
  })) }]));
}

async function examine(page, address, caseId) {
  await catchSound(page);
  await page.goto(`${address}/#/bedside/${caseId}`);
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.waitForFunction(() => globalThis.caught.blocks.length > 20);
  await listen(page, 5);
  await page.keyboard.press('o');
  await page.keyboard.press('d');
  await listen(page, 4);
  const drawing = await page.locator('.body-stage:not([hidden]) canvas, .chest svg').first().boundingBox();  // slide the chestpiece about
  await page.mouse.move(drawing.x + drawing.width * 0.6, drawing.y + drawing.height * 0.5);
  await page.mouse.down();
  for (let i = 0; i < 12; i++) { await page.mouse.move(drawing.x + drawing.width * (0.6 - 0.02 * i), drawing.y + drawing.height * (0.5 + 0.01 * i)); await page.waitForTimeout(40); }
  await page.mouse.up();
  await page.keyboard.press('b');
  await listen(page, 3);
  await page.locator('details.more > summary').click();
  await page.getByLabel('Position').selectOption('lying');
  if (await page.getByRole('button', { name: 'Open the clothing' }).isVisible()) await page.getByRole('button', { name: 'Open the clothing' }).click();
  await page.getByRole('tab', { name: 'Percuss' }).click();
  await page.getByRole('button', { name: 'Tap here' }).click();
  await page.getByRole('button', { name: 'hyper-resonant percussion' }).click();
  await page.getByRole('tab', { name: 'Monitor' }).click();
  await page.getByRole('button', { name: 'Clip on the oximeter' }).click();
  await page.getByRole('tab', { name: 'Treat' }).click();
  await page.getByRole('button', { name: 'Oxygen by mask' }).click();
  await page.getByRole('button', { name: 'Pause' }).click();
  await page.getByRole('button', { name: 'Skip 1 min' }).click();
  await untilLastIs(page, 'lift');  // the chestpiece is laid aside for the minute
  await page.getByRole('button', { name: 'Pause' }).click();
  await page.getByRole('tab', { name: 'Weigh' }).click();
  await page.getByLabel('Most likely').selectOption('pneumothorax');
  await listen(page, 4);
  await page.getByRole('button', { name: 'End and debrief' }).click();
  await page.locator('table[data-places]').waitFor();
}

// A few deeds at a drawn patient: places, bell, position, clothing, words, a tap; which of them go round with `n`.
async function glance(page, address, caseId, n) {
  await catchSound(page);
  await page.goto(`${address}/#/bedside/${caseId}`);
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.waitForFunction(() => globalThis.caught.blocks.length > 20);
  const keys = ['n', 'o', 'b', 'd', 't', 'c', '2', 'e', '3', 'h'];
  for (let i = 0; i < 4; i++) {
    await page.keyboard.press(keys[(n + 3 * i) % keys.length]);
    await listen(page, 1.2);
  }
  await page.locator('details.more > summary').click();
  await page.getByLabel('Position').selectOption(['sitting', 'reclined', 'lying'][n % 3]);
  const open = page.getByRole('button', { name: 'Open the clothing' });
  if (n % 2 === 0 && await open.isVisible()) await open.click();
  await listen(page, 1.5);
  await page.getByRole('button', { name: 'End and debrief' }).click();
  await page.locator('table[data-places]').waitFor();
}

async function compare(browser, address, caseId, checklist, perform = examine, least = 500) {
  const page = await openPage(browser, { acceptDownloads: true });
  await perform(page, address, caseId);
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save the log' }).click()]);
  const log = join(folder, caseId + '.encounter.jsonl'), sound = join(folder, caseId + '.wav');
  await download.saveAs(log);
  const replayed = JSON.parse(execFileSync(program, ['replay', log, '--checklist', checklist, '--sound', sound, '--json'], { maxBuffer: 1 << 26 }));
  const kept = await keptEncounter(page);
  check(replayed.actions === kept.log.length, `${caseId}: all ${kept.log.length} actions are read (${[...new Set(kept.log.map((one) => one.do))].join(' ')})`);

  const here = await pagePlaces(page), there = nativePlaces(replayed);
  check(here.size === there.size && here.size > 0, `${caseId}: ${here.size} places in the page's debrief, ${there.size} natively`);
  for (const [site, native] of there) {
    const shown = here.get(site);
    check(shown && Math.abs(shown.seconds - native.seconds) < 0.06 && JSON.stringify(Object.entries(shown.counts).sort()) === JSON.stringify(Object.entries(native.counts).sort()),
      `${caseId}, ${site || 'between sites'}: ${native.seconds.toFixed(1)} s, ${JSON.stringify(native.counts)}` + (shown ? '' : ' (page has none)') + (shown && JSON.stringify(shown.counts) !== JSON.stringify(native.counts) ? ` page ${JSON.stringify(shown.counts)}` : ''));
  }
  if (perform === examine) check(replayed.reports.some((one) => one.finding === 'hyperresonant_percussion') && replayed.ranking[0] === 'pneumothorax', `${caseId}: reports and ranking arrive`);
  const item = (id) => replayed.mark.items.find((one) => one.id === id)?.verdict;
  check(item('ranks') === undefined || item('ranks') === 'met', `${caseId}: the mark sheet reads the ranking`);
  console.log(`       ${caseId}: ${replayed.mark.points} of ${replayed.mark.max_points} points: ${replayed.mark.items.map((one) => one.id + ' ' + one.verdict).join(', ')}`);

  // Sound: every block that was played against the replayed samples, bit for bit.
  const native = floatWav(sound);
  const blocks = await page.evaluate(() => globalThis.caught.blocks);
  let same = 0, differing = 0;
  for (const block of blocks) {
    // A block ends somewhere in the last patient step: at most 375 frames before the step's end.
    const end = Math.round(block.endS * 48000);
    if (end > native.length) continue;  // played after the log's end
    const isAt = (start) => block.samples.every((value, i) => Object.is(Math.fround(value), native[start + i]) || value === native[start + i]);
    let found = false;
    for (let start = end - 1024; start > end - 1024 - 375 && !found; start--) found = start >= 0 && isAt(start);
    if (found) same++; else { differing++; console.log('       differs: the block that ends at ' + block.endS); }
  }
  check(differing === 0 && same > least, `${caseId}: ${same} blocks of 1024 samples played equal the native replay bit for bit, ${differing} differ`);
  await page.context().close();
}

await run('log and replay', async ({ address, browser }) => {
  const count = Number(process.argv[4] ?? 0);
  for (let n = 0; n < count; n++) {
    const level = ['beginner', 'intermediate', 'advanced'][n % 3];
    await compare(browser, address, `surprise-${level}-${4711 + n}`, 'chest_examination', (page, to, id) => glance(page, to, id, n), 100);
  }
  if (count > 0) return;
  await compare(browser, address, 'right_pneumothorax', 'pneumothorax_station');
  await compare(browser, address, 'asthma', 'asthma_station');
});
rmSync(folder, { recursive: true, force: true });
