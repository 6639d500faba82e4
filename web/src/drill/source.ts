// Fetches plays from the server and makes them ready for ear and eye.
import type { Span } from '../bench/picture';
import { decode } from '../bench/recording';
import { plainSounds } from '../generated/bedside';
import { getBytes, getJson, postJson } from '../lib/api';
import type { Answered, Confusion, DrillSound, Item, Mode, Skill, TruthEvent } from './types';

export interface Play {
  item: Item;
  sounds: readonly DrillSound[];
}
export interface Standing {
  skills: Skill[];
  confusion: Confusion;
}

const pathOf = (url: string): string => url.replace(/^\/?api\/v1\//, '');

export type Schedule = 'blocked_then_mixed' | 'mixed' | 'blocked';

async function soundOf(url: string, label: string, truth: readonly Span[]): Promise<DrillSound> {
  const blob = new Blob([await getBytes(pathOf(url))], { type: 'audio/wav' });
  return { label, recording: await decode(blob, label ? `sound ${label}` : 'the sound'), truth };
}

export async function nextPlay(mode: Mode, schedule: Schedule): Promise<Play> {
  const item = await postJson<Item>('drill/next', { mode, schedule });
  return { item, sounds: await Promise.all(item.sounds.map((url, i) => soundOf(url, item.sound_labels[i] ?? '', []))) };
}

// The sounds that a wrong answer named, with the labels of those that were asked where there are as many.
export async function namedSounds({ item }: Play, { named }: Answered): Promise<DrillSound[]> {
  if (!named) return [];
  const isLikeAsked = named.sounds.length > 1;
  return Promise.all(
    named.sounds.map((url, i) =>
      soundOf(url, `your answer: ${named.label}${isLikeAsked ? `, ${item.sound_labels[i] ?? ''}` : ''}`,
        spansOf(named.truth_events[i] ?? []))
    ),
  );
}

export const sendAnswer = (item: Item, answered: string, seconds: number): Promise<Answered> =>
  postJson<Answered>('drill/answers', { item_id: item.item_id, answered, seconds });

// The truth as marks on the picture. Notes sounding together are one frame, and each kind carries its
// word once, or frames and words would cover each other.
export function spansOf(events: readonly TruthEvent[]): Span[] {
  const spans: Span[] = [];
  const worded = new Set<string>();
  for (const one of [...events].sort((a, b) => a.start_s - b.start_s)) {
    if (!one.audible || plainSounds.has(one.sound)) continue;
    const kind = one.sound.replaceAll('_', ' ');
    const pitch = one.pitch_hz > 0 ? { lowHz: Math.max(0, one.pitch_hz - 40), highHz: one.pitch_hz + 40 } : {};
    const open = pitch.lowHz === undefined
      ? undefined
      : spans.find((span) => span.kind === kind && span.lowHz !== undefined && span.endS > one.start_s);
    if (open && pitch.lowHz !== undefined) {
      open.endS = Math.max(open.endS, one.end_s);
      open.lowHz = Math.min(open.lowHz!, pitch.lowHz);
      open.highHz = Math.max(open.highHz!, pitch.highHz);
      continue;
    }
    spans.push({ kind, startS: one.start_s, endS: one.end_s, isQuiet: worded.has(kind), ...pitch });
    worded.add(kind);
  }
  return spans;
}

export async function loadStanding(): Promise<Standing> {
  const me = await getJson<Standing>('me');
  return { skills: me.skills, confusion: me.confusion };
}

const reasons: Record<string, string> = {
  new: 'A kind that is new to you, a few times in a row.',
  'side by side with what it was taken for': 'Beside the one you took it for.',
  'about to be forgotten': 'You may be about to forget this one.',
  'often mistaken': 'One that you mix up.',
  review: 'A look back.',
};
export const reasonInWords = (reason: string): string => reasons[reason] ?? '';
