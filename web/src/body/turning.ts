// How the view turns: by dragging, by keys, by the names of the sides, smoothly or (with reduced motion) at once.
import type { Aspect } from '../chest/geometry';
import type { View } from './stage';

const kPi = Math.PI;
export const yawOf: Record<Aspect, number> = { front: 0, neck: 0, left_side: kPi / 2, right_side: -kPi / 2, back: kPi };
export const wrapped = (angle: number): number => angle - 2 * kPi * Math.round(angle / (2 * kPi));

export function sideSeen(yaw: number): Exclude<Aspect, 'neck'> {
  const angle = wrapped(yaw);
  if (Math.abs(angle) < kPi / 4) return 'front';
  if (Math.abs(angle) > 3 * kPi / 4) return 'back';
  return angle > 0 ? 'left_side' : 'right_side';
}

const smooth = (x: number) => x * x * (3 - 2 * x);
// Arms hang when seen from the front, are held forward from behind and raised from the side, as one asks.
export function armsForward(yaw: number): number {
  const away = Math.abs(wrapped(yaw));
  return smooth(Math.min(1, Math.max(0, (away - 0.55) / 0.6))) * (1 + 0.7 * Math.max(0, Math.sin(away)) ** 2);
}

const kTurn_s = 0.45;
const isStill = matchMedia('(prefers-reduced-motion: reduce)');

export class Turning {
  view: View = { yaw: 0, pitch: 0.05, zoom: 1, up: 0 };
  private from: View | null = null;
  private to: View | null = null;
  private began_ms = 0;

  get isMoving(): boolean {
    return this.to !== null;
  }
  go(to: Partial<View>, now_ms: number): void {
    const target = { ...(this.to ?? this.view), ...to };
    // The short way round.
    target.yaw = this.view.yaw + wrapped(target.yaw - this.view.yaw);
    if (isStill.matches) {
      this.view = target;
      return;
    }
    this.from = this.view;
    this.to = target;
    this.began_ms = now_ms;
  }
  drag(yaw: number, pitch: number): void {
    this.to = null;
    this.view = { ...this.view, yaw: this.view.yaw + yaw,
      pitch: Math.min(0.9, Math.max(-0.5, this.view.pitch + pitch)) };
  }
  zoom(by: number): void {
    this.to = null;
    this.view = { ...this.view, zoom: Math.min(3, Math.max(1, this.view.zoom * by)) };
  }
  step(now_ms: number): void {
    if (!this.to || !this.from) return;
    const t = Math.min(1, (now_ms - this.began_ms) / (1000 * kTurn_s)), k = smooth(t);
    const { from, to } = this;
    this.view = { yaw: from.yaw + (to.yaw - from.yaw) * k, pitch: from.pitch + (to.pitch - from.pitch) * k,
      zoom: from.zoom + (to.zoom - from.zoom) * k, up: from.up + (to.up - from.up) * k };
    if (t >= 1) this.to = this.from = null;
  }
}
