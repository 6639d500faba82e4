// The whole encounter on a timeline, beside what was truly there to hear. All of it is worked out from
// the log: the engine lives the encounter again.
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Place } from '../chest/geometry';
import { inWords, siteAt } from '../chest/landmarks';
import { soundLabel } from '../engine/protocol';
import { startReplay } from '../engine/replay';
import type { Relived } from '../engine/replay_worker';
import { save } from '../lib/save';
import { localTime } from '../lib/when';
import { bySite, bySound, namedSounds } from './debrief_truth';
import type { LogEntry } from './log';
import { clock, MarkList } from './marking';
import { Moment, type Player, useMoment } from './moment';
import { loadConfig } from './patients';
import type { Encounter } from './session';
import { stepInWords } from './steps';
import { Timeline } from './timeline';
import type { TreatmentKind } from './treat';
import { type Case, personInWords, severityInWords } from './types';

export function Debrief({ encounter, treatments }: { encounter: Encounter; treatments: readonly TreatmentKind[] }) {
  const log = encounter.log.value;
  const totalS = Math.max(1, log[log.length - 1]?.t ?? 0);
  const stays = useMemo(() => encounter.stays(totalS), [encounter]);
  const [relived, setRelived] = useState<Relived | null>(null);
  const [trouble, setTrouble] = useState('');
  const [share, setShare] = useState(0);
  const [atS, setAtS] = useState<number | null>(null);
  const [replay, setReplay] = useState<ReturnType<typeof startReplay> | null>(null);
  useEffect(() => {
    let made: ReturnType<typeof startReplay> | null = null;
    loadConfig(encounter.prepared.id).then((config) => {
      made = startReplay({ ...encounter.setup(config, treatments.map((one) => one.id)), untilS: 0 }, totalS, setShare);
      setReplay(made);
      return made.relived;
    }).then(setRelived,
      (error: Error) => setTrouble('What was there to hear could not be worked out: ' + error.message));
    return () => made?.close();
  }, [encounter]);
  useEffect(() => {
    scrollTo({ top: 0 });
  }, []);
  const player = useMoment(replay, totalS, setAtS);
  const { prepared } = encounter;
  return (
    <article class="stack debrief">
      <h1>Debrief: {prepared.title}</h1>
      <p class="soft small">
        {personInWords(prepared.person)} · {localTime(encounter.startedAt)} · {clock(totalS)} · patient number{' '}
        {encounter.seed}
      </p>
      <PatientHad prepared={prepared} />
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <Timeline encounter={encounter} stays={stays} totalS={totalS} atS={atS} relived={relived} />
      <div class="two">
        <section class="stack">
          {relived
            ? <Truth encounter={encounter} relived={relived} />
            : !trouble && <p>Living the encounter again: {Math.round(100 * share)} %</p>}
          {relived && (
            <Moment player={player} totalS={totalS} isListening={(t) =>
              stays.some((one) => t >= one.fromS && t < one.toS)} />
          )}
        </section>
        <section class="stack">
          <h2>What you found</h2>
          <MarkList encounter={encounter} />
          {prepared.teaching_points.length > 0 && (
            <>
              <h2>To take away</h2>
              <ul>{prepared.teaching_points.map((point) => <li>{point}</li>)}</ul>
            </>
          )}
          <Steps encounter={encounter} player={player} canHear={relived !== null} />
        </section>
      </div>
      {player.isPlaying && <button class="now-playing main" onClick={player.stop}>Stop</button>}
      <div class="row no-print">
        <button onClick={() => print()}>Print or save as PDF</button>
        <button onClick={() =>
          save(`${prepared.id}-${encounter.id.slice(0, 8)}.encounter.jsonl`,
            new Blob([encounter.text()], { type: 'application/jsonl' }))}
        >
          Save the log
        </button>
        <a href={`#/bedside/${encodeURIComponent(prepared.id)}/seed/${encounter.seed}`}>The same patient again</a>
        <a href="#/bedside">Another patient</a>
      </div>
    </article>
  );
}

export function conditionInWords(one: Case['conditions'][number]): string {
  return `${one.label}${one.side ? `, ${one.side}` : ''}${one.lobe ? `, ${one.lobe}` : ''}, ${
    severityInWords(one.severity)
  }`;
}

function PatientHad({ prepared }: { prepared: Case }) {
  return (
    <p>
      {prepared.conditions.length === 0 ? 'The patient was healthy.' : (
        <>
          The patient had: <strong>{prepared.conditions.map(conditionInWords).join('; ')}</strong>.
        </>
      )}
    </p>
  );
}

