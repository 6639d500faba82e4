// Every screen: what it is called, its address, and what brings it to the state worth looking at.
export const screens = [
  { name: 'bench', hash: '#/bench' },
  { name: 'bench-specimen', hash: '#/bench', prepare: inTurn(button('Specimens'), button('Squawk'), (page) => page.getByRole('img', { name: /Squawk/ }).waitFor()) },
  { name: 'sites', hash: '#/sites' },
  { name: 'sites-back', hash: '#/sites', prepare: (page) => page.getByRole('button', { name: 'Back', exact: true }).click() },
  { name: 'sites-side', hash: '#/sites', prepare: (page) => page.getByRole('button', { name: 'Right side' }).click() },
  { name: 'sites-neck', hash: '#/sites', prepare: (page) => page.getByRole('button', { name: 'Neck' }).click() },
];

export async function show(page, address, screen, theme = 'paper') {
  await page.addInitScript((value) => localStorage.setItem('phren.theme', value), theme);
  await page.goto(address + '/' + screen.hash);
  await page.waitForSelector('main h1');
  await page.waitForLoadState('networkidle');
  if (screen.prepare) await screen.prepare(page);
}
