// The case sheet, the debrief and the key on paper: every section is there, nothing but paper is printed.
import { execFileSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { check, openPage, run, screenFile } from './harness.mjs';
import { catchSound, listen } from './listening.mjs';

const folder = join(dirname(screenFile('x')), 'print');
mkdirSync(folder, { recursive: true });

async function printed(page, name, sections, mostPages) {
  const file = join(folder, name + '.pdf');
  await page.pdf({ path: file, format: 'A4', margin: { top: '15mm', bottom: '15mm', left: '15mm', right: '15mm' }, printBackground: true });
  const text = execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' });
  const pages = text.split('\f').length - 1;
  for (const words of sections) check(text.replace(/\s+/g, ' ').includes(words), `${name}: "${words}" is on paper`);
  for (const words of ['Projector', 'Volume', 'Print or save', 'Put this note away']) check(!text.includes(words), `${name}: no "${words}" on paper`);
  check(pages >= 1 && pages <= mostPages, `${name}: ${pages} pages`);
  execFileSync('pdftoppm', ['-png', '-r', '60', file, join(folder, name)]);
}

await run('printing', async ({ address, browser }) => {
  const page = await openPage(browser, { colorScheme: 'dark' });  // night must not be printed
  await catchSound(page, false);
  await page.goto(address + '/#/sheet/right_pneumothorax');
  await page.getByRole('heading', { name: 'Story' }).waitFor();
  await printed(page, 'case-sheet', ['A stitch on the cliff path', 'What is wrong', 'Simple pneumothorax, right', 'sudden onset', 'the learner heard', 'Not a medical device'], 2);

  await page.goto(address + '/#/bedside/asthma');
  await page.getByRole('button', { name: 'Put the chestpiece on' }).click();
  await listen(page, 6);
  await page.getByRole('button', { name: 'wheeze', exact: true }).click();
  await page.getByRole('button', { name: 'Other side' }).click();
  await listen(page, 4);
  await page.getByRole('button', { name: 'End and debrief' }).click();
  await page.locator('table[data-places]').waitFor();
  await printed(page, 'debrief', ['Debrief: Scrubbing lines on the mussel raft', 'Acute asthma', 'Sounds that were there to hear', 'you marked it', 'Where you listened', 'F5', 'F6', 'What you found',
    'Every step in order', 'Chestpiece lifted', 'Not a medical device'], 3);
});
