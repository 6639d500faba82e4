import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { defineConfig, type Plugin } from 'vite';

// Puts the engine and the body to look at beside the pages, and tells the service worker what to keep for offline use and
// under which version: a hash of everything, so that any change makes a new copy.
function offlineCopy(): Plugin {
  return {
    name: 'offline-copy',
    generateBundle(_options, bundle) {
      const engine = process.env['PHREN_ENGINE'];
      if (engine) this.emitFile({ type: 'asset', fileName: 'engine.wasm', source: readFileSync(engine) });
      const figure = process.env['PHREN_FIGURE'];
      if (figure) {
        this.emitFile({ type: 'asset', fileName: 'figure.wasm', source: readFileSync(figure) });
        this.emitFile({ type: 'asset', fileName: 'body.bin', source: readFileSync('../data/figure/body.bin') });
      }
      const measurer = process.env['PHREN_MEASURER'], model = process.env['PHREN_MODEL_FILE'];
      if (measurer && model) {
        this.emitFile({ type: 'asset', fileName: 'measurer.wasm', source: readFileSync(measurer) });
        this.emitFile({ type: 'asset', fileName: 'measurer_model.bin', source: readFileSync(model) });
      }
      const hash = createHash('sha256');
      const paths = Object.keys(bundle).filter((name) => name !== 'sw.js').sort();
      for (const name of paths) {
        const item = bundle[name]!;
        hash.update(name).update(item.type === 'chunk' ? item.code : item.source);
      }
      const worker = bundle['sw.js'];
      if (worker?.type !== 'chunk') throw new Error('sw.js was not built');
      const later = paths.filter((name) => name.startsWith('measurer')); // kept when the Bench was opened
      const now = paths.filter((name) => name !== 'index.html' && !later.includes(name));
      const list = ['/', ...now.map((name) => '/' + name)];
      for (const extra of ['/icon.svg', '/phren.webmanifest']) if (!list.includes(extra)) list.push(extra);
      worker.code = worker.code
        .replace('"%OFFLINE_PATHS%"', JSON.stringify(JSON.stringify(list)))
        .replace('"%OFFLINE_LATER%"', JSON.stringify(JSON.stringify(later.map((name) => '/' + name))))
        .replace('%OFFLINE_VERSION%', hash.digest('hex').slice(0, 12));
    },
  };
}

export default defineConfig({
  plugins: [offlineCopy()],
  build: {
    target: 'es2021',
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
    rollupOptions: {
      input: { index: 'index.html', sw: 'src/sw.ts' },
      output: {
        entryFileNames: (chunk) =>
          chunk.name === 'sw' ? 'sw.js' : chunk.name === 'worklet' ? 'assets/worklet-[hash].js' : 'assets/[name]-[hash].js',
        chunkFileNames: 'assets/[name]-[hash].js',
        assetFileNames: 'assets/[name]-[hash][extname]',
      },
    },
  },
});
