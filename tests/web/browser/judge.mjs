// How every screen is judged: axe-core in both themes, 320 px without sideways scroll. With PHREN_PICTURES=1 there are
// pictures too, for a person; no test looks at them.
import { readFileSync } from 'node:fs';
import { axeFile, check, screenFile } from './harness.mjs';
import { machineWords } from './machine_words.mjs';

const axe = readFileSync(axeFile, 'utf8');

// The page's own policy forbids adding a script, so the checker is evaluated from outside.
async function audit(page) {
  await page.evaluate(axe);
  const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.map((one) => `${one.id}: ${one.help} at ${one.nodes.map((node) => node.target.join(' ')).slice(0, 4).join(', ')}`);
}

// Buttons whose words stick out, or that break a single word into two lines.
function brokenButtons() {
  const linesOf = (button) => {
    const range = document.createRange();
    range.selectNodeContents(button);
    return new Set([...range.getClientRects()].filter((one) => one.width > 2).map((one) => Math.round(one.top / 8))).size;
  };
  return [...document.querySelectorAll('button')].filter((one) => one.offsetWidth > 0)
    .filter((one) => one.scrollWidth > one.clientWidth + 1 || (!one.children.length && !/[\s-]/.test(one.textContent.trim()) && linesOf(one) > 1))
    .map((one) => `${one.textContent}: ${one.scrollWidth} px in ${one.clientWidth}, ${linesOf(one)} lines`);
}

// The looks of the page stand in the bar, or in its menu.
export async function press(page, name) {
  const button = page.getByRole('button', { name, exact: true });
  const isBehind = !await button.isVisible();
  if (isBehind) await page.locator('.menu > summary').evaluate((one) => one.click());
  await button.evaluate((one) => one.click());  // a whole screen, as of Show, may lie over the bar
  if (isBehind) await page.locator('.menu > summary').evaluate((one) => one.click());
}

// What must be in view without scrolling: the main action, clock and monitor, the volume.
function outOfView() {
  const isIn = (one) => {
    const box = one.getBoundingClientRect();
    return box.top >= -1 && box.bottom <= innerHeight + 1 && box.left >= -1 && box.right <= innerWidth + 1;
  };
  const seen = (query) => [...document.querySelectorAll(query)].filter((one) => one.getClientRects().length > 0);
  const out = [];
  for (const [what, query] of [['main action', 'main .main, main .main-link, .hand-bar .press'], ['clock', '.strip, .time-left, .round-bar'], ['volume', '.bar-volume input, input[type=range][aria-label*=olume]']]) {
    const all = seen(query);
    if (all.length > 0 && !all.some(isIn)) out.push(`${what} "${all[0].textContent.trim().slice(0, 40)}" at y ${Math.round(all[0].getBoundingClientRect().bottom)}`);
  }
  return out;
}

async function judgeView(page, name) {
  for (const [width, height] of [[390, 844], [320, 568], [1280, 800], [1920, 1080]]) {
    await page.setViewportSize({ width, height });
    await page.evaluate(() => scrollTo(0, 0));
    const out = await page.evaluate(outOfView);
    check(out.length === 0, `${name}, ${width}x${height}: in view ${out.length === 0 ? 'what must be' : 'is not ' + out.join(', ')}`);
  }
}

async function picture(page, name) {
  if (!process.env.PHREN_PICTURES) return;
  await page.waitForTimeout(300);  // until what moves has come to rest
  await page.screenshot({ path: screenFile(name) });
}

export async function look(page, name) {
  await judgeView(page, name);
  const machine = await machineWords(page);
  check(machine.length === 0, `${name}: no word of the machine${machine.map((one) => `\n         ${one}`).join('')}`);
  for (const theme of ['paper', 'night']) {
    const isNight = await page.evaluate(() => document.documentElement.dataset.theme === 'night');
    if (isNight !== (theme === 'night')) await press(page, 'Night');
    const violations = await audit(page);
    check(violations.length === 0, `${name}, ${theme}: no accessibility violation` + violations.map((one) => `\n         ${one}`).join(''));
  }
  await page.setViewportSize({ width: 320, height: 640 });
  const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
  check(wide <= room, `${name}: ${wide} px wide at ${room}`);
  const broken = await page.evaluate(brokenButtons);
  check(broken.length === 0, `${name}: every button holds its words at ${room} px${broken.map((one) => `\n         ${one}`).join('')}`);
  await page.setViewportSize({ width: 390, height: 844 });
  if (name !== 'bedside-listen') await page.evaluate(() => document.getElementById('hand')?.scrollIntoView());  // as choosing a hand does
  await picture(page, `${name}-phone`);
  await press(page, 'Night');
  await page.setViewportSize({ width: 1920, height: 1080 });
  await press(page, 'Projector');
  for (const [kind, width, height] of [['projector', 1920, 1080], ['small-projector', 1280, 720]]) {
    await page.setViewportSize({ width, height });
    await page.evaluate(() => scrollTo(0, 0));
    await picture(page, `${name}-${kind}`);
  }
}
