// Where a place is, as the bedside's module tells it: nearest site, side, words.
import { ask } from '../engine/ask';
import type { PlaceAnswer, Side } from '../generated/bedside';
import type { Place } from './geometry';

export interface Site {
  id: string;
  name: string;
  landmark: string;
  side: Side;
  aspect: Place['aspect'];
  u: number;
  v: number;
  mirror_id: string;
}

export const placeAnswer = ({ aspect, u, v }: Place): PlaceAnswer | null => ask('place', { aspect, u, v });
export const inWords = (place: Place): string => placeAnswer(place)?.words ?? '';
export function siteAt(sites: readonly Site[], place: Place): Site | null {
  const id = placeAnswer(place)?.site_id;
  return sites.find((site) => site.id === id) ?? null;
}
