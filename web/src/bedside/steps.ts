// One step of the log in words, for the debrief. Numbers that only the machine needs stay out of it.
import type { LogEntry } from './log';

const asked: Record<string, string> = {
  breathe_deeply: 'Asked for deep breaths',
  hold_breath: 'Asked to hold the breath',
  cough: 'Asked for a cough',
  speak: 'Asked to count aloud',
  say_vowel: 'Asked to say “ee”',
  breathe_normally: 'Let the breathing settle',
  forced_breath: 'Asked for one hard breath out',
};
// Vital signs as one says them.
export const vitals: Record<string, string> = {
  respiratory_rate_per_min: 'breathing rate',
  spo2_percent: 'oxygen saturation',
  etco2_mmHg: 'carbon dioxide at the end of the breath',
  heart_rate_per_min: 'pulse',
  systolic_mmHg: 'systolic blood pressure',
  diastolic_mmHg: 'diastolic blood pressure',
  temperature_C: 'temperature',
};
const looked: Record<string, string> = { look: 'Looked for', feel: 'Felt for', percuss: 'Percussed for',
  ask: 'Asked about' };
const said = (value: unknown) => String(value ?? '').replaceAll('_', ' ');

// `nameOf` gives a finding's label, `placeOf` the site at a place of the skin in words, `siteOf` a site's name.
export function stepInWords(entry: LogEntry, nameOf: (id: string) => string, placeOf: (entry: LogEntry) => string,
  siteOf: (id: string) => string): string
{
  const finding = nameOf(String(entry['finding'] ?? ''));
  const sites = (entry['sites'] as readonly string[] | undefined) ?? [];
  const at = sites.length > 0
    ? ` at the ${sites.map(siteOf).join(' and the ')}`
    : entry['side']
    ? `, ${said(entry['side'])}`
    : '';
  switch (entry.do) {
    case 'place':
      return `Chestpiece on the ${placeOf(entry)}`;
    case 'lift':
      return 'Chestpiece lifted';
    case 'head':
      return `Turned to the ${said(entry['head'])}`;
    case 'expose':
      return 'Opened the clothing';
    case 'cover':
      return 'Closed the clothing';
    case 'tap':
      return `Percussed the ${placeOf(entry)}`;
    case 'examine':
      return `${looked[String(entry['how'])] ?? 'Looked for'} ${finding}`;
    case 'report':
      return entry['presence'] === 'unknown'
        ? `Took back: ${finding}${at}`
        : `Found ${entry['presence'] === 'absent' ? 'no ' : ''}${finding}${at}`;
    case 'measure':
      return `Measured the ${vitals[String(entry['vital'])] ?? said(entry['vital'])}${
        entry['value'] !== undefined ? `: ${String(entry['value'])}` : ''
      }`;
    case 'instruct':
      return asked[String(entry['manoeuvre'])] ?? `Asked: ${said(entry['manoeuvre'])}`;
    case 'posture':
      return `Patient ${said(entry['posture'])}`;
    case 'treat':
      return `Began: ${said(entry['treatment'])}${entry['side'] ? `, ${said(entry['side'])}` : ''}`;
    case 'stop':
      return `Stopped: ${said(entry['treatment'])}`;
    case 'rank':
      return `Thought most likely: ${
        ((entry['conditions'] as readonly string[] | undefined) ?? []).map(said).join(', then ') || 'nothing any more'
      }`;
    case 'say':
      return `Said: “${String(entry['text'] ?? '')}”`;
    case 'end':
      return 'Ended';
    default:
      return said(entry.do);
  }
}
