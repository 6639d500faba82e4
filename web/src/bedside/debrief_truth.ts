// What the learner could have heard, from the replayed truth: the same reckoning as
// src/bedside/replay.cc.
import type { HeardEvent, SoundName } from '../engine/protocol';
import { phases, regions, soundLabel } from '../engine/protocol';
import type { Stay } from './log';

// Findings that marking can name, for each sound the body makes.
const findingOf: Partial<Record<SoundName, string>> = {
  wheeze: 'wheeze',
  rhonchus: 'rhonchi',
  stridor: 'stridor',
  squawk: 'squawk',
  fine_crackle: 'fine_crackles',
  coarse_crackle: 'coarse_crackles',
  pleural_friction_rub: 'pleural_friction_rub',
  bronchial: 'bronchial_breathing',
  grunting: 'grunting',
  gurgling: 'gurgling',
};

// The broad family of each: worth half a point there (finding_names in src/teaching/marking/rules.cc).
const familyOf: Partial<Record<SoundName, readonly string[]>> = {
  wheeze: ['rhonchi'],
  rhonchus: ['wheeze'],
  stridor: ['wheeze'],
  squawk: ['wheeze'],
  fine_crackle: ['crackles', 'coarse_crackles'],
  coarse_crackle: ['crackles', 'fine_crackles'],
  pleural_friction_rub: ['crackles', 'coarse_crackles'],
  gurgling: ['rhonchi', 'coarse_crackles'],
};

export const namedSounds: ReadonlySet<string> = new Set([...Object.values(findingOf), 'crackles']);

// An event belongs to the stay that holds its middle; what could not be heard belongs to none.
export function eventsIn(stay: Stay, events: readonly HeardEvent[]): HeardEvent[] {
  return events.filter((event) => {
    const middle = (event.startS + event.endS) / 2;
    return event.isAudible && middle >= stay.fromS && middle < stay.toS;
  });
}

const isBreath = new Set<SoundName>(['normal', 'bronchial', 'tracheal']);
const mean = (
  values: number[],
) => (values.length > 0 ? values.reduce((sum, value) => sum + value, 0) / values.length : null);

export interface PlaceTruth {
  siteId: string;
  seconds: number;
  isThroughCloth: boolean;
  counts: Map<SoundName, number>;
  breathDb: [number | null, number | null];
} // in, out

export function bySite(stays: readonly Stay[], events: readonly HeardEvent[]): PlaceTruth[] {
  const places = new Map<string, PlaceTruth & { levels: [number[], number[]] }>();
  for (const stay of stays) {
    const place = places.get(stay.siteId) ??
      { siteId: stay.siteId, seconds: 0, isThroughCloth: false, counts: new Map<SoundName, number>(),
        breathDb: [null, null], levels: [[], []] };
    places.set(stay.siteId, place);
    place.seconds += stay.toS - stay.fromS;
    place.isThroughCloth ||= stay.isThroughCloth;
    for (const event of eventsIn(stay, events)) {
      place.counts.set(event.sound, (place.counts.get(event.sound) ?? 0) + 1);
      if (isBreath.has(event.sound) && event.phase < 2) place.levels[event.phase as 0 | 1].push(event.aboveDb);
    }
  }
  return [...places.values()].filter((one) => one.seconds > 0.3).map(({ levels, ...one }) => ({
    ...one,
    breathDb: [mean(levels[0]), mean(levels[1])],
  }));
}

export interface SoundTruth {
  findingId: string;
  label: string;
  sites: string[];
  regionWords: string;
  phaseWords: string;
  count: number;
  wasMarked: boolean;
  nearlyIds: readonly string[];
}

// Added sounds by kind: from where, when in the breath, at which places, and whether they were marked; else the
// marks that name only the family.
export function bySound(stays: readonly Stay[], events: readonly HeardEvent[],
  marked: ReadonlySet<string>): SoundTruth[]
{
  const kinds = new Map<SoundName, { event: HeardEvent; siteId: string }[]>();
  for (const stay of stays) {
    for (const event of eventsIn(stay, events)) {
      if (!findingOf[event.sound]) continue;
      kinds.set(event.sound, [...(kinds.get(event.sound) ?? []), { event, siteId: stay.siteId }]);
    }
  }
  const most = (values: number[]) =>
    [...values].sort((a, b) => values.filter((x) => x === b).length - values.filter((x) => x === a).length)[0]!;
  return [...kinds.entries()].map(([sound, list]) => ({
    findingId: findingOf[sound]!,
    label: soundLabel[sound],
    count: list.length,
    wasMarked: marked.has(findingOf[sound]!),
    nearlyIds: marked.has(findingOf[sound]!) ? [] : (familyOf[sound] ?? []).filter((id) => marked.has(id)),
    sites: [...new Set(list.map((one) => one.siteId).filter(Boolean))],
    regionWords: regions[most(list.map((one) => one.event.region))] ?? '',
    phaseWords: phases[most(list.map((one) => one.event.phase))] ?? '',
  }));
}
