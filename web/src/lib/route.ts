// The place shown, kept in the address after '#', so that it can be bookmarked and works offline.
import { signal } from '@preact/signals';

function read(): string[] {
  return location.hash.replace(/^#\/?/, '').split('/').filter(Boolean).map(decodeURIComponent);
}
export const route = signal<string[]>(read());
export let visit = 0; // another number for each going somewhere, the same address once more included
addEventListener('hashchange', () => {
  visit++;
  route.value = read();
});
export function go(...parts: string[]): void {
  location.hash = '/' + parts.map(encodeURIComponent).join('/');
}
