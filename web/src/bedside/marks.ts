// What the learner marked, place by place, and the reports that the log makes of it.
import type { Basis, Deed, Presence, Side } from '../generated/bedside';

export interface Mark {
  finding_id: string;
  presence: Presence;
  basis: Basis;
  side: Side;
  site_id: string; // empty when not at a site
  t_s: number;
  words: string; // where, in words
}

// Marks of one finding on one side as one: found anywhere on a side is present there.
export function joined(same: readonly Mark[]): { presence: Presence; sites: string[] } {
  const present = same.filter((mark) => mark.presence === 'present');
  const counting = present.length > 0 ? present : same;
  return { presence: counting[0]?.presence ?? 'unknown',
    sites: [...new Set(counting.map((mark) => mark.site_id).filter(Boolean))] };
}

// The fields of a `report`: the last word on this finding and side.
export function reportOf(marks: readonly Mark[], findingId: string, side: Side,
  basis: Basis): Extract<Deed, { do: 'report' }>
{
  const { presence, sites } = joined(marks.filter((mark) => mark.finding_id === findingId && mark.side === side));
  return { do: 'report', finding: findingId, presence, basis, ...(side !== 'midline' ? { side } : {}),
    ...(sites.length > 0 ? { sites } : {}) };
}
