// Keeps a figure on its stage alive: listens to hands, moves the body with the engine, draws when there is
// something new.
import type { Place } from '../chest/geometry';
import type { BodyPart } from '../generated/bedside';
import { size, theme } from '../lib/settings';
import type { BodyViewProps } from './body_view';
import type { Figure, Three } from './module';
import type { Layer, SiteRing, Stage } from './stage';
import { armsForward, sideSeen, Turning, wrapped, yawOf } from './turning';

const kStep_cm = 1.6, kSmallStep_cm = 0.4;
const kKeys: Record<string, [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1],
  ArrowDown: [0, -1] };
const kTurnPerPx = 0.009;
const kSlowPicture_ms = 45, kUsualPicture_ms = 30; // between pictures; beyond it the picture gets coarser
const kSlowFrame_ms = 28; // slower drawing than this is halved in rate, for the sound's sake

// How near one comes to look at a part, and how far up.
const kCloser: Record<BodyPart, { zoom: number; up: number }> = { face: { zoom: 2.5, up: 1 },
  neck: { zoom: 2.1, up: 0.55 }, trunk: { zoom: 1.5, up: 0 }, bearing: { zoom: 1, up: 0 } };
const kTap_px = 8; // a finger that moved further has turned the patient

interface Drag {
  x: number;
  y: number;
  isPiece: boolean;
  moved_px: number;
}

export class Actor {
  private readonly turning = new Turning();
  private readonly drags = new Map<number, Drag>();
  private readonly observer: ResizeObserver;
  private readonly stop = new AbortController();
  private frame = 0;
  private isDirty = true;
  private isOwnMove = false;
  private cost_ms = 0;
  private drawn_ms = 0;
  private low = Infinity;
  private high = -Infinity;

  constructor(private readonly canvas: HTMLCanvasElement, private readonly stage: Stage,
    private readonly figure: Figure, private readonly props: () => BodyViewProps & { layer: Layer },
    private readonly onTurned: (yaw: number) => void, onLost: () => void)
  {
    const { signal } = this.stop;
    canvas.addEventListener('pointerdown', (event) => this.down(event), { signal });
    canvas.addEventListener('pointermove', (event) => this.moved(event), { signal });
    for (const end of ['pointerup', 'pointercancel'] as const) {
      canvas.addEventListener(end, (event) => this.up(event, end === 'pointerup'), { signal });
    }
    canvas.addEventListener('keydown', (event) => this.key(event), { signal });
    canvas.addEventListener('contextmenu', (event) => event.preventDefault(), { signal });
    canvas.addEventListener('wheel', (event) => {
      if (!event.ctrlKey && !event.metaKey) return; // the page's own scrolling
      event.preventDefault();
      this.turning.zoom(Math.exp(-event.deltaY * 0.004));
      this.wake();
    }, { signal, passive: false });
    canvas.addEventListener('webglcontextlost', onLost, { signal });
    document.addEventListener('visibilitychange', () => this.wake(), { signal });
    this.observer = new ResizeObserver(() => {
      this.stage.resize();
      this.wake();
    });
    this.observer.observe(canvas);
  }

  close(): void {
    this.stop.abort();
    this.observer.disconnect();
    cancelAnimationFrame(this.frame);
    this.stage.close();
  }

  newBody(): void {
    this.stage.resize();
    this.stage.show(this.figure);
    this.watched = '';
    this.low = Infinity;
    this.high = -Infinity;
    const { place } = this.props();
    if (place) this.turning.view.yaw = yawOf[place.aspect];
    this.wake();
  }
  turnTo(yaw: number): void {
    this.turning.go({ yaw }, performance.now());
    this.wake();
  }
  setYaw(yaw: number): void {
    this.turning.view = { ...this.turning.view, yaw };
    this.wake();
  }
  toggleZoom(): void {
    this.turning.go({ zoom: this.turning.view.zoom > 1.3 ? 1 : 1.75, up: 0 }, performance.now());
    this.wake();
  }
  // To a part of the body that is looked at from the front; null: back to the whole.
  lookCloser(part: BodyPart | null): void {
    this.turning.go(part ? { ...kCloser[part], yaw: 0 } : { zoom: 1, up: 0 }, performance.now());
    this.wake();
  }
  // Turns to a place that was chosen elsewhere (the other side, a site of a list).
  face(place: Place | null): void {
    if (this.isOwnMove || !place) {
      this.isOwnMove = false;
      return;
    }
    const spot = this.figure.skin(place);
    const yaw = spot ? Math.atan2(spot.normal[0], spot.normal[2]) : yawOf[place.aspect];
    if (Math.abs(wrapped(yaw - this.turning.view.yaw)) > 0.9) {
      this.turning.go({ yaw: yawOf[place.aspect] }, performance.now());
    }
    this.wake();
  }
  wake(): void {
    this.isDirty = true;
    if (this.frame === 0) this.frame = requestAnimationFrame((now) => this.tick(now));
  }

