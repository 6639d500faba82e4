import { render } from 'preact';
import { Shell } from './shell';
import './lib/settings';

render(<Shell />, document.getElementById('page')!);

// The copy for offline use is made after the page is up, so that it never delays the first sound.
if ('serviceWorker' in navigator) {
  addEventListener('load', () => { void navigator.serviceWorker.register('/sw.js').catch(() => { /* pages work without it */ }); });
}
