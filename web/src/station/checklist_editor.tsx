// The checklist as it will be marked: words, points and what is critical can be changed, items left out,
// and items added that only an examiner can see.
import { useEffect, useState } from 'preact/hooks';
import { loadVocabulary, type Vocabulary } from '../bedside/patients';
import type { Checklist, ChecklistItem } from '../class/types';
import { vitals } from '../generated/bedside';
import { newId } from '../lib/new_id';

// What the log is searched for, in words (docs/formats/checklist.md).
export function ruleInWords(item: ChecklistItem, words: Vocabulary | null): string {
  const label = (id: string): string => {
    const site = words?.sites.find((one) => one.id === id);
    if (site) return `${site.name} (${id})`;
    return words?.kinds.find((one) => one.id === id)?.label ?? words?.treatments.find((one) => one.id === id)?.label ??
      vitals.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  };
  const list = (key: string) => ((item[key] as string[] | undefined) ?? []).map(label).join(', ');
  const within = item['within_s'] ? `, within ${Number(item['within_s'])} s` : '';
  switch (item.rule) {
    case 'examiner':
      return 'marked by the examiner on the tablet';
    case 'listened_at':
      return `from the log: listened at ${list('sites')}, ${Number(item['least_s'] ?? 4)} s each`;
    case 'listened_pairs':
      return `from the log: ${Number(item['count'] ?? 1)} places, right and left`;
    case 'compared_sides':
      return `from the log: straight from one side to the other, at ${Number(item['count'] ?? 1)} places`;
    case 'exposed_first':
      return 'from the log: no listening through clothing';
    case 'deep_breaths':
      return 'from the log: asked for deep breaths';
    case 'reported':
      return `from the log: reported ${list('findings')}${list('sides') && `, ${list('sides')}`}${within}`;
    case 'not_reported':
      return `from the log: did not report ${list('findings')}`;
    case 'named_what_is_there':
      return 'from the replay: named the added sounds that could be heard where the chestpiece lay';
    case 'measured':
      return `from the log: took ${list('vitals')}${within}`;
    case 'examined':
      return `from the log: looked, felt, tapped or asked for ${list('findings')}`;
    case 'treated':
      return `from the log: gave ${list('treatments')}${within}`;
    case 'reassessed':
      return `from the log: listened again after ${list('treatments')}`;
    case 'no_harm':
      return `from the log: did not give ${list('treatments')}`;
    case 'positioned':
      return `from the log: brought to ${list('postures')}`;
    case 'ranked':
      return `from the log: ${list('conditions')} among the first ${Number(item['count'] ?? 1)} named`;
    case 'finished':
      return `from the log: said when finished${within}`;
    default:
      return item.rule;
  }
}

export function ChecklistEditor(
  { checklist, isDraft, onChange }: { checklist: Checklist; isDraft: boolean; onChange: (made: Checklist) => void },
) {
  const [fresh, setFresh] = useState('');
  const [words, setWords] = useState<Vocabulary | null>(null);
  useEffect(() => {
    loadVocabulary().then(setWords, () => {/* ids, then */});
  }, []);
  const set = (items: ChecklistItem[]) => onChange({ ...checklist, items });
  const edit = (id: string, part: Partial<ChecklistItem>) =>
    set(checklist.items.map((one) => (one.id === id ? { ...one, ...part } : one)));
  const add = () => {
    if (!fresh.trim()) return;
    set([...checklist.items, { id: `x_${newId().slice(0, 8)}`, text: fresh.trim(), rule: 'examiner', points: 2 }]);
    setFresh('');
  };
  return (
    <div class="stack">
      <ol class="plain-list">
        {checklist.items.map((item) => {
          const isFixed = !isDraft;
          return (
            <li class="item">
              <div>
                <input type="text" class="name-field" aria-label="Item" maxLength={200} disabled={isFixed}
                  value={item.text} onInput={(event) => edit(item.id, { text: event.currentTarget.value })} />
                <p class="small soft">{ruleInWords(item, words)}</p>
              </div>
              <div class="row item-hold">
                <label class="check small">
                  Points<input type="number" class="tiny" min="0" max="20" step="0.5" disabled={isFixed}
                    value={item.points ?? 1}
                    onInput={(event) => edit(item.id, { points: Number(event.currentTarget.value) })} />
                </label>
                <label class="check small">
                  <input type="checkbox" disabled={isFixed} checked={item.critical ?? false}
                    onChange={(event) => edit(item.id, { critical: event.currentTarget.checked })} />Critical
                </label>
                <button disabled={isFixed} aria-label={`Leave out: ${item.text}`}
                  onClick={() => set(checklist.items.filter((one) => one.id !== item.id))}
                >
                  Leave out
                </button>
              </div>
            </li>
          );
        })}
      </ol>
      <p class="small soft">Missing a critical item fails the station, whatever the points.</p>
      {isDraft && (
        <div class="row">
          <label class="field grow">
            Something only an examiner can see<input type="text" maxLength={200}
              placeholder="for example: explains to the patient what is done" value={fresh} onInput={(event) =>
              setFresh(event.currentTarget.value)} onKeyDown={(event) => {
              if (event.key === 'Enter') {
                event.preventDefault();
                add();
              }
            }} />
          </label>
          <button disabled={!fresh.trim()} onClick={add}>Add item</button>
        </div>
      )}
    </div>
  );
}
