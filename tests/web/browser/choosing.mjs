// Choosing and drawing a patient, a case on paper, and what is left of drawing when the network is gone.
import { check, openPage, run, screenFile } from './harness.mjs';

const gone = [/ERR_CONNECTION_REFUSED/, /ERR_FAILED/];
const seedOf = (page) => Number(/(\d+)$/.exec(page.url())[1]);

await run('choosing', async ({ address, browser, server }) => {
  const page = await openPage(browser, {}, [/status of 4\d\d/, ...gone]);
  await page.goto(address + '/#/bedside');
  for (const level of ['Beginner', 'Intermediate', 'Advanced']) {
    await page.getByRole('button', { name: new RegExp('^' + level) }).click();
    await page.getByRole('button', { name: 'Put the chestpiece on' }).waitFor();
    check(page.url().includes(`surprise-${level.toLowerCase()}-`), `${level}: a patient with an address of its own`);
    check(await page.getByText(`patient number ${seedOf(page)}`).isVisible(), `${level}: its number is shown`);
    const url = page.url(), who = await page.locator('p.soft.small').first().innerText();
    await page.goto(address + '/#/bedside');
    await page.getByRole('heading', { name: 'Who is the patient?' }).waitFor();
    await page.goto(url);
    await page.getByRole('button', { name: 'Put the chestpiece on' }).waitFor();
    check((await page.locator('p.soft.small').first().innerText()) === who, `${level}: the address gives the same person again (${who})`);
    await page.goto(address + '/#/bedside');
    await page.getByRole('heading', { name: 'Who is the patient?' }).waitFor();
  }

  await page.getByRole('link', { name: 'Build a patient' }).click();
  await page.getByRole('button', { name: 'Anyone within limits' }).click();
  await page.getByLabel('Age from').fill('60');
  await page.getByLabel(/^to/).fill('50');
  await page.getByRole('button', { name: 'Draw a patient' }).click();
  const words = await page.getByRole('alert').innerText();
  check(/60 to 50/.test(words), `ages the wrong way round: ${words}`);
  await page.getByLabel(/^to/).fill('70');
  await page.getByLabel('Build').selectOption('heavy');
  await page.getByLabel('Severity').selectOption({ label: 'severe' });
  await page.getByRole('button', { name: 'Simple pneumothorax' }).click();
  await page.getByLabel('Patient number').fill('4711');
  await page.screenshot({ path: screenFile('bedside-draw'), fullPage: true });
  await page.getByRole('button', { name: 'Draw a patient' }).click();
  await page.getByRole('button', { name: 'Put the chestpiece on' }).waitFor();
  // The address keeps the limits, unreadable: it must not name the condition.
  const kept = page.url().split('/').at(-1);
  const limits = Buffer.from(kept.replace(/^drawn-/, '').replaceAll('.', '+').replaceAll('_', '/'), 'base64').map((one) => one ^ 0x5a).toString();
  check(kept.startsWith('drawn-') && limits === 'random-a60_70-bheavy-s65_90-n1-cpneumothorax-4711', `limits become the address: ${kept}, ${limits}`);
  const who = await page.locator('p.soft.small').first().innerText();
  const years = Number(/(\d+) years/.exec(who)?.[1]);
  check(years >= 60 && years <= 70, `within the ages: ${who}`);

  await page.goto(address + '/#/bedside/surprise-beginer-1');
  check(/beginner/.test(await page.getByRole('alert').innerText()), 'a mistyped level names the right one');

  await page.goto(address + '/#/sheet/right_pneumothorax');
  await page.getByRole('heading', { name: 'What is wrong' }).waitFor();
  check(/Simple pneumothorax, right/.test(await page.locator('article').innerText()), 'the case sheet tells what is wrong');
  await page.context().close();

  // Surprises asked for ahead serve when the server is gone.
  const away = await openPage(browser, {}, gone);
  await away.goto(address + '/#/bedside');
  await away.evaluate(() => navigator.serviceWorker.ready);
  await away.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await away.reload();
  await away.waitForFunction(() => JSON.parse(localStorage.getItem('phren.drawn') ?? '[]').length >= 12);
  await away.waitForLoadState('networkidle');
  await server.stop();
  await away.getByRole('button', { name: /^Advanced/ }).click();
  await away.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await away.getByRole('button', { name: 'Lift the chestpiece' }).waitFor();
  await away.locator('span.figures').filter({ hasText: /^\d+:(0[1-9]|[1-5]\d)$/ }).first().waitFor();
  check(true, 'a surprise without the server: the patient breathes');
});
