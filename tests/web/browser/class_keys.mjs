// The keyboard alone: a learner practises, an instructor logs in, makes a class and looks at it.
import { execFileSync } from 'node:child_process';
import { check, newRecords, openPage, program, run, startServer } from './harness.mjs';

// Presses Tab until the focus is on something whose name fits, and says what that name is.
async function tabTo(page, pattern) {
  for (let i = 0; i < 80; i++) {
    await page.keyboard.press('Tab');
    const name = await page.evaluate(() => {
      const it = document.activeElement;
      return (it?.labels?.[0]?.textContent ?? it?.getAttribute('aria-label') ?? it?.textContent ?? '').trim();
    });
    if (pattern.test(name)) return name;
  }
  throw new Error(`Tab never reached ${pattern}`);
}
const focusIsSeen = (page) => page.evaluate(() => {
  const box = document.activeElement.getBoundingClientRect();
  const style = getComputedStyle(document.activeElement);
  return box.width > 0 && box.top >= 0 && box.bottom <= innerHeight && style.outlineStyle !== 'none';
});

async function drill(page, address) {
  await page.goto(`${address}/#/drill`);
  await page.getByRole('link', { name: /^Name it/ }).waitFor();
  await tabTo(page, /^Name it/);
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: /^Play/ }).first().waitFor();
  await page.keyboard.press(' ');  // plays, as nothing has the focus
  await page.getByRole('button', { name: 'Stop this chest' }).waitFor();
  check(true, 'Space plays the sound');
  await tabTo(page, /^wheeze/);
  check(await focusIsSeen(page), 'the focus is seen on an answer');
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: 'Next' }).waitFor();
  await page.waitForFunction(() => document.activeElement.textContent === 'Next');
  check(true, 'after the answer the focus is on Next');
  await page.keyboard.press('Enter');
  await page.getByText('1 of 20 answered').waitFor();
  check(true, 'the next play comes by Enter');
}

async function login(browser) {
  const records = newRecords();
  execFileSync(program, ['records', 'add', '--login', 'ingrid', '--name', 'Ingrid Voll', '--role', 'instructor', '--records', records, '--create'], { input: 'a long enough password\n' });
  const server = await startServer([], records);
  const page = await openPage(browser);
  await page.goto(`${server.address}/#/class`);
  await page.getByRole('heading', { name: 'Log in' }).waitFor();
  await tabTo(page, /^Login/);
  await page.keyboard.type('ingrid');
  await page.keyboard.press('Tab');
  await page.keyboard.type('a long enough password');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'Classes' }).waitFor();
  await page.getByText('Ingrid Voll').waitFor();
  check(true, 'logged in by keyboard, the name is shown');
  await page.getByLabel('New class').waitFor();
  await tabTo(page, /^New class/);
  await page.keyboard.type('Night crew');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'Night crew' }).waitFor();
  await page.getByRole('link', { name: 'Activity' }).waitFor();
  await tabTo(page, /^Activity/);
  await page.keyboard.press('Enter');
  await page.getByRole('region', { name: 'Log' }).locator('tbody tr').first().waitFor();
  check(true, 'a class is made and its log is read by keyboard');
  await page.getByRole('button', { name: 'Log out' }).click();
  await page.getByRole('heading', { name: 'Log in' }).waitFor();
  check(true, 'after logging out nothing of the class is shown');
  await server.stop();
}

await run('class by keyboard', async ({ address, browser }) => {
  await drill(await openPage(browser), address);
  await login(browser);
});
