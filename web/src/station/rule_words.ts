// An item of a checklist in words: the server says what a rule asks for, and what was chosen is put in.
import type { Vocabulary } from '../bedside/patients';
import type { ChecklistItem, ChecklistRule } from '../class/types';
import { aspectLabel, aspects, postureLabel, postures, sides, vitals } from '../generated/bedside';
import type { Condition } from './conditions';

// Everything that a field may hold, as [id, words].
export function namesOf(field: string, words: Vocabulary | null, conditions: readonly Condition[]): [string, string][] {
  switch (field) {
    case 'sites':
      return (words?.sites ?? []).map((one) => [one.id, `${one.name} (${one.id})`]);
    case 'findings':
      return (words?.kinds ?? []).map((one) => [one.id, one.label]);
    case 'treatments':
      return (words?.treatments ?? []).map((one) => [one.id, one.label]);
    case 'vitals':
      return vitals.map((one) => [one.id, one.label]);
    case 'conditions':
      return conditions.map((one) => [one.id, one.label]);
    case 'aspects':
      return aspects.map((one) => [one, aspectLabel[one]]);
    case 'postures':
      return postures.map((one) => [one, postureLabel[one]]);
    case 'sides':
      return [['affected', 'the affected side'], ['other', 'the healthy side'],
        ...sides.map((one): [string, string] => [one, one])];
    default:
      return [];
  }
}

export function itemInWords(item: ChecklistItem, rules: readonly ChecklistRule[], words: Vocabulary | null,
  conditions: readonly Condition[]): string
{
  const rule = rules.find((one) => one.name === item.rule);
  if (!rule) return item.rule.replaceAll('_', ' ');
  const list = (field: string): string => {
    const names = new Map(namesOf(field, words, conditions));
    const chosen = ((item[field] as string[] | undefined) ?? []).map((id) => names.get(id) ?? id.replaceAll('_', ' '));
    return chosen.join(field === 'sites' || field === 'vitals' || field === 'aspects' ? ', ' : ' or ');
  };
  const filled = rule.words.replace(/\{([a-z_]+)\}/g, (_, field: string) => {
    const value = item[field];
    switch (field) {
      case 'count':
        return String(value ?? 1);
      case 'least_s':
        return String(value ?? 4);
      case 'within_s':
        return value ? `, within ${Number(value)} s` : '';
      case 'sides':
        return list('sides') && `, on ${list('sides')}`;
      case 'mentions':
        return value ? `, among them ${(value as string[]).map((one) => one.split('|')[0]).join(', ')}` : '';
      default:
        return list(field);
    }
  });
  return filled.replace(': ,', ':').trim();
}
