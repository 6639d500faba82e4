import { render } from 'preact';
import { Shell } from './shell';
import './lib/settings';

const page = document.getElementById('page')!;
page.textContent = ''; // the line for browsers that get no further
render(<Shell />, page);

// The copy for offline use is made after the page is up, so that it never delays the first sound.
if ('serviceWorker' in navigator) {
  addEventListener('load', () => {
    void navigator.serviceWorker.register('/sw.js').catch(() => {/* pages work without it */});
  });
}