  private tick(now_ms: number): void {
    this.frame = 0;
    if (this.stop.signal.aborted || document.hidden) return;
    const live = this.props().live();
    const isDue = now_ms - this.drawn_ms >= (this.cost_ms > kSlowFrame_ms ? 2 * this.cost_ms : 0);
    if ((this.isDirty || live || this.turning.isMoving) && isDue) this.draw(now_ms, live);
    if (live || this.turning.isMoving || this.isDirty) this.wakeNext();
  }
  private wakeNext(): void {
    if (this.frame === 0) this.frame = requestAnimationFrame((now) => this.tick(now));
  }

  private draw(now_ms: number, live: ReturnType<BodyViewProps['live']>): void {
    const began = performance.now();
    this.isDirty = false;
    this.watchRate(now_ms - this.drawn_ms, live !== null);
    this.drawn_ms = now_ms;
    const before = this.turning.view.yaw;
    this.turning.step(now_ms);
    const props = this.props();
    const { view } = this.turning;
    const sites: SiteRing[] = props.sites.map((site) => ({ aspect: site.aspect, u: site.u, v: site.v,
      kind: props.markedSites.has(site.id) ? 'marked' : props.heardSites.has(site.id) ? 'heard' : 'plain' })
    );
    // Whoever looks wants the skin, without rings and chestpiece on it.
    const place = props.look && !props.isPressed ? null : props.place;
    const isKnown = this.watch([...(place ? [place] : []), ...(props.look ? [] : sites)]);
    const shown = props.look ? [] : sites.filter((_, i) => isKnown[i + (place ? 1 : 0)]);
    this.figure.move({ seen: live?.seen ?? null, armsForward: armsForward(view.yaw), lying: props.lying,
      plain: size.peek() === 'hall' ? 2 : 1 });
    const style = getComputedStyle(document.documentElement).getPropertyValue('--accent').trim();
    this.stage.draw({ view, isNight: theme.peek() === 'night', tone: props.tone, layer: props.layer,
      isClothed: props.isClothed, looks: this.figure.looks(props.lying), sites: shown, accent: rgb(style),
      piece: place && isKnown[0]
        ? { isPressed: props.isPressed, isBell: props.isBell, breath: live ? this.fullness(live.volume) : 0 }
        : null });
    this.cost_ms += 0.2 * (performance.now() - began - this.cost_ms);
    if (before !== view.yaw || this.lastSide !== sideSeen(view.yaw)) {
      this.lastSide = sideSeen(view.yaw);
      this.onTurned(wrapped(view.yaw));
    }
  }
  private lastSide = 'front';
  // A living body that comes too seldom is drawn with fewer pixels: movement tells more than sharpness.
  private between_ms = kUsualPicture_ms;
  private watchRate(gap_ms: number, isLive: boolean): void {
    if (!isLive || gap_ms > 500) return; // had nothing to draw
    this.between_ms += 0.05 * (gap_ms - this.between_ms);
    if (this.between_ms > kSlowPicture_ms && this.stage.coarsen()) this.between_ms = kUsualPicture_ms;
  }

  // Finding a place on the skin takes a while: only when it is another one.
  private watched = '';
  private isKnown: boolean[] = [];
  private watch(places: readonly Place[]): boolean[] {
    const names = places.map((one) => `${one.aspect} ${one.u} ${one.v}`).join();
    if (names !== this.watched) {
      this.watched = names;
      this.isKnown = this.figure.watch(places);
    }
    return this.isKnown;
  }

