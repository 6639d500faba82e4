// One step of the log in words, for the debrief. Numbers that only the machine needs stay out of it.
type Entry = Record<string, unknown>;

const asked: Record<string, string> = {
  deep_breath: 'Asked for deep breaths', hold: 'Asked to hold the breath', cough: 'Asked for a cough', speak: 'Asked to count aloud',
  vowel: 'Asked to say “ee”', normal: 'Let the breathing settle',
};
const said = (value: unknown) => String(value ?? '').replaceAll('_', ' ');

// `nameOf` gives a finding's label, `placeOf` a site's name.
export function stepInWords(entry: Entry, nameOf: (id: string) => string, placeOf: (id: string) => string): string {
  const finding = nameOf(said(entry['finding']).replaceAll(' ', '_'));
  const at = entry['site'] ? ` at the ${placeOf(String(entry['site']))}` : '';
  const side = entry['side'] && entry['side'] !== 'midline' ? `, ${said(entry['side'])}` : '';
  switch (entry['do']) {
    case 'place': return `Chestpiece ${entry['site'] ? `on the ${placeOf(String(entry['site']))}` : `on the ${said(entry['aspect'])}`}`;
    case 'lift': return 'Chestpiece lifted';
    case 'bell': return 'Turned to the bell';
    case 'diaphragm': return 'Turned to the diaphragm';
    case 'expose': return 'Took the clothing off the chest';
    case 'percuss': return `Percussed${at || ` the ${said(entry['aspect'])}`}`;
    case 'examine': return `Looked for ${finding}: ${entry['answer'] === true ? 'it is there' : 'it is not there'}`;
    case 'mark': return `Marked ${finding} ${entry['presence'] === 'absent' ? 'not there' : 'there'}${at}${at ? '' : side}`;
    case 'unmark': return `Took back the mark ${finding}${at}`;
    case 'attach': return `Put on the ${said(entry['device'])}`;
    case 'count': return 'Counted the breaths';
    case 'ask': return asked[String(entry['what'])] ?? `Asked: ${said(entry['what'])}`;
    case 'treat': return `Began: ${said(entry['treatment'])}${side}`;
    case 'stop': return `Stopped: ${said(entry['treatment'])}${side}`;
    case 'weigh': return `Weighed the findings${entry['first'] ? `; ${said(entry['first'])} came first` : ''}`;
    case 'wait': return `Waited ${said(entry['seconds'])} s`;
    case 'end': return 'Ended';
    default: return said(entry['do']);
  }
}
