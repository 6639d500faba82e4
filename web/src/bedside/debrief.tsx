// The whole encounter on a timeline, beside what was truly there to hear.
import { soundLabel, regions, phases, type HeardEvent } from '../engine/protocol';
import { clock, MarkList } from './marking';
import type { Encounter, HeardAt } from './session';
import { stepInWords } from './steps';

// Findings that marking can name, for each sound the body makes.
const findingOf: Partial<Record<HeardEvent['sound'], string>> = {
  wheeze: 'wheeze', rhonchus: 'rhonchi', stridor: 'stridor', squawk: 'squawk', fine_crackle: 'fine_crackles', coarse_crackle: 'coarse_crackles',
  pleural_friction_rub: 'pleural_friction_rub', bronchial: 'bronchial_breathing', grunting: 'grunting', gurgling: 'gurgling',
};

export interface SoundTruth { finding_id: string; label: string; sites: string[]; regionWords: string; phaseWords: string; count: number; wasMarked: boolean }

// Sounds that were audible under the chestpiece while it was there, grouped by kind.
export function truthOf(events: readonly HeardEvent[], heard: readonly HeardAt[], marked: ReadonlySet<string>): SoundTruth[] {
  const kinds = new Map<string, HeardEvent[]>();
  for (const event of events) {
    if (!event.isAudible || !findingOf[event.sound]) continue;
    kinds.set(event.sound, [...(kinds.get(event.sound) ?? []), event]);
  }
  return [...kinds.entries()].map(([sound, list]) => {
    const most = <T,>(values: T[]): T => [...values].sort((a, b) => values.filter((x) => x === b).length - values.filter((x) => x === a).length)[0]!;
    const sites = [...new Set(list.map((event) => heard.find((one) => event.startS >= one.fromS - 0.2 && event.startS <= one.toS)?.site_id ?? '').filter(Boolean))];
    const id = findingOf[sound as HeardEvent['sound']]!;
    return {
      finding_id: id, label: soundLabel[sound as HeardEvent['sound']], sites, count: list.length, wasMarked: marked.has(id),
      regionWords: regions[most(list.map((event) => event.region))] ?? '', phaseWords: phases[most(list.map((event) => event.phase))] ?? '',
    };
  });
}

export interface BreathLevel { words: string; side: string; aboveDb: number }

// How far the breath sound stood above the noise at each place, so that a quiet side shows.
export function breathLevels(events: readonly HeardEvent[], heard: readonly HeardAt[], nameOf: (id: string) => string, sideOf: (id: string) => string): BreathLevel[] {
  const places = new Map<string, number[]>();
  for (const event of events) {
    if (event.sound !== 'normal' || event.phase !== 0) continue;
    const at = heard.find((one) => event.startS >= one.fromS && event.endS <= one.toS + 0.5);
    if (!at?.site_id) continue;
    places.set(at.site_id, [...(places.get(at.site_id) ?? []), event.aboveDb]);
  }
  return [...places.entries()].map(([id, levels]) => ({
    words: `${nameOf(id)} (${id})`, side: sideOf(id), aboveDb: levels.reduce((sum, value) => sum + value, 0) / levels.length }));
}