  // How full the lungs are of the last breaths' range: the ring round the chestpiece.
  private fullness(volume_L: number): number {
    this.low = Math.min(volume_L, this.low + (volume_L - this.low) * 0.001 || volume_L);
    this.high = Math.max(volume_L, this.high + (volume_L - this.high) * 0.001 || volume_L);
    return Math.min(0.99, Math.max(0.01, (volume_L - this.low) / Math.max(0.02, this.high - this.low)));
  }

  private at(event: PointerEvent): [number, number] {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
  }
  private down(event: PointerEvent): void {
    this.canvas.setPointerCapture(event.pointerId);
    const spot = event.button === 0 && !event.altKey && this.drags.size === 0 && !this.props().look
      ? this.stage.pick(...this.at(event))
      : null;
    if (this.drags.size === 1) { for (const other of this.drags.values()) other.isPiece = false; }
    this.drags.set(event.pointerId, { x: event.clientX, y: event.clientY, isPiece: spot !== null, moved_px: 0 });
    if (spot) this.put(spot.place);
  }
  private moved(event: PointerEvent): void {
    const drag = this.drags.get(event.pointerId);
    if (!drag) return;
    const dx = event.clientX - drag.x, dy = event.clientY - drag.y;
    drag.moved_px += Math.abs(dx) + Math.abs(dy);
    if (drag.isPiece) {
      const spot = this.stage.pick(...this.at(event));
      if (spot) this.put(spot.place);
    } else if (this.drags.size === 2) {
      const [a, b] = [...this.drags.values()];
      const before = Math.hypot(a!.x - b!.x, a!.y - b!.y);
      drag.x = event.clientX;
      drag.y = event.clientY;
      const after = Math.hypot(a!.x - b!.x, a!.y - b!.y);
      this.turning.zoom(after / Math.max(20, before));
      this.turning.drag(-0.5 * dx * kTurnPerPx, 0);
      this.wake();
    } else {
      this.turning.drag(-dx * kTurnPerPx, dy * kTurnPerPx * 0.5);
      this.wake();
    }
    drag.x = event.clientX;
    drag.y = event.clientY;
  }
  private up(event: PointerEvent, isDone: boolean): void {
    const drag = this.drags.get(event.pointerId);
    this.drags.delete(event.pointerId);
    const { look } = this.props();
    if (!drag || !isDone || !look || this.drags.size > 0 || drag.moved_px > kTap_px) return;
    const part = this.stage.partAt(...this.at(event));
    if (part) look.onPart(part);
  }
  private put(place: Place): void {
    this.isOwnMove = true;
    this.props().onMove(place);
    this.wake();
  }

  private key(event: KeyboardEvent): void {
    const step = kKeys[event.key];
    if (step) this.walk(step, event.shiftKey ? kSmallStep_cm : kStep_cm);
    else if (event.key === ',') this.turnTo(this.turning.view.yaw - Math.PI / 6);
    else if (event.key === '.') this.turnTo(this.turning.view.yaw + Math.PI / 6);
    else if (event.key === 'Enter' || event.key === ' ') this.props().onPress?.();
    else return;
    event.preventDefault();
  }
  // A step along the skin as it is seen; the view follows round the body.
  private walk([right, up]: [number, number], step_cm: number): void {
    const from = this.figure.skin(this.props().place ?? { aspect: 'front', u: 0, v: 0.5 });
    if (!from) return;
    const [nx, , nz] = from.normal;
    const flat = Math.hypot(nx, nz) || 1;
    const along: Three = [right * nz / flat, up, -right * nx / flat];
    const start: Three = [0, 1, 2].map((i) =>
      from.at[i]! + step_cm * along[i]! + 6 * (i === 1 ? 0 : from.normal[i]!)
    ) as Three;
    const spot = this.figure.pick(start, [-nx / flat, 0, -nz / flat]);
    if (!spot) return;
    this.put(spot.place);
    const yaw = Math.atan2(spot.normal[0], spot.normal[2]);
    if (Math.abs(wrapped(yaw - this.turning.view.yaw)) > 0.8) this.turnTo(yaw);
  }
}

function rgb(css: string): Three {
  const hex = /^#([0-9a-f]{6})$/i.exec(css)?.[1];
  return hex ? [0, 2, 4].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255) as Three : [0.2, 0.2, 0.2];
}
