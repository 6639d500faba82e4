// Catches what the engine sends to the page, which is exactly what it plays: blocks of samples with
// the patient time of their end, before volume and limiter.
export async function catchSound(page) {
  await page.addInitScript(() => {
    const Plain = globalThis.AudioWorkletNode;
    globalThis.caught = { blocks: [], events: [], firstTapMs: 0, firstSoundMs: 0, lastMessageMs: 0, longestGapMs: 0, count: 0, keep: true };
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
          if (!caught.firstSoundMs && data.block.some((value) => Math.abs(value) > 1e-5)) caught.firstSoundMs = nowMs;
          if (caught.keep) caught.blocks.push({ endS: data.now.timeS, samples: Array.from(data.block) });
        });
      }
    };
  });
}

export const patientTime = (page) => page.evaluate(() => globalThis.caught.blocks.at(-1)?.endS ?? 0);

export const untilPatientTime = (page, time_s, timeout_ms = 60000) =>
  page.waitForFunction((until) => (globalThis.caught.blocks.at(-1)?.endS ?? 0) >= until, time_s, { timeout: timeout_ms });

export async function listen(page, seconds) {
  const from = await patientTime(page);
  await untilPatientTime(page, from + seconds, 1000 * seconds + 15000);
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

export async function keptEncounter(page) {
  return page.evaluate(() => new Promise((resolve, reject) => {
    const opening = indexedDB.open('phren');
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => {
      const all = opening.result.transaction('encounters').objectStore('encounters').getAll();
      all.onsuccess = () => resolve(all.result.at(-1));
    };
  }));
}
