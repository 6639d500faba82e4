// A round as in a class: from the front page to a patient that three phones hear, made worse, asked about, treated, gone
// back, played differently, debriefed; what bad input gets; and that neither a listener's page nor the wall tells the
// truth before the desk does.
import { check, localCookie, openPage, run, screenFile } from './harness.mjs';

const phone = { viewport: { width: 390, height: 844 } };
// Words on the wall that are smaller than a thirtieth of its height.
const smallOn = (page) => page.evaluate(() => [...document.querySelectorAll('.hall *')]
  .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim()) && one.checkVisibility()
    && !(one instanceof SVGElement) && parseFloat(getComputedStyle(one).fontSize) < innerHeight / 30)
  .map((one) => `${one.tagName} ${one.textContent.slice(0, 30)} ${getComputedStyle(one).fontSize}`));
const cutOn = (page) => page.evaluate(() => [...document.querySelectorAll('.hall, .hall-body, .hall-words, .hall-patient')]
  .filter((one) => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1).map((one) => `${one.className} ${one.scrollWidth}x${one.scrollHeight} in ${one.clientWidth}x${one.clientHeight}`));
const truths = [/sthma/, /neumothorax/];

await run('round', async ({ address, browser }) => {
  const desk = await openPage(browser);
  let clicks = 0;
  const click = async (locator) => {
    clicks++;
    await locator.click();
  };
  const started = Date.now();
  await desk.goto(address + '/');
  await click(desk.getByRole('navigation').getByRole('link', { name: 'Round' }));
  await desk.getByLabel('Patient').waitFor();
  clicks++;
  await desk.getByLabel('Patient').selectOption('tension_pneumothorax');
  await click(desk.getByRole('button', { name: 'Open the round' }));
  const code = (await desk.locator('.join-code strong').innerText()).trim();
  check(/^[A-Z0-9]{5}$/.test(code), `a code for the wall: ${code}`);

  // The wall, opened from the desk by one click.
  const [wall] = await Promise.all([desk.context().waitForEvent('page'), desk.getByRole('link', { name: 'On the wall' }).click()]);
  await wall.setViewportSize({ width: 1920, height: 1080 });
  await wall.locator('.hall .qr').waitFor();
  check((await wall.locator('.hall .join-code strong').innerText()).trim() === code, 'the wall shows the code and the square');
  const wallSays = async (words) => {
    const [small, cut] = [await smallOn(wall), await cutOn(wall)];
    check(small.length === 0, `${words}: no letter on the wall under a thirtieth of its height ${small.slice(0, 3).join('|')}`);
    check(cut.length === 0, `${words}: all of it is on the wall ${cut.join('|')}`);
  };

  // Three phones, without accounts; everything that reaches them is kept, to be searched for the truth.
  const said = [];
  const join = async (name) => {
    const page = await openPage(browser, phone, [/INTERNET_DISCONNECTED/]);  // one of them sleeps later
    await page.context().clearCookies();
    page.on('websocket', (socket) => socket.on('framereceived', ({ payload }) => said.push(String(payload))));
    page.on('response', async (response) => {
      if (!response.url().includes('/api/v1/rounds')) return;
      said.push(await response.text().catch(() => ''));
    });
    await page.goto(address + '/');
    await page.getByLabel('Code of the room').fill(code.toLowerCase());
    await page.getByRole('button', { name: 'Join' }).click();
    if (name) await page.getByLabel('Your name').fill(name);
    await page.getByRole('button', { name: 'Come in' }).click();
    await page.getByRole('button', { name: 'Listen' }).click();
    return page;
  };
  const phones = [];
  for (const name of ['Maren', 'Torvald', '']) phones.push(await join(name));
  await wall.getByText(/^3 here/).waitFor();
  await wallSays('joining');
  await wall.screenshot({ path: screenFile('round-hall-join') });
  await click(desk.getByRole('button', { name: 'Begin' }));
  await wall.locator('.round-map').first().waitFor();
  await wall.keyboard.press('Shift');  // as any key: the monitor and the figure live from then on
  const putOn = (page) => page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  for (const page of phones) await putOn(page);
  await desk.getByRole('tab', { name: 'Room' }).click();
  await desk.waitForFunction(() => document.querySelectorAll('.round-map .listener').length === 3);
  console.log(`       ${clicks} clicks at the desk; three phones listen after ${((Date.now() - started) / 1000).toFixed(0)} s`);
  check(clicks <= 8, 'at most 8 clicks');
  check(await desk.getByText('Maren').count() === 0, 'names are hidden until the desk shows them');
  check(!(await wall.content()).includes('Maren'), '... on the wall too');
  await desk.getByRole('checkbox', { name: 'Show names' }).check();
  await desk.getByText('Maren').first().waitFor();
  await wall.locator('.round-map .listener-name', { hasText: 'Maren' }).waitFor();
  check(await wall.locator('.round-map .listener').count() === 3, 'three chestpieces on the wall');
  await desk.screenshot({ path: screenFile('round-desk') });

  // Worse, within minutes; the room is asked and answers.
  await desk.getByRole('tab', { name: 'Illness' }).click();
  await desk.getByRole('slider', { name: /Severity/ }).first().fill('100');
  await desk.getByLabel('How fast').first().selectOption('60');
  await desk.getByRole('button', { name: 'Change it' }).first().click();
  await desk.getByText(/told at/).waitFor();
  await desk.getByRole('tab', { name: 'Ask' }).click();
  await desk.getByRole('button', { name: 'Which side?' }).click();
  for (const [i, page] of phones.entries()) {
    await page.getByRole('group', { name: 'Which side?' }).getByRole('button', { name: i === 2 ? 'Left' : 'Right' }).click();
  }
  await desk.getByText('3 of 3 have answered').waitFor();
  const answers = await desk.getByRole('status', { name: 'Answers' }).innerText();
  check(/2\s*Right/.test(answers) && /1\s*Left/.test(answers), 'answers are counted as they come');
  check(/at the /.test(answers), 'with what each had under the ear');
  await wall.getByText('3 of 3 have answered').waitFor();
  await wallSays('asked');
  await wall.screenshot({ path: screenFile('round-hall-asked') });
  await phones[0].screenshot({ path: screenFile('round-phone') });

  // Everyone listens here; the monitor is shown to all.
  await desk.getByRole('button', { name: 'Everyone listen here' }).click();
  await phones[0].getByRole('button', { name: 'Go there' }).click();
  await desk.getByRole('button', { name: 'Monitor for all' }).click();
  await phones[1].getByRole('region', { name: 'Monitor' }).waitFor();
  await wall.getByRole('region', { name: 'Monitor' }).waitFor();
  await wallSays('with the monitor');
  await wall.screenshot({ path: screenFile('round-hall-monitor') });

  // A listener has no hand on the patient; one who is made crew has.
  check(await phones[0].getByText('Treat: you are crew').count() === 0, 'a listener cannot treat');
  await desk.getByRole('tab', { name: 'Room' }).click();
  await desk.getByRole('button', { name: 'Crew' }).first().click();
  await phones[0].getByText('Treat: you are crew').click();
  await phones[0].getByRole('button', { name: /^High-flow oxygen|^Oxygen/ }).first().click();
  await desk.getByRole('tab', { name: 'Time' }).click();
  await desk.getByText(/Began: /).waitFor();

  // The truth was in nothing that reached a phone so far.
  for (const truth of truths) check(!said.some((text) => truth.test(text)), `no message names ${truth}`);
  for (const page of [...phones, wall]) {
    // All that can be given, whatever is wrong, stands in the crew's list of treatments.
    const shown = page.url() + await page.evaluate(() => {
      const copy = document.documentElement.cloneNode(true);
      for (const one of copy.querySelectorAll('details, option')) one.remove();
      return copy.outerHTML;
    });
    for (const truth of truths) check(!truth.test(shown), `no page names ${truth}`);
  }

  // Back to before it, and played differently.
  await desk.waitForFunction(() => !document.querySelector('.round-bar button[disabled]'));
  await desk.getByRole('button', { name: '30 s back' }).click();
  await desk.getByText(/Take 2/).waitFor();
  await desk.getByRole('button', { name: 'Run' }).click();
  await desk.getByRole('button', { name: 'Freeze' }).waitFor();
  await phones[1].getByText('stands still').waitFor({ state: 'detached' });

  // A phone that sleeps loses the line, and comes back as the same one.
  await phones[1].context().setOffline(true);
  await phones[1].reload().catch(() => {/* offline */});
  await phones[1].context().setOffline(false);
  await phones[1].goto(`${address}/#/round/${code}`);
  await phones[1].reload();
  await phones[1].getByRole('button', { name: 'Listen' }).click();
  await putOn(phones[1]);

  // Sent away, told so, back by the code; with the door closed not.
  await desk.getByRole('tab', { name: 'Room' }).click();
  const sendAway = async () => {
    await desk.getByRole('button', { name: 'Send away', exact: true }).last().click();
    await desk.getByRole('alertdialog').getByRole('button', { name: 'Send away' }).click();
    await phones[2].getByText('has taken this device out').waitFor();
  };
  await sendAway();
  await phones[2].screenshot({ path: screenFile('round-phone-away') });
  await phones[2].getByRole('button', { name: 'Load again' }).click();
  await phones[2].getByRole('button', { name: 'Come in' }).click();
  await phones[2].getByRole('button', { name: 'Listen' }).click();
  await desk.getByRole('button', { name: 'Close the door' }).click();
  await desk.getByRole('button', { name: 'Open the door again' }).waitFor();
  await desk.screenshot({ path: screenFile('round-desk-room'), fullPage: true });
  const outside = await openPage(browser, phone, [/409/]);
  await outside.goto(`${address}/#/round/${code}`);
  await outside.getByRole('button', { name: 'Come in' }).click();
  await outside.getByText('has closed the door').waitFor();

  // A wrong code, in words.
  const lost = await openPage(browser, phone, [/404/]);
  await lost.goto(address + '/#/round/XXXXX');
  await lost.getByRole('button', { name: 'Come in' }).click();
  await lost.getByText('no round has this code').waitFor();

  // Revealed, ended, debriefed.
  await desk.getByRole('button', { name: 'Reveal' }).click();
  await phones[0].getByRole('region', { name: 'What it is' }).waitFor();
  await wall.getByRole('region', { name: 'What it is' }).waitFor();
  await wallSays('revealed');
  await wall.screenshot({ path: screenFile('round-hall-revealed') });
  await desk.getByRole('button', { name: 'End the round' }).click();
  await desk.getByRole('alertdialog').getByRole('button', { name: 'End the round' }).click();
  await phones[0].getByText('The round is over').waitFor();
  await wall.getByRole('button', { name: 'Hear it again' }).click();
  await wall.getByText('The patient had:').waitFor();
  await wall.getByRole('button', { name: /^Hear/ }).first().waitFor({ timeout: 60000 });
  check((await smallOn(wall)).length === 0, `debrief: no small letter on the wall ${(await smallOn(wall)).slice(0, 3).join('|')}`);
  await wall.screenshot({ path: screenFile('round-hall-debrief') });
  await phones[0].getByRole('button', { name: 'Your debrief' }).click();
  await phones[0].getByText('The patient had:').waitFor();
  await phones[0].getByText('Where you listened, and how long').waitFor({ timeout: 60000 });
  check(/pneumothorax/.test(await phones[0].locator('.debrief').innerText()), 'a phone has its own debrief');
  check(await phones[0].locator('[data-places] tbody tr').count() > 0, '... with the places it listened at');
  await phones[0].screenshot({ path: screenFile('round-phone-debrief'), fullPage: true });
  await desk.getByRole('link', { name: 'Debrief' }).click();
  await desk.getByRole('heading', { name: /^Debrief:/ }).waitFor();
  await desk.getByLabel('Whose').waitFor();
  check((await desk.getByLabel('Take').locator('option').count()) === 2, 'both takes are there');
  await desk.screenshot({ path: screenFile('round-debrief') });
  const late = await openPage(browser, phone, [/409/]);
  await late.goto(`${address}/#/round/${code}`);
  await late.getByRole('button', { name: 'Come in' }).click();
  await late.getByText('this round is over').waitFor();
  check(localCookie !== '', 'the desk was the local instructor');
});
