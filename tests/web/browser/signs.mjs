// Pictures for a blind reading of the body: twenty patients, each with a still, a closer view of head and neck, a
// view from the left, where the skin moved in ten seconds, and twelve moments of them. Nothing on a picture says
// what the patient has; the key is what the body itself shows, as the debrief tells it.
// Usage: node tests/web/browser/signs.mjs PHREN_PROGRAM PICTURES_DIR KEY_FILE [FIRST LAST]
import { mkdirSync, mkdtempSync, writeFileSync, appendFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, newRecords, openPage, screensFolder, startBrowser, startServer } from './harness.mjs';

const [keyFile, first = '1', last = '20'] = process.argv.slice(4);
const man = [30, 'male', 180, 72], woman = [30, 'female', 168, 56], old = [68, 'male', 174, 66],
  infant = [0.5, 'male', 67, 7.5], child = [5, 'female', 110, 18];
// What the picture is of, person, condition, severity, side, minutes before.
const patients = [
  ['pneumothorax', man, 0.9, 'right'], ['bronchial_foreign_body', child, 1.0, 'left'],
  ['rib_fractures', man, 1.0, 'right'], ['pleural_effusion', old, 0.9, 'left'],
  ['neuromuscular_weakness', woman, 0.9, ''], ['bronchiolitis', infant, 0.85, ''],
  ['cardiac_tamponade', man, 0.85, ''], ['opioid_hypoventilation', man, 0.9, ''],
  ['tension_pneumothorax', man, 0.8, 'right'], ['copd_exacerbation', old, 0.85, ''],
  ['epiglottitis', child, 0.8, ''], ['asthma', woman, 0.85, ''],
  ['anaphylaxis', man, 0.9, ''], ['croup', [1.5, 'male', 82, 11], 0.85, ''],
  ['haemothorax', man, 0.85, 'left'], ['surgical_emphysema', man, 0.9, ''],
  ['tension_pneumothorax', woman, 0.8, 'left'], ['rib_fractures', old, 0.95, 'left'],
  ['', woman, 0, ''], ['cardiogenic_oedema', old, 0.9, ''],
];
// The order is mixed, the same each time.
const order = patients.map((_, i) => (i * 7 + 3) % patients.length);

const folder = mkdtempSync(join(tmpdir(), 'phren-signs-'));
patients.forEach(([id, [age, sex, height, weight], severity, side], i) => {
  writeFileSync(join(folder, `own-sign${i}.toml`), [`title = "Patient"`, `story = "A patient."`, `setting = "${age < 16 ? 'ems_child' : 'ems_adult'}"`,
    '[person]', `age_years = ${age.toFixed(1)}`, `sex = "${sex}"`, `height_cm = ${height.toFixed(1)}`, `weight_kg = ${weight.toFixed(1)}`, 'muscle = 0.3',
    ...(id ? ['[[condition]]', `id = "${id}"`, `severity = ${severity.toFixed(2)}`, ...(side ? [`side = "${side}"`] : [])] : [])].join('\n') + '\n');
});
mkdirSync(screensFolder, { recursive: true });
const soft = ['--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader'];
const server = await startServer(['--cases', folder], newRecords());
const browser = await startBrowser(soft);

async function pose(page, name) {
  await page.getByRole('group', { name: 'Look at' }).getByRole('button', { name, exact: true }).click();
  await page.waitForTimeout(1500);
}
// What stands on the canvas, on its ground; `seconds`: again and again for so long.
const shots = (page, seconds) => page.evaluate(async (long) => {
  const canvas = document.querySelector('.body-stage canvas'), out = [], began = performance.now();
  const copy = document.createElement('canvas');
  copy.width = canvas.width;
  copy.height = canvas.height;
  const context = copy.getContext('2d');
  do {
    context.fillStyle = '#f3eee3';
    context.fillRect(0, 0, copy.width, copy.height);
    context.drawImage(canvas, 0, 0);
    out.push(copy.toDataURL('image/jpeg', 0.92));
    await new Promise((done) => setTimeout(done, 200));
  } while ((performance.now() - began < 1000 * long || (long > 0 && out.length < 12)) && out.length < 60);
  return out;
}, seconds);
const shot = async (page) => (await shots(page, 0))[0];

