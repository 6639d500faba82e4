// A long list of choices in the trade's order: the usual ones at once, the rest behind one step. What is marked stays.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { FindingKind } from './types';

export function useFew(kinds: readonly FindingKind[], isMarked: (kind: FindingKind) => boolean, rest: string): {
  shown: readonly FindingKind[];
  more: ComponentChildren;
} {
  const [isAll, setAll] = useState(false);
  const first = kinds.filter((kind) => kind.first > 0).sort((a, b) => a.first - b.first);
  const behind = kinds.filter((kind) => kind.first === 0);
  const open = isAll ? behind : behind.filter(isMarked);
  return {
    shown: [...first, ...open],
    more: behind.length > 0 && (
      <button class="plain" aria-expanded={isAll} onClick={() => setAll(!isAll)}>
        {isAll ? `Fewer ${rest}` : `More ${rest} (${behind.length - open.length})`}
      </button>
    ),
  };
}
