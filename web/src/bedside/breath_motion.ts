// The drawn chest moves with the lungs' own volumes, side by side; the ring shows the breath.
import type { Now } from '../generated/bedside';

const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
let low = 0, high = 0; // running range of the volume

export function moveBreath(field: HTMLElement, now: Now): void {
  low = Math.min(low + (now.volume - low) * 0.002, now.volume);
  high = Math.max(high + (now.volume - high) * 0.002, now.volume);
  if (!(high > low)) {
    low = now.volume - 0.01;
    high = now.volume + 0.01;
  }
  const depth = Math.max(0, Math.min(1, (now.volume - low) / Math.max(0.05, high - low)));
  if (!still) {
    const scale = 1 + 0.018 * depth;
    for (const part of field.querySelectorAll('[data-moves]')) {
      part.setAttribute('transform', `scale(${scale.toFixed(4)} ${(1 - 0.004 * depth).toFixed(4)})`);
    }
  }
  const ring = field.querySelector('[data-breath]');
  if (!ring) return;
  const r = Number(ring.getAttribute('data-radius'));
  const turn = Math.max(0.02, Math.min(0.98, depth)) * Math.PI * 2;
  const x = r * Math.sin(turn), y = -r * Math.cos(turn);
  ring.setAttribute('d', `M0 ${-r}A${r} ${r} 0 ${turn > Math.PI ? 1 : 0} 1 ${x.toFixed(2)} ${y.toFixed(2)}`);
}
