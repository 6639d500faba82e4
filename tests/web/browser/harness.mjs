// What every browser test needs: the server on a free port, Debian's Chromium, checks that fail loudly.
// Usage of a test: node tests/web/browser/NAME.mjs PHREN_PROGRAM SCREENS_DIR
import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..', '..');
const require = createRequire(join(root, 'web', 'package.json'));
const { chromium } = require('playwright-core');
export const axeFile = require.resolve('axe-core/axe.min.js');
export const requireFromWeb = require;

export const [program, screens = 'screens'] = process.argv.slice(2);
export const screensFolder = screens;
if (!program) throw new Error('the path of the phren program is the first argument');
mkdirSync(screens, { recursive: true });
export const screenFile = (name) => join(screens, name + '.png');

let failures = 0;
export function check(isTrue, words) {
  if (isTrue) { console.log('  ok   ' + words); return; }
  failures++;
  console.log('  FAIL ' + words);
}

// Says how it went; the exit status.
export function finish(name) {
  console.log(`${name}: ${failures === 0 ? 'passed' : failures + ' failed'}`);
  return failures === 0 ? 0 : 1;
}

// Records of its own for each server, so that no test meets what another left.
export const newRecords = () => mkdtempSync(join(tmpdir(), 'phren-'));

// What the server prints for the instructor at its machine, as the cookie that a browser keeps of it; empty once the store has accounts.
export let localCookie = '';

export async function startServer(extra = [], records = newRecords(), environment = process.env) {
  const child = spawn(program, ['serve', '--listen', '127.0.0.1:0', '--records', records, '--create', ...extra], { stdio: ['ignore', 'pipe', 'inherit'], env: environment });
  // A test that fails half-way leaves no server behind: it would hold the output of the test open for ever.
  process.on('exit', () => child.kill('SIGKILL'));
  const address = await new Promise((resolve, reject) => {
    let text = '';
    child.stdout.on('data', (bytes) => {
      text += bytes;
      const found = /http:\/\/\S+:\d+/.exec(text);
      if (!found) return;
      const key = /\/session\/local\/(\w+)/.exec(text);
      localCookie = key ? `phren_local=${key[1]}` : '';
      resolve(found[0]);
    });
    child.on('exit', (code) => reject(new Error(`phren serve ended with ${code} before it served`)));
  });
  const stop = () => new Promise((resolve) => {
    const gone = () => { rmSync(records, { recursive: true, force: true }); resolve(); };
    if (child.exitCode !== null) { gone(); return; }
    child.once('exit', gone);
    child.kill('SIGTERM');
  });
  return { address, stop, pid: child.pid };
}

export async function startBrowser(args = []) {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    // A container's root has no user namespace for the sandbox; the pages are our own.
    args: [...(process.getuid?.() === 0 ? ['--no-sandbox'] : []), ...args],
  });
  // Every window has been shown the address that the server printed.
  const bare = browser.newContext.bind(browser);
  browser.newContext = async (options) => {
    const context = await bare(options);
    if (localCookie) await context.addCookies([{ name: 'phren_local', value: localCookie.split('=')[1], domain: '127.0.0.1', path: '/', sameSite: 'Strict', httpOnly: true }]);
    return context;
  };
  return browser;
}

// How long a test waits for what should come at once: only a machine that will never get there fails.
export const kPatience_ms = 90000;

// A page whose console errors, script errors and policy violations count as failures.
export async function openPage(browser, options = {}, allowed = []) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  context.setDefaultTimeout(kPatience_ms);
  const page = await context.newPage();
  const note = (words) => { if (!allowed.some((pattern) => pattern.test(words))) check(false, 'no error in the page: ' + words); };
  page.on('pageerror', (error) => note(error.stack ?? error.message));
  page.on('console', (message) => { if (message.type() === 'error') note(`${message.text()} ${message.location().url}`); });
  return page;
}

// `options`: arguments of the server, of the browser; what the server sees around it.
export async function run(name, body, { serve = [], browse = [], environment = process.env } = {}) {
  console.log(name);
  const server = await startServer(serve, newRecords(), environment);
  const browser = await startBrowser(browse);
  try {
    await body({ address: server.address, browser, server });
  } catch (error) {
    check(false, error.stack ?? String(error));
  } finally {
    await browser.close();
    await server.stop();
  }
  process.exit(finish(name));
}

// Pictures at a narrow phone, a phone and a desk, none wider than its window.
export async function pictureAtWidths(page, name) {
  const own = page.viewportSize();
  for (const [width, height] of [[320, 640], [390, 844], [1280, 900]]) {
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(200);  // for the picture only
    const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
    check(wide <= room, `${name}: ${wide} px wide at ${room}`);
    await page.screenshot({ path: screenFile(`${name}-${width}`), fullPage: true });
  }
  await page.setViewportSize(own);
}

export const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
