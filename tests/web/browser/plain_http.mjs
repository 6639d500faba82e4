// A phone on the room's network gets the pages over plain HTTP, where browsers give no audio worklet: the
// patient must sound all the same, and what is done must be stamped as elsewhere.
import { check, openPage, run } from './harness.mjs';
import { untilLastIs } from './listening.mjs';

const kName = 'phren.test';
const kStep_s = 1 / 128;  // the body is at most one step ahead of the sound made from it

await run('plain http', async ({ address, browser }) => {
  const page = await openPage(browser, { viewport: { width: 390, height: 844 } }, [/Cross-Origin-Opener-Policy/]);
  // What the page hands to the loudspeaker, before volume and limiter.
  await page.addInitScript(() => {
    globalThis.heard = { blocks: 0, seconds: 0, loudest: 0 };
    const make = BaseAudioContext.prototype.createScriptProcessor ?? AudioContext.prototype.createScriptProcessor;
    AudioContext.prototype.createScriptProcessor = function (...all) {
      const node = make.apply(this, all);
      const own = Object.getOwnPropertyDescriptor(ScriptProcessorNode.prototype, 'onaudioprocess');
      Object.defineProperty(node, 'onaudioprocess', { set(action) {
        own.set.call(node, action && ((event) => {
          action(event);
          globalThis.heard.blocks++;
          globalThis.heard.seconds += event.outputBuffer.duration;
          for (const value of event.outputBuffer.getChannelData(0)) globalThis.heard.loudest = Math.max(globalThis.heard.loudest, Math.abs(value));
        }));
      } });
      return node;
    };
  });
  await page.goto(`${address.replace('127.0.0.1', kName)}/#/bedside/asthma`);
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  check(await page.evaluate(() => !isSecureContext && !new AudioContext().audioWorklet), 'the page is not a secure one and has no worklet');
  await page.waitForFunction(() => globalThis.heard.blocks > 60);
  const heard = await page.evaluate(() => globalThis.heard);
  check(heard.loudest > 1e-3, `sound is made: loudest sample ${heard.loudest.toFixed(4)} in ${heard.blocks} blocks`);
  await page.getByRole('button', { name: 'Lift the chestpiece' }).click();
  const { log } = await untilLastIs(page, 'lift');
  const [place, lift] = log;
  const made_s = await page.evaluate(() => globalThis.heard.seconds);
  check(place.do === 'place' && lift.do === 'lift' && lift.t - place.t > 4 && lift.t <= made_s + kStep_s, `the log is stamped by the engine: on at ${place.t} s, off at ${lift.t} s of ${made_s.toFixed(1)} s made`);
}, { browse: [`--host-resolver-rules=MAP ${kName} 127.0.0.1`] });
