// Where a place is, in the words one uses at a bedside: side, rib space, vertical line, nearest site.
// Rib spaces and lines follow the coordinates of data/sites.toml (ours, +/- 2 cm).
import type { Place } from './geometry';

export interface Site {
  id: string;
  name: string;
  landmark: string;
  side: 'right' | 'left' | 'midline';
  aspect: Place['aspect'];
  u: number;
  v: number;
  mirror_id: string;
}

const frontSpaces: [number, string][] = [
  [-0.05, 'above the clavicle'],
  [0.34, '1st rib space'],
  [0.55, '2nd rib space'],
  [0.74, '3rd rib space'],
  [0.9, '4th rib space'],
  [1.06, '5th rib space'],
  [1.21, '6th rib space'],
  [1.36, '7th rib space'],
  [1.52, '8th rib space'],
  [Infinity, 'below the 8th rib space'],
];

function firstUpTo(table: [number, string][], value: number): string {
  return table.find(([limit]) => value <= limit)![1];
}

function frontLine(u: number): string {
  return firstUpTo([[0.09, 'over the sternum'], [0.3, 'beside the sternum'], [0.46, 'inside the midclavicular line'], [
    0.74,
    'midclavicular line',
  ], [0.92, 'between midclavicular and anterior axillary line'], [Infinity, 'anterior axillary line']], Math.abs(u));
}
function backLine(u: number): string {
  return firstUpTo([[0.1, 'over the spine'], [0.38, 'between spine and shoulder blade'], [0.6, 'scapular line'], [
    Infinity,
    'posterior axillary line',
  ]], Math.abs(u));
}
function sideLine(u: number): string {
  return firstUpTo([[-0.4, 'anterior axillary line'], [0.4, 'mid-axillary line'], [Infinity,
    'posterior axillary line']], u);
}
function vertebra(v: number): string {
  const level = Math.round(v * 12);
  return level <= 0 ? 'level of C7' : level > 12 ? 'below T12' : `level of T${level}`;
}

export function sideWord(place: Place): Site['side'] {
  if (place.aspect === 'right_side') return 'right';
  if (place.aspect === 'left_side') return 'left';
  return Math.abs(place.u) < 0.05 ? 'midline' : place.u < 0 ? 'right' : 'left';
}

export function inWords(place: Place): string {
  const side = sideWord(place);
  switch (place.aspect) {
    case 'front':
      return `${side}, ${firstUpTo(frontSpaces, place.v)}, ${frontLine(place.u)}`;
    case 'back':
      return `${side} back, ${vertebra(place.v)}, ${backLine(place.u)}`;
    case 'neck':
      return `neck, ${side}, ${
        firstUpTo([[-0.42, 'below the jaw'], [-0.22, 'over the larynx'], [-0.05, 'over the trachea'], [Infinity,
          'at the notch above the breastbone']], place.v)
      }`;
    default:
      return `${side} side, ${firstUpTo(frontSpaces, place.v)}, ${sideLine(place.u)}`;
  }
}

// Centimetres per unit of u and v on an average adult, and how far from a site still counts as that
// site: as src/bedside/performance.cc has them, so that page and replay agree.
const perUnitCm: Record<Place['aspect'], [number, number]> = { front: [14, 17], neck: [14, 17], back: [14, 28],
  right_side: [11, 17], left_side: [11, 17] };
const kReachCm = 4.5;

export function siteAt(sites: readonly Site[], place: Place): Site | null {
  let best: Site | null = null, bestCm = kReachCm;
  const [perU, perV] = perUnitCm[place.aspect];
  for (const site of sites) {
    if (site.aspect !== place.aspect) continue;
    const distanceCm = Math.hypot((site.u - place.u) * perU, (site.v - place.v) * perV);
    if (distanceCm <= bestCm) {
      best = site;
      bestCm = distanceCm;
    }
  }
  return best;
}
