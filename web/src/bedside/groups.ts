// Which findings belong to which hand, by how they are found (data/findings.toml).
import type { FindingKind } from './types';

const fromAfar = new Set(['muffled_voice', 'hoarse_voice', 'barking_cough']);
const workedOut = (id: string) => id.endsWith('_one_sided'); // from the sides of other findings, never by hand

export const heardAtChest = (kinds: readonly FindingKind[]) =>
  kinds.filter((kind) => kind.found_by === 'heard' && !fromAfar.has(kind.id) && !workedOut(kind.id));
export const seenFelt = (kinds: readonly FindingKind[]) =>
  kinds.filter((kind) => kind.found_by === 'seen' || kind.found_by === 'felt');
export const percussed = (kinds: readonly FindingKind[]) => kinds.filter((kind) => kind.found_by === 'percussed');
export const askedFor = (kinds: readonly FindingKind[]) =>
  kinds.filter((kind) => kind.found_by === 'asked' || fromAfar.has(kind.id));
