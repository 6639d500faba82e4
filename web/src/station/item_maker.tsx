// Composing an item of a checklist: choose what is asked for, then fill in what that needs. Which rules there are and
// what each needs comes from the server.
import { useState } from 'preact/hooks';
import type { Vocabulary } from '../bedside/patients';
import type { ChecklistItem, ChecklistRule } from '../class/types';
import { newId } from '../lib/new_id';
import type { Condition } from './conditions';
import { itemInWords, namesOf } from './rule_words';

type Values = Record<string, string[] | number>;
const numbers: Record<string, [string, number, number]> = { count: ['How many', 1, 20],
  least_s: ['Seconds at each', 1, 120], within_s: ['Within seconds (0: any time)', 0, 7200],
  share: ['Share of them, %', 1, 100] };
const usual: Values = { count: 2, least_s: 4, within_s: 0, share: 100 };
const titles: Record<string, string> = { sites: 'Places', aspects: 'Sides of the body', findings: 'Findings',
  sides: 'On which side (none: any)', vitals: 'Vital signs', treatments: 'Treatments', postures: 'Positions',
  conditions: 'Impressions', mentions: 'Words of the handover, with commas between' };

export function ItemMaker(
  { rules, words, conditions, onAdd }: { rules: readonly ChecklistRule[]; words: Vocabulary;
    conditions: readonly Condition[]; onAdd: (item: ChecklistItem) => void },
) {
  const [name, setName] = useState('');
  const [values, setValues] = useState<Values>({});
  const [text, setText] = useState('');
  const rule = rules.find((one) => one.name === name);
  const fields = rule?.fields.split(' ').filter(Boolean) ?? [];
  const made: ChecklistItem = { id: `x_${newId().slice(0, 8)}`, text: '', rule: name, points: 2 };
  for (const field of fields) {
    const value = values[field] ?? usual[field] ?? [];
    if (Array.isArray(value) ? value.length > 0 : value !== 0) {
      made[field] = field === 'share' ? Number(value) / 100 : value;
    }
  }
  const suggested = rule ? itemInWords(made, rules, words, conditions) : '';
  made.text = text.trim() || suggested;
  const isReady = rule !== undefined && (rule.needs === '' || Array.isArray(made[rule.needs]))
    && (rule.name !== 'no_harm' || made['treatments'] !== undefined || made['postures'] !== undefined);
  const set = (field: string, value: string[] | number) => setValues({ ...values, [field]: value });
  const add = () => {
    onAdd(made);
    setName('');
    setValues({});
    setText('');
  };
  return (
    <fieldset class="stack item-maker">
      <legend>Add an item</legend>
      <label class="field">
        What is asked for<select value={name} onChange={(event) => {
          setName(event.currentTarget.value);
          setValues({});
          setText('');
        }}>
          <option value="">choose …</option>
          {rules.map((one) => <option value={one.name}>{plainWords(one)}</option>)}
        </select>
      </label>
      {fields.map((field) =>
        numbers[field]
          ? (
            <label class="check">
              {numbers[field][0]}
              <input class="tiny" type="number" min={numbers[field][1]} max={numbers[field][2]}
                value={Number(values[field] ?? usual[field])}
                onInput={(event) => set(field, Number(event.currentTarget.value))} />
            </label>
          )
          : field === 'mentions'
          ? (
            <label class="field">
              {titles[field]}
              <input type="text" maxLength={200} onInput={(event) =>
                set(field, event.currentTarget.value.split(',').map((one) => one.trim()).filter(Boolean))} />
            </label>
          )
          : (
            <Choices key={name + field} title={titles[field] ?? field} options={namesOf(field, words, conditions)}
              chosen={(values[field] as string[] | undefined) ?? []} onChange={(list) => set(field, list)} />
          )
      )}
      {rule && (
        <>
          <label class="field">
            As the learner reads it<input type="text" maxLength={200} placeholder={suggested} value={text}
              onInput={(event) => setText(event.currentTarget.value)} />
          </label>
          <div class="row">
            <button disabled={!isReady} onClick={add}>Add item</button>
            {!isReady && <span class="small soft">Choose at least one of: {titles[rule.needs] ?? 'the lists'}.</span>}
          </div>
        </>
      )}
    </fieldset>
  );
}

function Choices(
  { title, options, chosen, onChange }: { title: string; options: readonly [string, string][];
    chosen: readonly string[]; onChange: (list: string[]) => void },
) {
  return (
    <details open={options.length < 10}>
      <summary>
        {title}
        {chosen.length > 0 && `: ${chosen.map((id) => options.find((one) => one[0] === id)?.[1] ?? id).join(', ')}`}
      </summary>
      <div class="choices">
        {options.map(([id, label]) => (
          <button type="button" aria-pressed={chosen.includes(id)} onClick={() =>
            onChange(chosen.includes(id)
              ? chosen.filter((one) => one !== id)
              : [...chosen, id])}
          >
            {label}
          </button>
        ))}
      </div>
    </details>
  );
}

// A rule as one chooses it: what stands for a choice is left out.
function plainWords(rule: ChecklistRule): string {
  const words = rule.words.replace(/,? ?\{[a-z_]+\}( s each| s)?/g, (found) => (found.includes('count') ? ' some' : ''))
    .replaceAll(/\s+/g, ' ').replace(/[:,]\s*$/, '').replace('of:', '').trim();
  return words[0]!.toUpperCase() + words.slice(1);
}
