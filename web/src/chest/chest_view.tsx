// The chest one listens at: a drawing, the chestpiece on it, and every way to move it.
// By finger or mouse: tap or drag. By keys: arrows (with Shift in small steps).
import type { ComponentChildren } from 'preact';
import { useRef } from 'preact/hooks';
import { Back, SideView } from './back_side';
import { Clothing } from './clothing';
import { Front, Neck } from './front';
import { type Aspect, aspectName, backUnit, type Body, frontUnit, onSkin, type Place, toPlace,
  toPoint } from './geometry';
import { inWords, type Site } from './landmarks';

export interface ChestViewProps {
  body: Body;
  aspect: Aspect;
  place: Place | null; // where the chestpiece is
  isPressed: boolean; // on the skin, or lifted
  isBell: boolean;
  isClothed: boolean;
  sites: readonly Site[]; // shown as small rings; empty hides them
  markedSites: ReadonlySet<string>;
  heardSites: ReadonlySet<string>;
  describedBy?: string;
  onMove: (place: Place) => void;
  onPress?: () => void; // Enter or Space on the drawing
  children?: ComponentChildren; // drawn above the body, below the chestpiece
}

export function viewBoxOf(body: Body, aspect: Aspect): { x: number; y: number; width: number; height: number } {
  const n = frontUnit(body), b = body.halfBreadthCm, d = body.depthCm / 2;
  switch (aspect) {
    case 'front':
      return { x: -b * 1.78, y: -n * 0.62, width: b * 3.56, height: n * 2.5 };
    case 'back':
      return { x: -b * 1.78, y: -backUnit(body) * 0.34, width: b * 3.56, height: backUnit(body) * 1.55 };
    case 'neck':
      return { x: -b * 1.0, y: -n * 0.88, width: b * 2.0, height: n * 1.18 };
    default: {
      const width = Math.max(d * 4.0, n * 2.0);
      return { x: -width / 2, y: -n * 0.6, width, height: n * 2.46 };
    }
  }
}

export function Torso({ body, aspect }: { body: Body; aspect: Aspect }) {
  switch (aspect) {
    case 'front':
      return <Front body={body} />;
    case 'back':
      return <Back body={body} />;
    case 'neck':
      return <Neck body={body} />;
    default:
      return <SideView body={body} side={aspect === 'right_side' ? 'right' : 'left'} />;
  }
}

export const pieceRadiusCm = (body: Body, isBell: boolean): number =>
  (isBell ? 1.6 : 2.2) * Math.min(1, Math.max(0.62, body.halfBreadthCm / 13));

function Chestpiece(
  { body, place, isPressed, isBell }: { body: Body; place: Place; isPressed: boolean; isBell: boolean },
) {
  const { x, y } = toPoint(body, place);
  const r = pieceRadiusCm(body, isBell);
  return (
    <g class={isPressed ? 'piece' : 'piece lifted'} transform={`translate(${x.toFixed(2)} ${y.toFixed(2)})`} data-piece>
      <circle class="rim" r={r} />
      {isBell
        ? <circle class="bell" r={r * 0.55} />
        : <path class="bell" d={`M${-r * 0.5} 0h${r}M0 ${-r * 0.5}v${r}`} />}
      <path class="breath" data-breath d="" data-radius={r + 0.75} />
      <circle class="hold" r={r + 1.6} />
    </g>
  );
}

const steps: Record<string, [number, number]> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

export function ChestView(props: ChestViewProps) {
  const { body, aspect, place } = props;
  const svg = useRef<SVGSVGElement>(null);
  const box = viewBoxOf(body, aspect);

  const placeAt = (event: PointerEvent): Place => {
    const matrix = svg.current!.getScreenCTM()!.inverse();
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    return onSkin(toPlace(body, aspect, point));
  };
  const onPointerDown = (event: PointerEvent) => {
    if (event.button !== 0) return;
    svg.current!.setPointerCapture(event.pointerId);
    props.onMove(placeAt(event));
  };
  const onPointerMove = (event: PointerEvent) => {
    if (svg.current!.hasPointerCapture(event.pointerId)) props.onMove(placeAt(event));
  };
  const onKeyDown = (event: KeyboardEvent) => {
    const step = steps[event.key];
    if (step) {
      event.preventDefault();
      const size = event.shiftKey ? 0.4 : 1.6; // cm
      const from = toPoint(body, place && place.aspect === aspect ? place : { aspect, u: 0, v: 0.5 });
      props.onMove(onSkin(toPlace(body, aspect, { x: from.x + step[0] * size, y: from.y + step[1] * size })));
    } else if ((event.key === 'Enter' || event.key === ' ') && props.onPress) {
      event.preventDefault();
      props.onPress();
    }
  };

  const words = place && place.aspect === aspect
    ? `Chestpiece ${props.isPressed ? 'on' : 'above'}: ${inWords(place)}.`
    : 'Chestpiece not on this side.';
  return (
    <div class="chest">
      <svg ref={svg} viewBox={`${box.x} ${box.y} ${box.width} ${box.height}`} tabIndex={0} role="application"
        aria-roledescription="chest drawing"
        aria-label={`Chest, ${
          aspectName[aspect]
        }. ${words} Arrow keys move the chestpiece, Space puts it on or lifts it.`} aria-describedby={props.describedBy}
        data-aspect={aspect} onPointerDown={onPointerDown} onPointerMove={onPointerMove} onKeyDown={onKeyDown}
      >
        <Torso body={body} aspect={aspect} />
        {props.isClothed && <Clothing body={body} aspect={aspect} />}
        {props.children}
        {props.sites.filter((site) => site.aspect === aspect).map((site) => {
          const { x, y } = toPoint(body, site);
          const kind = props.markedSites.has(site.id)
            ? 'site marked'
            : props.heardSites.has(site.id)
            ? 'site heard'
            : 'site';
          return <circle class={kind} cx={x} cy={y} r={0.045 * body.halfBreadthCm} key={site.id} />;
        })}
        {place && place.aspect === aspect && (
          <Chestpiece body={body} place={place} isPressed={props.isPressed} isBell={props.isBell} />
        )}
      </svg>
    </div>
  );
}