// The sheet is put together by the browser, frames and what moved between them.
async function sheet(page, file, stills, frames) {
  await page.setViewportSize({ width: 1560, height: 1500 });
  await page.setContent('<body style="margin:0;background:#fff"><canvas width="1560" height="1500"></canvas></body>');
  await page.evaluate(async ([still, moving]) => {
    const load = (url) => new Promise((done) => { const one = new Image(); one.onload = () => done(one); one.src = url; });
    const context = document.querySelector('canvas').getContext('2d');
    const fit = (image, x, y, w, h) => {
      const k = Math.min(w / image.width, h / image.height);
      context.drawImage(image, x + (w - k * image.width) / 2, y + (h - k * image.height) / 2, k * image.width, k * image.height);
    };
    for (const [i, url] of still.entries()) fit(await load(url), 520 * i, 0, 520, 640);
    const images = await Promise.all(moving.map(load));
    for (let i = 0; i < 12; i++) fit(images[Math.floor(i * images.length / 12)], 520 + 260 * (i % 4), 645 + 285 * Math.floor(i / 4), 258, 282);
    // Most against least light at each place: where something moved.
    const w = 500, h = Math.round(500 * images[0].height / images[0].width), small = new OffscreenCanvas(w, h).getContext('2d', { willReadFrequently: true });
    const low = new Float32Array(w * h).fill(999), high = new Float32Array(w * h).fill(-1);
    for (const image of images) {
      small.drawImage(image, 0, 0, w, h);
      const { data } = small.getImageData(0, 0, w, h);
      for (let p = 0; p < w * h; p++) {
        const light = (data[4 * p] + data[4 * p + 1] + data[4 * p + 2]) / 3;
        low[p] = Math.min(low[p], light); high[p] = Math.max(high[p], light);
      }
    }
    const out = small.createImageData(w, h);
    for (let p = 0; p < w * h; p++) {
      const moved = Math.min(255, 5 * Math.max(0, high[p] - low[p] - 5));
      out.data.set([255 - moved, 255 - moved, 255 - moved, 255], 4 * p);
    }
    small.putImageData(out, 0, 0);
    fit(small.canvas, 8, 645, 504, 850);
  }, [stills, frames]);
  await page.screenshot({ path: file });
}

async function picture(n) {
  const i = order[n - 1], [id, , , side] = patients[i];
  const page = await openPage(browser, { viewport: { width: 1000, height: 900 } }, [/favicon/]);
  await page.addInitScript(() => {
    localStorage.setItem('phren.theme', 'paper');
    // What was drawn stays, so that it can be copied.
    const plain = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function get(kind, options) {
      return plain.call(this, kind, kind === 'webgl2' ? { ...options, preserveDrawingBuffer: true } : options);
    };
  });
  await page.goto(`${server.address}/#/bedside/own-sign${i}/seed/${[11, 12, 13, 15, 17, 18, 21][n % 7]}`);
  await page.getByRole('heading', { level: 1 }).waitFor();
  await page.getByRole('tab', { name: 'Look' }).click();
  await page.locator('.turn-sides').waitFor();
  await page.waitForFunction(() => document.querySelector('.strip .figures'));
  await page.waitForTimeout(4000);
  const stills = [await shot(page)];
  await pose(page, 'Neck');
  stills.push(await shot(page));
  await pose(page, 'Posture');
  await page.getByRole('button', { name: 'Left', exact: true }).click();
  await page.waitForTimeout(1500);
  stills.push(await shot(page));
  await pose(page, 'Chest, belly');
  const frames = await shots(page, 10);
  await page.getByRole('button', { name: 'End and debrief' }).click();
  await page.locator('h2', { hasText: 'Where you listened' }).waitFor();
  const truth = await page.locator('[data-looks] li strong').allTextContents();
  const name = String(n).padStart(2, '0');
  appendFileSync(keyFile, `${name}: ${id || 'healthy'}${side ? ' ' + side : ''}: ${truth.join('; ') || 'nothing'}\n`);
  await sheet(page, join(screensFolder, `${name}.png`), stills, frames);
  console.log(`${name}: ${frames.length} frames`);
  check(frames.length >= 12, `${name}: at least twelve moments in ten seconds`);
  await page.context().close();
}

for (let n = Number(first); n <= Number(last); n++) {
  // A crowded machine may let a page run dry: once more then.
  await picture(n).catch((error) => {
    console.log(String(error).slice(0, 200));
    return picture(n);
  });
}
await browser.close();
await server.stop();
process.exit(0);