function Truth({ encounter, relived }: { encounter: Encounter; relived: Relived }) {
  const stays = encounter.stays();
  const marked = new Set(
    encounter.marks.value.filter((mark) => mark.presence === 'present').map((mark) => mark.finding_id),
  );
  const sounds = bySound(stays, relived.events, marked);
  const places = bySite(stays, relived.events);
  const wrong = encounter.marks.value.filter((mark) =>
    mark.presence === 'present' && namedSounds.has(mark.finding_id)
    && !sounds.some((one) => one.findingId === mark.finding_id || one.nearlyIds.includes(mark.finding_id))
  );
  const labelOf = (id: string) => encounter.kinds.find((kind) => kind.id === id)?.label ?? id.replaceAll('_', ' ');
  const name = (
    id: string,
  ) => (id ? `${encounter.sites.find((site) => site.id === id)?.name ?? id} (${id})` : 'between the sites');
  return (
    <>
      <h2>Sounds that were there to hear</h2>
      {sounds.length === 0 && <p>No added sound was audible at the places you listened.</p>}
      <ul class="plain-list">
        {sounds.map((one) => (
          <li class={one.wasMarked ? '' : 'notice'}>
            <strong>{one.label}</strong>, {one.phaseWords}, {one.regionWords}
            {one.sites.length > 0 && `, at ${one.sites.join(', ')}`}: {one.wasMarked
              ? 'you marked it'
              : one.nearlyIds.length > 0
              ? `nearly: you marked ${one.nearlyIds.map(labelOf).join(' and ')}`
              : 'not marked'}
          </li>
        ))}
      </ul>
      {wrong.length > 0 && (
        <>
          <h2>Marked, but not there to hear</h2>
          <ul class="plain-list">
            {wrong.map((mark) => (
              <li class="notice">
                <strong>{labelOf(mark.finding_id)}</strong>
                {mark.site_id && ` at ${mark.site_id}`}
              </li>
            ))}
          </ul>
        </>
      )}
      <h2>Where you listened, and how long</h2>
      {places.length === 0 ? <p>The chestpiece was never on the chest.</p> : (
        <table class="small" data-places>
          <thead>
            <tr>
              <th scope="col">place</th>
              <th scope="col">seconds</th>
              <th scope="col">breath above noise, in / out</th>
              <th scope="col">to be heard there</th>
            </tr>
          </thead>
          <tbody class="figures">
            {places.map((one) => (
              <tr data-site={one.siteId}>
                <td>{name(one.siteId)}{one.isThroughCloth && <em>through clothing</em>}</td>
                <td>{one.seconds.toFixed(1)}</td>
                <td>{one.breathDb.map((value) => (value === null ? '–' : value.toFixed(0))).join(' / ')} dB</td>
                <td>
                  {[...one.counts].filter(([sound]) => sound !== 'heart').map(([sound, count]) =>
                    `${soundLabel[sound]} × ${count}`
                  ).join(', ') || 'nothing'}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}

// Sliding over the skin writes many lines; one is enough to read.
function legible(log: readonly LogEntry[]): LogEntry[] {
  return log.filter((one, i) => !(one.do === 'place' && log[i + 1]?.do === 'place' && log[i + 1]!.t - one.t < 0.5));
}

function Steps({ encounter, player, canHear }: { encounter: Encounter; player: Player; canHear: boolean }) {
  const labelOf = (id: string) => encounter.kinds.find((one) => one.id === id)?.label ?? id.replaceAll('_', ' ');
  const nameOf = (id: string) => encounter.sites.find((one) => one.id === id)?.name ?? id;
  const placeOf = (entry: LogEntry) => {
    const place = { aspect: entry['aspect'], u: entry['u'], v: entry['v'] } as Place;
    return siteAt(encounter.sites, place)?.name ?? inWords(place);
  };
  return (
    <details class="small" open>
      <summary>
        Every step in order<span class="no-print">; press a time to hear it again</span>
      </summary>
      <ol class="steps">
        {legible(encounter.log.value).map((one) => (
          <li class="figures">
            {canHear && one.do === 'place'
              ? (
                <button class="time-button" aria-label={`Hear this at ${clock(one.t)}`}
                  onClick={() => player.playFrom(one.t)}
                >
                  {clock(one.t)}
                </button>
              )
              : clock(one.t)} {stepInWords(one, labelOf, placeOf, nameOf)}
          </li>
        ))}
      </ol>
    </details>
  );
}
