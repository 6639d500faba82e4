// The ability test as the server gives it (docs/formats/class-api.md), and what it says in words.
import { decode } from '../bench/recording';
import type { Estimate } from '../class/types';
import { getBytes, postJson } from '../lib/api';
import type { Choice, DrillSound, Mode } from './types';

export interface AbilityRow {
  id: string;
  started_ms: number;
  has_ended: boolean;
  end_reason: '' | 'precise' | 'most_items' | 'nothing_left' | 'stopped' | 'given_up';
  answered: number;
  answered_of_measured: number;
  right: number | null;
  ability: Estimate | null;
  share: Estimate | null;
  bank: { kinds: number; measured: number; learners: number; answers: number };
}
export interface AbilityItem {
  item_id: string;
  mode: Mode;
  question: string;
  sounds: string[];
  sound_labels: string[];
  has_one_gain: boolean;
  choices: Choice[];
}
export interface AbilityTest extends AbilityRow {
  most_items: number;
  target_se: number;
  item: AbilityItem | null;
}

export const begin = (): Promise<AbilityTest> => postJson<AbilityTest>('ability-tests', {});
export const answer = (test: AbilityTest, answered: string): Promise<AbilityTest> =>
  postJson<AbilityTest>(`ability-tests/${test.id}/answers`, { item_id: test.item!.item_id, answered });
export const endNow = (test: AbilityTest): Promise<AbilityTest> =>
  postJson<AbilityTest>(`ability-tests/${test.id}/stop`, {});

export async function soundsOf(item: AbilityItem): Promise<DrillSound[]> {
  return Promise.all(item.sounds.map(async (url, i) => {
    const label = item.sound_labels[i] ?? '';
    const bytes = await getBytes(url.replace(/^\/?api\/v1\//, ''));
    return { label,
      recording: await decode(new Blob([bytes], { type: 'audio/wav' }), label ? `sound ${label}` : 'the sound'),
      truth: [] };
  }));
}

const logit = (value: number): string => value.toFixed(1).replace('-', '−').replace(/^−(0\.0)$/, '$1');
const of100 = (value: number): number => Math.round(100 * value);

// One sentence: the number, how sure it is, and what it means.
export function abilityInWords({ ability, share }: AbilityRow, whose: 'Your' | 'The'): string {
  if (!ability || ability.value === null || !share || share.value === null) {
    return 'Nothing was answered, so nothing is known.';
  }
  return `${whose} ability is ${logit(ability.value)} and most likely (95 %) between ${logit(ability.low!)} and ${
    logit(ability.high!)
  }: of 100 questions of all kinds alike about ${of100(share.value)} right, likely between ${of100(share.low!)} and ${
    of100(share.high!)
  }.`;
}

export function endInWords(row: AbilityRow): string {
  const after = `after ${row.answered} question${row.answered === 1 ? '' : 's'}`;
  switch (row.end_reason) {
    case 'precise':
      return `Stopped by itself ${after}: the ability was known closely enough (standard error at most 0.3).`;
    case 'most_items':
      return `Stopped at the most questions, ${row.answered}, before the ability was known closely (standard error ${
        row.ability?.se?.toFixed(2) ?? 'unknown'
      }, wanted 0.3).`;
    case 'nothing_left':
      return `Stopped ${after}: no question left would have told more.`;
    case 'stopped':
      return `Ended early, ${after}: the shorter a test, the wider the interval.`;
    case 'given_up':
      return `Left ${after} and not taken up again within a day.`;
    case '':
      return `Under way, ${row.answered} answered; the result comes at the end.`;
  }
}

// Where the difficulties come from; a number that rests on assumptions says so.
export function difficultiesInWords({ bank, answered, answered_of_measured }: AbilityRow): string {
  if (bank.measured === 0) {
    return `How hard each question is was assumed, not measured: a class has not yet answered enough of ` +
      `them (5 learners and 15 answers to a kind). All ${bank.kinds} kinds count as equally hard, with ` +
      `the doubt this leaves within the interval; 0 on the scale is a person to whom such a question ` +
      `is neither easy nor hard.`;
  }
  const measured = `How hard a question is was measured for ${bank.measured} of ${bank.kinds} kinds, from ` +
    `${bank.answers} answers of ${bank.learners} learners of the class; 0 on the scale is the middle ` +
    `of these learners.`;
  const assumed = answered - answered_of_measured;
  return assumed === 0
    ? measured
    : `${measured} For ${assumed} of the ${answered} questions answered here it was assumed instead, ` +
      `and they count for less.`;
}
