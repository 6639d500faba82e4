// The checklist as it will be marked: words, points and what is critical can be changed, items left out,
// and items composed without typing code.
import { useEffect, useState } from 'preact/hooks';
import { loadVocabulary, type Vocabulary } from '../bedside/patients';
import type { Checklist, ChecklistItem, ChecklistRule } from '../class/types';
import { getJson } from '../lib/api';
import type { Condition } from './conditions';
import { ItemMaker } from './item_maker';
import { itemInWords } from './rule_words';

export function ChecklistEditor(
  { checklist, rules, isDraft, onChange }: { checklist: Checklist; rules: readonly ChecklistRule[]; isDraft: boolean;
    onChange: (made: Checklist) => void },
) {
  const [words, setWords] = useState<Vocabulary | null>(null);
  const [conditions, setConditions] = useState<Condition[]>([]);
  useEffect(() => {
    loadVocabulary().then(setWords, () => {/* ids, then */});
    getJson<{ conditions: Condition[] }>('conditions').then((answer) => setConditions(answer.conditions),
      () => {/* ids, then */});
  }, []);
  const set = (items: ChecklistItem[]) => onChange({ ...checklist, items });
  const edit = (id: string, part: Partial<ChecklistItem>) =>
    set(checklist.items.map((one) => (one.id === id ? { ...one, ...part } : one)));
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
                <p class="small soft">{itemInWords(item, rules, words, conditions)}</p>
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
      {isDraft && words && (
        <ItemMaker rules={rules} words={words} conditions={conditions} onAdd={(item) =>
          set([...checklist.items, item])} />
      )}
    </div>
  );
}
