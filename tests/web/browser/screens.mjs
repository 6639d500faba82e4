// Every screen: what it is called, its address, and what brings it to the state worth looking at.
const tab = (name) => (page) => page.getByRole('tab', { name }).click();
const press = async (page) => {
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await page.waitForTimeout(1500);
};
const button = (name) => (page) => page.getByRole('button', { name }).first().click();
const inTurn = (...steps) => async (page) => { for (const step of steps) await step(page); };
const aspect = (name) => (page) => page.getByRole('button', { name, exact: true }).click();

const placedSpecimen = inTurn(button('Specimens'), button('Squawk'), (page) => page.getByRole('img', { name: /Squawk/ }).waitFor(), button('Specimens'), button('Make a case'));
const recordedCase = inTurn(placedSpecimen, (page) => page.getByLabel(/agreed to teaching use/).check(), button('Make the case'),
  (page) => page.getByRole('button', { name: 'Put the chestpiece on' }).waitFor());

export const screens = [
  { name: 'front', hash: '#/' },
  { name: 'bedside-choose', hash: '#/bedside' },
  { name: 'build', hash: '#/build', prepare: inTurn(button('Man'), button('Tension pneumothorax'), (page) => page.locator('[data-heard] li').first().waitFor()) },
  { name: 'build-chance', hash: '#/build', prepare: button('Anyone within limits') },
  { name: 'show', hash: '#/show' },
  { name: 'show-title', hash: '#/show/first' },
  { name: 'show-sound', hash: '#/show/first/2', prepare: (page) => page.locator('.show-picture[data-ready=yes]').first().waitFor() },
  { name: 'show-compare', hash: '#/show/first/2', prepare: inTurn((page) => page.keyboard.press('3'), (page) => page.locator('.show-panels').waitFor()) },
  { name: 'show-edit', hash: '#/show/edit/sides' },
  { name: 'case-sheet', hash: '#/sheet/asthma', prepare: (page) => page.getByRole('heading', { name: 'Story' }).waitFor() },
  { name: 'bedside-listen', hash: '#/bedside/asthma', prepare: inTurn(press, button('wheeze')) },
  { name: 'bedside-percuss', hash: '#/bedside/right_pneumothorax', prepare: tab('Percuss') },
  { name: 'bedside-look', hash: '#/bedside/croup', prepare: inTurn(press, tab('Look'), button('Neck'), button('use of accessory muscles')) },
  { name: 'bedside-ask', hash: '#/bedside/lobar_pneumonia', prepare: tab('Ask') },
  { name: 'bedside-monitor', hash: '#/bedside/asthma', prepare: inTurn(press, tab('Monitor'), button('Clip on'), button('Put on capnometry'), button('Take the pressure'), (page) => page.waitForTimeout(4000)) },
  { name: 'bedside-treat', hash: '#/bedside/cardiogenic_oedema', prepare: tab('Treat') },
  { name: 'bedside-weigh', hash: '#/bedside/asthma', prepare: inTurn(press, button('wheeze'), tab('Weigh'), button('Weigh what was found'), (page) => page.getByText('What is likely').waitFor()) },
  { name: 'bedside-explain', hash: '#/bedside/asthma', prepare: inTurn(press, tab('Explain'), (page) => page.waitForTimeout(9000)) },
  { name: 'bedside-debrief', hash: '#/bedside/asthma', prepare: inTurn(press, (page) => page.waitForTimeout(6000), button('wheeze'), button('Other side'), (page) => page.waitForTimeout(3000), button('End and debrief'), (page) => page.locator('table[data-places]').waitFor()) },
  { name: 'bench', hash: '#/bench' },
  { name: 'bench-specimen', hash: '#/bench', prepare: inTurn(button('Specimens'), button('Squawk'), (page) => page.getByRole('img', { name: /Squawk/ }).waitFor()) },
  { name: 'bench-make-case', hash: '#/bench', prepare: placedSpecimen },
  { name: 'recorded', hash: '#/bench', prepare: recordedCase },
  { name: 'recorded-key', hash: '#/bench', prepare: inTurn(recordedCase, button('End and see the answers')) },
  { name: 'sites', hash: '#/sites' },
  { name: 'sites-back', hash: '#/sites', prepare: aspect('Back') },
  { name: 'sites-side', hash: '#/sites', prepare: aspect('Right') },
  { name: 'sites-lungs', hash: '#/sites', prepare: aspect('Lungs') },
];

export async function show(page, address, screen, theme = 'paper') {
  await page.addInitScript((value) => localStorage.setItem('phren.theme', value), theme);
  await page.goto(address + '/' + screen.hash);
  await page.waitForSelector('main h1');
  await page.waitForLoadState('networkidle');
  if (screen.prepare) await screen.prepare(page);
}
