// The place shown, kept in the address after '#', so that it can be bookmarked and works offline.
import { signal } from '@preact/signals';

// The id of a patient drawn within limits names its conditions; the address must not. What stands there instead is
// no secret, only unreadable.
const kMask = 0x5a;
function cover(part: string): string {
  if (!part.startsWith('random-')) return part;
  const bytes = [...part].map((letter) => String.fromCharCode(letter.charCodeAt(0) ^ kMask)).join('');
  return 'drawn-' + btoa(bytes).replaceAll('+', '.').replaceAll('/', '_').replaceAll('=', '');
}
function uncover(part: string): string {
  if (!part.startsWith('drawn-')) return part;
  try {
    return [...atob(part.slice(6).replaceAll('.', '+').replaceAll('_', '/'))]
      .map((letter) => String.fromCharCode(letter.charCodeAt(0) ^ kMask)).join('');
  } catch {
    return part;
  }
}

function read(): string[] {
  return location.hash.replace(/^#\/?/, '').split('/').filter(Boolean).map((part) => uncover(decodeURIComponent(part)));
}
export const address = (...parts: string[]): string =>
  '#/' + parts.map((part) => encodeURIComponent(cover(part))).join('/');
export const route = signal<string[]>(read());
export let visit = 0; // another number for each going somewhere, the same address once more included
addEventListener('hashchange', () => {
  visit++;
  route.value = read();
});
export function go(...parts: string[]): void {
  location.hash = address(...parts);
}
