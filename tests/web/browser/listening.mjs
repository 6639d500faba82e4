import { kPatience_ms } from './harness.mjs';

// Catches what the engine sends to the page, which is exactly what it plays: blocks of samples with
// the patient time of their end, before volume and limiter. `keep` false: the times only.
export async function catchSound(page, keep = true) {
  await page.addInitScript((isKept) => {
    const Plain = globalThis.AudioWorkletNode;
    globalThis.caught = { blocks: [], events: [], firstTapMs: 0, firstSoundMs: 0, lastMessageMs: 0, longestGapMs: 0, count: 0, endS: null, keep: isKept };
    addEventListener('pointerdown', () => { globalThis.caught.firstTapMs ||= performance.now(); }, true);
    globalThis.AudioWorkletNode = class extends Plain {
      constructor(...all) {
        super(...all);
        globalThis.caught.context = all[0];
        this.port.addEventListener('message', ({ data }) => {
          const { caught } = globalThis;
          if (data.say === 'events') caught.events.push(...data.events);
          if (data.say !== 'now' || !data.block) return;
          const nowMs = performance.now();
          if (caught.lastMessageMs) caught.longestGapMs = Math.max(caught.longestGapMs, nowMs - caught.lastMessageMs);
          caught.lastMessageMs = nowMs;
          caught.count++;
          caught.endS = data.now.timeS;
          if (!caught.firstSoundMs && data.block.some((value) => Math.abs(value) > 1e-5)) caught.firstSoundMs = nowMs;
          if (caught.keep) caught.blocks.push({ endS: data.now.timeS, samples: Array.from(data.block) });
        });
      }
    };
  }, keep);
}

// The patient's clock runs with the sound device, which a busy machine serves late: tests wait for it, never for the wall clock.
export const patientTime = (page) => page.evaluate(() => globalThis.caught.endS ?? 0);

export const untilPatientTime = (page, time_s, timeout_ms = kPatience_ms) =>
  page.waitForFunction((until) => (globalThis.caught.endS ?? 0) >= until, time_s, { timeout: timeout_ms, polling: 100 });

export async function listen(page, seconds) {
  await page.waitForFunction(() => globalThis.caught.endS !== null);
  const from = await patientTime(page);
  await untilPatientTime(page, from + seconds, 3000 * seconds + kPatience_ms);
  return [from, from + seconds];
}

// Level in 100 to 1000 Hz of what was played between two patient times, dB re full scale.
export async function level_dbfs(page, [fromS, toS]) {
  return page.evaluate(async ([from, to]) => {
    const blocks = globalThis.caught.blocks.filter((one) => one.endS > from && one.endS <= to);
    const samples = Float32Array.from(blocks.flatMap((one) => one.samples));
    if (samples.length < 24000 * (to - from)) throw new Error(`only ${samples.length} samples came between ${from} s and ${to} s of the patient's time`);
    const offline = new OfflineAudioContext(1, samples.length, 48000);
    const buffer = offline.createBuffer(1, samples.length, 48000);
    buffer.copyToChannel(samples, 0);
    const source = offline.createBufferSource();
    source.buffer = buffer;
    let node = source;
    for (const [type, hz] of [['highpass', 100], ['highpass', 100], ['lowpass', 1000], ['lowpass', 1000]]) {
      const filter = offline.createBiquadFilter();
      filter.type = type;
      filter.frequency.value = hz;
      node.connect(filter);
      node = filter;
    }
    node.connect(offline.destination);
    source.start();
    const heard = (await offline.startRendering()).getChannelData(0);
    const from0 = 4800;  // the filters' own start
    let sum = 0;
    for (let i = from0; i < heard.length; i++) sum += heard[i] * heard[i];
    return 10 * Math.log10(sum / (heard.length - from0) + 1e-20);
  }, [fromS, toS]);
}

// The encounter begun last on this device; null before anything is kept.
export async function keptEncounter(page) {
  return page.evaluate(() => new Promise((resolve, reject) => {
    const opening = indexedDB.open('phren');
    opening.onerror = () => (opening.error.name === 'AbortError' ? resolve(null) : reject(opening.error));
    opening.onupgradeneeded = () => opening.transaction.abort();  // the page has not made it yet
    opening.onsuccess = () => {
      const all = opening.result.transaction('encounters').objectStore('encounters').getAll();
      all.onsuccess = () => { opening.result.close(); resolve(all.result.sort((a, b) => a.started_at.localeCompare(b.started_at)).at(-1) ?? null); };
      all.onerror = () => reject(all.error);
    };
  }));
}

// Waits until what is kept on the device fits, and gives it.
export async function untilKept(page, fits, timeout_ms = kPatience_ms) {
  const until_ms = performance.now() + timeout_ms;
  for (;;) {
    const kept = await keptEncounter(page);
    if (kept && fits(kept)) return kept;
    if (performance.now() > until_ms) throw new Error(`what is kept on the device never fitted ${fits}: ${kept ? kept.log.map((one) => one.do).join(' ') : 'nothing'}`);
    await page.waitForTimeout(100);
  }
}
export const untilLastIs = (page, deed) => untilKept(page, ({ log }) => log.at(-1)?.do === deed);
