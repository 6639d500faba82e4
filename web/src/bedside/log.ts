// The encounter log (docs/formats/encounter.md) as the pages keep it, and what follows from it alone.
import type { Place } from '../chest/geometry';
import { type Site, siteAt } from '../chest/landmarks';
import type { LogEntry } from '../engine/hands';
export type { LogEntry };

export interface LogHeader {
  id: string;
  case_id: string;
  seed: number;
  started_at: string;
}

export function logText(header: LogHeader, log: readonly LogEntry[]): string {
  const first = { phren: 'encounter', version: 1, encounter: header.id, case: header.case_id, seed: String(header.seed),
    started_at: header.started_at };
  return [first, ...log].map((line) => JSON.stringify(line) + '\n').join('');
}

// The chestpiece held in one place, one way; as src/bedside/performance.cc lays it out.
export interface Stay {
  place: Place;
  siteId: string;
  fromS: number;
  toS: number;
  isBell: boolean;
  isThroughCloth: boolean;
}

export function staysOf(log: readonly LogEntry[], sites: readonly Site[], startsBare: boolean, untilS: number): Stay[] {
  const stays: Stay[] = [];
  let open: Stay | null = null;
  let isBell = false, isAllBare = startsBare;
  const bare = new Set<string>();
  const close = (t: number) => {
    if (open && t > open.fromS) stays.push({ ...open, toS: t });
    open = null;
  };
  const begin = (place: Place, t: number) => {
    open = { place, siteId: siteAt(sites, place)?.id ?? '', fromS: t, toS: t, isBell,
      isThroughCloth: !isAllBare && !bare.has(place.aspect) && place.aspect !== 'neck' };
  };
  for (const entry of log) {
    if (entry.do === 'place') {
      close(entry.t);
      begin({ aspect: entry['aspect'] as Place['aspect'], u: Number(entry['u']), v: Number(entry['v']) }, entry.t);
    } else if (entry.do === 'lift') {
      close(entry.t);
    } else if (entry.do === 'head' || entry.do === 'expose' || entry.do === 'cover') {
      const held = (open as Stay | null)?.place;
      close(entry.t);
      if (entry.do === 'head') isBell = entry['head'] === 'bell';
      else if (entry.do === 'cover') {
        isAllBare = false;
        bare.clear();
      } else if (entry['part'] === undefined || entry['part'] === 'all') isAllBare = true;
      else bare.add(String(entry['part']));
      if (held) begin(held, entry.t);
    }
  }
  close(untilS);
  return stays;
}

// Seconds at each place that has a name, or at none; shorter than a glance is left out.
export function secondsBySite(stays: readonly Stay[]): Map<string, number> {
  const sums = new Map<string, number>();
  for (const stay of stays) sums.set(stay.siteId, (sums.get(stay.siteId) ?? 0) + stay.toS - stay.fromS);
  return new Map([...sums].filter(([, seconds]) => seconds > 0.3));
}
