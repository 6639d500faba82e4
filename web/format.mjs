// Formats the pages' TypeScript, or says which files are not formatted.
// Usage: node web/format.mjs [--check]
// Exits 1 when --check finds a file that differs or a line of more than 120 characters.
import { createFromBuffer } from '@dprint/formatter';
import { getPath } from '@dprint/typescript';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const kLongestLine = 120;
const formatter = createFromBuffer(readFileSync(getPath()));
formatter.setConfig({ indentWidth: 2, lineWidth: kLongestLine }, {
  quoteStyle: 'preferSingle',
  'jsx.quoteStyle': 'preferDouble',
  'arrowFunction.useParentheses': 'maintain',
  'jsxElement.preferSingleLine': true,
  operatorPosition: 'maintain',
  nextControlFlowPosition: 'sameLine',
  quoteProps: 'preserve',
  preferHanging: true,
});

const sources = (folder) =>
  readdirSync(folder, { withFileTypes: true }).flatMap((entry) =>
    entry.isDirectory() ? sources(join(folder, entry.name)) : [join(folder, entry.name)]
  );
const isCheck = process.argv.includes('--check');
const wrong = [];
for (const path of sources(join(here, 'src')).filter((name) => /\.tsx?$/.test(name) && !name.includes('/generated/'))) {
  const text = readFileSync(path, 'utf8');
  const made = formatter.formatText({ filePath: path, fileText: text });
  const name = relative(join(here, '..'), path);
  if (isCheck && made !== text) wrong.push(`${name}: not formatted; run \`make format\``);
  made.split('\n').forEach((line, i) => {
    if (line.length > kLongestLine) wrong.push(`${name}:${i + 1}: ${line.length} characters; at most ${kLongestLine}`);
  });
  if (!isCheck && made !== text) writeFileSync(path, made);
}
for (const line of wrong) console.error(line);
process.exit(wrong.length > 0 ? 1 : 0);
