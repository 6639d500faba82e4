// Writes the built pages as an assembler file of bytes and a C++ table of them (app/server/net/pages.h).
// Usage: node web/embed.mjs PAGES_DIR EMBED_DIR
import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { extname, join, relative } from 'node:path';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';

const [pagesDir, embedDir] = process.argv.slice(2);
const types = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8', '.svg': 'image/svg+xml', '.png': 'image/png',
  '.json': 'application/json', '.webmanifest': 'application/manifest+json', '.wasm': 'application/wasm',
  '.bin': 'application/octet-stream', '.woff2': 'font/woff2',
};

function filesUnder(dir) {
  return readdirSync(dir).flatMap((name) => {
    const path = join(dir, name);
    return statSync(path).isDirectory() ? filesUnder(path) : [path];
  });
}

const packed = join(embedDir, 'packed');
mkdirSync(packed, { recursive: true });
const byPath = filesUnder(pagesDir).map((file) => ({ file, path: '/' + relative(pagesDir, file).replaceAll('\\', '/') }));
byPath.sort((a, b) => (a.path < b.path ? -1 : 1));

let assembly = '  .section .note.GNU-stack,"",@progbits\n  .section .rodata\n';
let externs = '';
let rows = '';
let totals = { plain: 0, brotli: 0 };
byPath.forEach(({ file, path }, index) => {
  const plain = readFileSync(file);
  const smaller = (bytes) => (bytes.length < plain.length * 0.95 ? bytes : null);
  const kinds = {
    plain,
    gzip: smaller(gzipSync(plain, { level: 9 })),
    brotli: smaller(brotliCompressSync(plain, { params: {
      [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: plain.length } })),
  };
  totals.plain += plain.length;
  totals.brotli += (kinds.brotli ?? plain).length;
  const views = Object.entries(kinds).map(([kind, bytes]) => {
    if (!bytes) return '{}';
    const name = `phren_page_${index}_${kind}`;
    const binary = join(packed, `${index}_${kind}`);
    writeFileSync(binary, bytes);
    assembly += `  .global ${name}\n${name}:\n  .incbin "${binary}"\n  .byte 0\n`;
    externs += `extern const char ${name}[];\n`;
    return `{${name}, ${bytes.length}}`;
  });
  const type = types[extname(path)];
  if (!type) throw new Error(`${path}: no content type known for this kind of file; add it to web/embed.mjs`);
  const etag = createHash('sha256').update(plain).digest('hex').slice(0, 20);
  const isImmutable = path.startsWith('/assets/');
  rows += `    {"${path}", "${type}", "\\"${etag}\\"", ${isImmutable}, ${views.join(', ')}},\n`;
});

writeFileSync(join(embedDir, 'embedded_pages.S'), assembly);
writeFileSync(join(embedDir, 'embedded_pages.cc'), `// Made by web/embed.mjs; do not edit.
#include "app/server/net/pages.h"

extern "C" {
${externs}}

namespace phren::app::server {

std::span<const Page> embedded_pages() {
  static const Page pages[] = {
${rows}  };
  return pages;
}

}  // namespace phren::app::server
`);
console.log(`pages: ${byPath.length} files, ${totals.plain} bytes, ${totals.brotli} compressed`);
