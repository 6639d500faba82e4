// What else reaches the chestpiece: taken away one after another, and back, while it sounds.
import type { Encounter } from '../bedside/session';
import { layerGroups as groups } from '../generated/bedside';

export function Layers({ encounter }: { encounter: Encounter }) {
  const standing = encounter.standing.value;
  if (!standing || standing.realness === 'clean') {
    return (
      <p class="soft small">
        This chest is clean. Choose “as on a patient” under Listen to hear what else reaches a chestpiece.
      </p>
    );
  }
  const isOut = (group: (typeof groups)[number]) => group.layers.every((one) => standing.without.includes(one));
  const set = (group: (typeof groups)[number], isIn: boolean) => {
    const others = standing.without.filter((one) => !(group.layers as readonly string[]).includes(one));
    encounter.listen({ without: isIn ? others : [...others, ...group.layers] });
  };
  const taken = groups.filter(isOut);
  const next = groups.find((group) => !isOut(group));
  return (
    <section class="stack" aria-label="What else is heard">
      <h2>What else is heard</h2>
      {groups.map((group) => (
        <label class="row">
          <input type="checkbox" checked={!isOut(group)}
            onChange={(event) => set(group, event.currentTarget.checked)} />
          {' ' + group.words}
        </label>
      ))}
      <div class="row">
        <button disabled={!next} onClick={() => next && set(next, false)}>Take the next one away</button>
        <button disabled={taken.length === 0} onClick={() => encounter.listen({ without: [] })}>Put all back</button>
      </div>
      <p class="caption" role="status">{taken.length > 0 && `What is gone was ${taken[taken.length - 1]!.words}.`}</p>
    </section>
  );
}
