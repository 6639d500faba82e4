// A minute with the spectrogram on: no block is lost, and what it costs. Waits and underruns are told, not
// judged: a busy machine has them.
import { readdirSync, readFileSync } from 'node:fs';
import { check, openPage, run } from './harness.mjs';
import { catchSound, listen, untilPatientTime } from './listening.mjs';

const kSeconds = 60;

// Processor seconds of a process and all below it (Linux counts in hundredths).
function cpuSecondsBelow(root) {
  const stats = readdirSync('/proc').filter((name) => /^\d+$/.test(name)).flatMap((pid) => {
    try {
      const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
      const rest = text.slice(text.lastIndexOf(')') + 2).split(' ');
      return [{ pid: Number(pid), parent: Number(rest[1]), ticks: Number(rest[11]) + Number(rest[12]) }];
    } catch { return []; }
  });
  const inside = new Set([root]);
  for (let grew = true; grew;) {
    grew = false;
    for (const one of stats) if (!inside.has(one.pid) && inside.has(one.parent)) { inside.add(one.pid); grew = true; }
  }
  return stats.filter((one) => inside.has(one.pid)).reduce((sum, one) => sum + one.ticks, 0) / 100;
}

await run('steady sound', async ({ address, browser }) => {
  const page = await openPage(browser);
  await catchSound(page, false);
  await page.goto(`${address}/#/bedside/asthma`);
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.getByRole('tab', { name: 'Explain' }).click();
  await page.waitForFunction(() => globalThis.caught.firstSoundMs > 0);
  await untilPatientTime(page, 2);
  const read = () => page.evaluate(() => {
    const { caught } = globalThis;
    const stats = caught.context.playbackStats ?? caught.context.playoutStats ?? {};
    return { count: caught.count, endS: caught.endS, contextS: caught.context.currentTime, atMs: performance.now(),
      underruns: stats.underrunEvents ?? stats.fallbackFramesEvents ?? null, lostS: stats.underrunDuration ?? (stats.fallbackFramesDuration ?? 0) / 1000 };
  });
  await page.evaluate(() => { globalThis.caught.longestGapMs = 0; });
  // Playwright starts the browser as this process's child.
  const cpuBefore = cpuSecondsBelow(process.pid) - process.cpuUsage().user / 1e6;
  const before = await read();
  await listen(page, kSeconds);
  const after = await read();
  const cpu = cpuSecondsBelow(process.pid) - process.cpuUsage().user / 1e6 - cpuBefore;
  const longestGapMs = await page.evaluate(() => globalThis.caught.longestGapMs);
  const clockS = (after.atMs - before.atMs) / 1000;
  const soundS = after.contextS - before.contextS;
  const madeS = ((after.count - before.count) * 1024) / 48000;
  console.log(`       ${clockS.toFixed(2)} s by the clock, ${soundS.toFixed(2)} s by the sound device, ${madeS.toFixed(2)} s of engine sound, longest wait between reports ${longestGapMs.toFixed(0)} ms`);
  console.log(`       underruns as the browser counts them: ${after.underruns === null ? 'not counted by this browser' : after.underruns - before.underruns}`);
  console.log(`       processor: ${(100 * cpu / clockS).toFixed(0)} % of one core for the whole browser (software drawing, no graphics card)`);
  // Both ends of the patient's time are those of a step of 375 frames.
  const patientS = after.endS - before.endS;
  check(Math.abs(patientS - madeS) <= 2 * 375 / 48000, `every block came: ${patientS.toFixed(3)} s of the patient's time in ${madeS.toFixed(3)} s of sound`);
  check(Math.abs(madeS / soundS - 1) < 0.02, `the engine keeps up with the sound device: ${(100 * madeS / soundS).toFixed(2)} % of its time`);
});