export function Debrief({ encounter }: { encounter: Encounter }) {
  const heard = encounter.heard.value, log = encounter.log.value;
  const totalS = Math.max(1, ...log.map((one) => one.t_s));
  const marked = new Set(encounter.marks.value.filter((mark) => mark.presence === 'present').map((mark) => mark.finding_id));
  const truths = truthOf(encounter.events, heard, marked);
  const sites = new Map<string, number>();
  for (const one of heard) sites.set(one.site_id || one.words, (sites.get(one.site_id || one.words) ?? 0) + one.toS - one.fromS);
  const name = (id: string) => encounter.sites.find((site) => site.id === id)?.name ?? id;
  const levels = breathLevels(encounter.events, heard, name, (id) => encounter.sites.find((site) => site.id === id)?.side ?? '');
  const { prepared } = encounter;
  return <article class="stack debrief">
    <h1>Debrief: {prepared.title}</h1>
    <p>{prepared.conditions.length === 0 ? 'The patient was healthy.' : <>The patient had: <strong>{prepared.conditions.map((one) => `${one.label}${one.side ? `, ${one.side}` : ''}${one.lobe ? `, ${one.lobe}` : ''} (severity ${one.severity.toFixed(2)} of 1)`).join('; ')}</strong>.</>}</p>
    <Timeline encounter={encounter} totalS={totalS} />
    <div class="two">
      <section class="stack"><h2>Sounds that were there to hear</h2>
        {truths.length === 0 && <p>No added sound was audible at the places you listened.</p>}
        <ul class="plain-list">{truths.map((one) => <li class={one.wasMarked ? '' : 'notice'}><strong>{one.label}</strong>, {one.phaseWords}, {one.regionWords}{one.sites.length > 0 && `, at ${one.sites.join(', ')}`}:{' '}
          {one.wasMarked ? 'you marked it' : 'not marked'}</li>)}</ul>
        {levels.length > 0 && <><h3>Breath sound, breathing in, above the noise</h3>
          <ul class="plain-list figures">{levels.map((one) => <li>{one.words}: {one.aboveDb.toFixed(0)} dB</li>)}</ul></>}
        <h2>Where you listened, and how long</h2>
        <ul class="plain-list figures">{[...sites.entries()].map(([id, seconds]) => <li>{name(id)}: {seconds.toFixed(0)} s</li>)}</ul>
        {heard.length === 0 && <p>The chestpiece was never on the chest.</p>}
      </section>
      <section class="stack"><h2>What you found</h2><MarkList encounter={encounter} />
        {prepared.teaching_points.length > 0 && <><h2>To take away</h2><ul>{prepared.teaching_points.map((point) => <li>{point}</li>)}</ul></>}
      </section>
    </div>
    <div class="row no-print"><button onClick={() => print()}>Print or save as PDF</button><a href="#/bedside">Another patient</a></div>
  </article>;
}

function Timeline({ encounter, totalS }: { encounter: Encounter; totalS: number }) {
  const labelOf = (id: string) => encounter.kinds.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  const siteNameOf = (id: string) => encounter.sites.find((one) => one.id === id)?.name ?? id;
  const x = (t: number) => 4 + (t / totalS) * 192;
  const log = encounter.log.value;
  const rows: { name: string; items: { t: number; to?: number; words: string }[] }[] = [
    { name: 'listened', items: encounter.heard.value.map((one) => ({ t: one.fromS, to: one.toS, words: one.site_id || one.words })) },
    { name: 'asked, examined', items: log.filter((one) => ['ask', 'examine', 'expose', 'attach', 'count'].includes(one.do)).map((one) => ({ t: one.t_s, words: String(one['what'] ?? one['finding'] ?? one['device'] ?? one.do) })) },
    { name: 'marked', items: log.filter((one) => one.do === 'mark').map((one) => ({ t: one.t_s, words: String(one['finding']) })) },
    { name: 'treated', items: log.filter((one) => one.do === 'treat' || one.do === 'stop').map((one) => ({ t: one.t_s, words: `${one.do === 'stop' ? 'stop ' : ''}${String(one['treatment'])}` })) },
  ];
  return <section aria-label="Timeline">
    <svg class="timeline" viewBox="0 0 200 50" role="img" aria-label={`Timeline of ${clock(totalS)}; the list below says the same in words`}>
      {rows.map((row, i) => <g transform={`translate(0 ${4 + i * 11})`}>
        <line x1="4" x2="196" y1="6" y2="6" class="time-line" /><text x="4" y="2.6" class="time-word">{row.name}</text>
        {row.items.map((item) => item.to !== undefined
          ? <rect class="time-span" x={x(item.t)} width={Math.max(0.6, x(item.to) - x(item.t))} y="4.2" height="3.6"><title>{`${clock(item.t)} ${item.words}`}</title></rect>
          : <circle class="time-dot" cx={x(item.t)} cy="6" r="1.5"><title>{`${clock(item.t)} ${item.words.replaceAll('_', ' ')}`}</title></circle>)}
      </g>)}
      <text x="4" y="49" class="time-word">0:00</text><text x="196" y="49" text-anchor="end" class="time-word">{clock(totalS)}</text>
    </svg>
    <details class="small"><summary>Every step in order</summary>
      <ol>{encounter.log.value.map((one) => <li class="figures">{clock(one.t_s)} {stepInWords(one, labelOf, siteNameOf)}</li>)}</ol></details>
  </section>;
}
