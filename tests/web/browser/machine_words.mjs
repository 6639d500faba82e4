// Words of the machine that no screen may show: status words, raw ids, hashes, field names, numbers that do not agree
// with their nouns.
const patterns = [
  [/\b(ENGINEERING|PART-VERIFIED|VERIFIED|MEMORY)\b/, 'a status word'],
  [/\b(random|surprise)-[a-z0-9_]+-/, 'the id of a drawn patient'],
  [/\b[0-9a-f]{8}-[0-9a-f]{4}-/, 'an id'],
  [/\b(?=[0-9a-f]*\d)(?=[0-9a-f]*[a-f])[0-9a-f]{12,}\b/, 'a hash'],
  [/(?<![\w./-])[a-z]+_[a-z_]+(?![\w.-])/, 'a name with an underscore'],
  [/(?<![\d.,:/])1 (tones|clicks|items|points|steps|places|crackles|seconds|minutes|learners|patients|recordings|plays|words|breaths|sites|stations|actions)\b/, 'one of many'],
  [/\b(NaN|undefined)\b|\[object /, 'a slip of the program'],
];

// What of the page's words is a machine's, each with what stands around it. Reads what is shown, titles and labels.
export async function machineWords(page) {
  const text = await page.evaluate(() => {
    const said = [...document.querySelectorAll('[title], [aria-label], [placeholder]')]
      .flatMap((one) => [one.getAttribute('title'), one.getAttribute('aria-label'), one.getAttribute('placeholder')]);
    return [document.title, document.body.innerText, ...said.filter(Boolean)].join('\n');
  });
  return findMachineWords(text);
}

export function findMachineWords(text) {
  const found = [];
  for (const line of text.split('\n')) {
    for (const [pattern, what] of patterns) {
      const match = pattern.exec(line);
      if (match) found.push(`${what}: "${line.slice(Math.max(0, match.index - 30), match.index + 50).trim()}"`);
    }
  }
  return [...new Set(found)];
}
