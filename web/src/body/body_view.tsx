// The patient one listens at: a body that can be turned, the chestpiece on its skin, and every way to move
// it. By finger or mouse: tap or drag on the chest moves the chestpiece, a drag beside it turns the patient,
// two fingers turn and come closer. By keys: arrows (with Shift in small steps), comma and full stop turn.
// Until the body is there, and where there is no WebGL, the line drawing stands in its place.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { aspectName, type Body, type Place } from '../chest/geometry';
import { inWords, type Site } from '../chest/landmarks';
import { type Aspect, aspectLabel, aspects, type BodyPart, bodyPartLabel } from '../generated/bedside';
import { size, theme } from '../lib/settings';
import { Actor } from './actor';
import { type Figure, loadFigure } from './module';
import { type Layer, Stage } from './stage';
import { sideSeen, yawOf } from './turning';

export interface Live {
  seen: Float64Array; // what the engine tells the figure (src/acoustics/figure/seen.h)
  volume: number; // L in the lungs
}
export interface BodyViewProps {
  body: Body;
  tone: number;
  place: Place | null;
  isPressed: boolean;
  isBell: boolean;
  lying: number; // 0 upright .. 1 flat
  isClothed: boolean;
  mayLookThrough: boolean; // ribs and lungs may be shown
  sites: readonly Pick<Site, 'id' | keyof Place>[]; // rings on the skin
  markedSites: ReadonlySet<string>;
  heardSites: ReadonlySet<string>;
  live: () => Live | null;
  mayLoad: boolean; // the sound goes first
  onMove: (place: Place) => void;
  onPress?: () => void;
  look?: { part: BodyPart | null; onPart: (part: BodyPart) => void }; // a tap points at a part of the body
  children: ComponentChildren; // the line drawing
}

const layers = ['skin', 'ribs', 'lungs'] as const;
const layerWord = { skin: 'Skin', ribs: 'Ribs', lungs: 'Lungs' };
// As one turns the body: right, front, left, back.
const sides = aspects.filter((one) => one !== 'neck').sort((a, b) => yawOf[a] - yawOf[b]);
const sideWord = (side: Aspect) => aspectLabel[side].charAt(0).toUpperCase() + aspectLabel[side].slice(1).split(' ')[0];

export function BodyView(props: BodyViewProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const actor = useRef<Actor | null>(null);
  const [figure, setFigure] = useState<Figure | null>(null);
  const [isLineOnly, setLineOnly] = useState(false);
  const [side, setSide] = useState<(typeof sides)[number]>('front');
  const [turn, setTurn] = useState(0);
  const [chosen, setLayer] = useState<Layer>('skin');
  const layer = props.mayLookThrough ? chosen : 'skin';
  const latest = useRef({ ...props, layer });
  latest.current = { ...props, layer };

  useEffect(() => {
    if (!props.mayLoad || figure || isLineOnly) return;
    let isHere = true;
    loadFigure().then((loaded) => isHere && setFigure(loaded), () => isHere && setLineOnly(true));
    return () => {
      isHere = false;
    };
  }, [props.mayLoad]);
  useEffect(() => {
    if (!figure) return;
    try {
      figure.make(props.body);
      actor.current ??= new Actor(canvas.current!, new Stage(canvas.current!), figure, () => latest.current, (yaw) => {
        setSide(sideSeen(yaw));
        setTurn(Math.round(yaw * 180 / Math.PI));
      }, () => setLineOnly(true));
      actor.current.newBody();
    } catch {
      setLineOnly(true);
    }
  }, [figure, props.body]);
  useEffect(() => () => {
    actor.current?.close();
    actor.current = null;
  }, []);
  useEffect(() => actor.current?.wake(), [props.place, props.isPressed, props.isBell, props.markedSites,
    props.heardSites, layer, props.lying, props.isClothed, theme.value, props.tone, size.value]);
  const isLooking = props.look !== undefined, part = props.look?.part ?? null;
  const hasLooked = useRef(false);
  useEffect(() => {
    if (isLooking || hasLooked.current) actor.current?.lookCloser(part);
    hasLooked.current = isLooking;
  }, [isLooking, part]);
  useEffect(() => actor.current?.face(props.place), [props.place?.aspect, props.place?.u, props.place?.v]);

  if (isLineOnly) return <>{props.children}</>;
  const isThere = figure !== null;
  const { place } = props;
  const words = place ? `Chestpiece ${props.isPressed ? 'on' : 'above'}: ${inWords(place)}.` : '';
  const isAt = isLooking
    ? `Looking at: ${part ? bodyPartLabel[part] : 'the whole patient'}. Comma and full stop turn the patient.`
    : `${words} Arrow keys move the chestpiece, comma and full stop turn the patient, ` +
      'Space puts the chestpiece on or lifts it.';
  return (
    <div class="body">
      {!isThere && props.children}
      <div class="body-stage" hidden={!isThere}>
        <canvas ref={canvas} tabIndex={0} role="application" aria-roledescription="patient"
          aria-label={`Patient, seen from the ${aspectName[side]}. ${isAt}`} data-side={side}
          data-place={place ? `${place.aspect} ${place.u.toFixed(2)} ${place.v.toFixed(2)}` : ''} />
        {props.mayLookThrough && (
          <div class="layers" role="group" aria-label="Look at">
            {layers.map((one) => (
              <button aria-pressed={one === layer} onClick={() => setLayer(one)}>{layerWord[one]}</button>
            ))}
          </div>
        )}
      </div>
      {isThere && (
        <div class="turn">
          <div class="turn-sides" role="group" aria-label="Seen from">
            {sides.map((one) => (
              <button aria-pressed={one === side} onClick={() => actor.current?.turnTo(yawOf[one])}>
                {sideWord(one)}
              </button>
            ))}
          </div>
          <input type="range" class="turn-dial" min={-180} max={180} step={5} value={((turn + 540) % 360) - 180}
            aria-label="Turn the patient" aria-valuetext={aspectName[side]} onInput={(event) =>
            actor.current?.setYaw(Number(event.currentTarget.value) * Math.PI / 180)} />
          <button class="turn-zoom" aria-label="Closer or whole" onClick={() => actor.current?.toggleZoom()}>
            <svg viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">
              <circle cx="8.5" cy="8.5" r="5.5" />
              <path d="M12.7 12.7 17 17M6 8.5h5M8.5 6v5" />
            </svg>
          </button>
        </div>
      )}
    </div>
  );
}
