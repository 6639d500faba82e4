// The whole encounter on a timeline, beside what was truly there to hear. All of it is worked out from
// the log: the engine lives the encounter again.
import { useEffect, useMemo, useState } from 'preact/hooks';
import { ask } from '../engine/ask';
import { startReplay } from '../engine/replay';
import { besideBreath, type DebriefAnswer, soundLabel, type StepAnswer } from '../generated/bedside';
import { address } from '../lib/route';
import { save } from '../lib/save';
import { localTime } from '../lib/when';
import { clock, MarkList } from './marking';
import { Moment, type Player, useMoment } from './moment';
import { loadConfig } from './patients';
import type { Encounter } from './session';
import { Timeline } from './timeline';
import type { TreatmentKind } from './treat';
import { type Case, personInWords, severityInWords } from './types';

export function Debrief(
  { encounter, treatments, packet }: {
    encounter: Encounter;
    treatments: readonly TreatmentKind[];
    packet?: ArrayBuffer; // of a patient that only the round knows
  },
) {
  const log = encounter.log.value;
  const totalS = Math.max(1, log[log.length - 1]?.t ?? 0);
  const stays = useMemo(() => encounter.stays(totalS), [encounter]);
  const steps = useMemo(() => ask('steps', { log, labels: labelsOf(encounter, treatments) }) ?? [], [encounter]);
  const [relived, setRelived] = useState<DebriefAnswer | null>(null);
  const [trouble, setTrouble] = useState('');
  const [share, setShare] = useState(0);
  const [atS, setAtS] = useState<number | null>(null);
  const [replay, setReplay] = useState<ReturnType<typeof startReplay> | null>(null);
  useEffect(() => {
    let made: ReturnType<typeof startReplay> | null = null;
    (packet ? Promise.resolve(packet) : loadConfig(encounter.prepared.id)).then((config) => {
      made = startReplay({ ...encounter.setup(config), untilS: 0 }, totalS, setShare);
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
      <Timeline steps={steps} stays={stays} totalS={totalS} atS={atS} relived={relived} />
      <div class="two">
        <section class="stack">
          {relived
            ? <Truth encounter={encounter} relived={relived} />
            : !trouble && <p>Living the encounter again: {Math.round(100 * share)} %</p>}
          {relived && (
            <Moment player={player} totalS={totalS} isListening={(t) =>
              stays.some((one) => t >= one.start_s && t < one.end_s)} />
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
          <Steps steps={steps} player={player} canHear={relived !== null} />
        </section>
      </div>
      {player.isPlaying && <button class="now-playing main" onClick={player.stop}>Stop</button>}
      <div class="row no-print">
        <button onClick={() => print()}>Print or save as PDF</button>
        <button onClick={() =>
          save(`${packet ? 'round' : prepared.id}-${encounter.id.slice(0, 8)}.encounter.jsonl`,
            new Blob([encounter.text()], { type: 'application/jsonl' }))}
        >
          Save the log
        </button>
        {!packet && (
          <>
            <a href={address('bedside', prepared.id, 'seed', String(encounter.seed))}>The same patient again</a>
            <a href="#/bedside">Another patient</a>
          </>
        )}
      </div>
    </article>
  );
}

export function labelsOf(encounter: Encounter, treatments: readonly TreatmentKind[]): Record<string, string> {
  const illnesses = encounter.prepared.conditions.map((one, i) => ({ id: `illness_${i + 1}`, label: one.label }));
  return Object.fromEntries([...encounter.kinds, ...treatments, ...illnesses].map((one) => [one.id, one.label]));
}

export function conditionInWords(one: Case['conditions'][number]): string {
  return `${one.label}${one.side ? `, ${one.side}` : ''}${one.lobe ? `, ${one.lobe}` : ''}, ${
    severityInWords(one.severity)
  }`;
}

function PatientHad({ prepared }: { prepared: Case }) {
  const had = prepared.conditions.filter((one) => one.severity > 0); // others can come in a round, and did not
  return (
    <p>
      {had.length === 0 ? 'The patient was healthy.' : (
        <>
          The patient had: <strong>{had.map(conditionInWords).join('; ')}</strong>.
        </>
      )}
    </p>
  );
}

function Truth({ encounter, relived }: { encounter: Encounter; relived: DebriefAnswer }) {
  const marked = encounter.marks.value.filter((mark) => mark.presence === 'present');
  const isMarked = (id: string) => marked.some((mark) => mark.finding_id === id);
  const sounds = relived.sounds.map((one) => ({ ...one, wasMarked: one.exact.some(isMarked),
    nearly: one.family.filter(isMarked) })
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
            <strong>{soundLabel[one.sound]}</strong>, {one.phase}, {one.region}
            {one.site_ids.length > 0 && `, at ${one.site_ids.join(', ')}`}: {one.wasMarked
              ? 'you marked it'
              : one.nearly.length > 0
              ? `nearly: you marked ${one.nearly.map(labelOf).join(' and ')}`
              : 'not marked'}
          </li>
        ))}
      </ul>
      {(relived.marks.length > 0 || relived.missed.length > 0) && <h2>What you said of it</h2>}
      <ul class="plain-list" data-verdicts>
        {relived.marks.map((one) => (
          <li class={one.verdict === 'wrong' ? 'notice' : ''}>
            <strong>
              {one.presence === 'absent' && 'no '}
              {labelOf(one.finding_id)}
              {one.side !== 'midline' && `, ${one.side}`}
              {one.site_ids.length > 0 && ` at ${one.site_ids.join(', ')}`}
            </strong>: {one.verdict}. {one.reason}
          </li>
        ))}
        {relived.missed.map((one) => (
          <li class="notice">
            <strong>{one.words}</strong>
            {one.site_ids.length > 0 && `, at ${one.site_ids.join(', ')}`}: not marked
          </li>
        ))}
      </ul>
      <Seen relived={relived} labelOf={labelOf} />
      <h2>Where you listened, and how long</h2>
      {relived.places.length === 0 ? <p>The chestpiece was never on the chest.</p> : (
        <table class="small" data-places>
          <thead>
            <tr>
              <th scope="col">place</th>
              <th scope="col">seconds</th>
              <th scope="col">in words</th>
              <th scope="col">to be heard there</th>
            </tr>
          </thead>
          <tbody class="figures">
            {relived.places.map((one) => (
              <tr data-site={one.site_id}>
                <td>{name(one.site_id)}{one.through_clothing && <em>{' '}through clothing</em>}</td>
                <td>{one.seconds.toFixed(1)}</td>
                <td>{one.words}</td>
                <td>
                  {one.sounds.filter(({ sound }) => !besideBreath.has(sound) || sound.startsWith('contact')).map((
                    { sound, events },
                  ) => `${soundLabel[sound]} × ${events}`).join(', ') || 'nothing'}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}

// What the learner's own eye saw, and what was there at the end besides.
function Seen({ relived, labelOf }: { relived: DebriefAnswer; labelOf: (id: string) => string }) {
  if (relived.looks.length === 0 && relived.unseen.length === 0) return null;
  const sideOf = (side: string) => (side === 'midline' ? '' : `, ${side}`);
  return (
    <>
      <h2>What you saw</h2>
      <ul class="plain-list" data-looks>
        {relived.looks.map((one) => (
          <li class={one.verdict === 'wrong' ? 'notice' : ''}>
            <strong>{one.presence === 'absent' && 'no '}{labelOf(one.finding_id)}{sideOf(one.side)}</strong>:{' '}
            {one.verdict}. {one.reason}
          </li>
        ))}
        {relived.unseen.map((one) => (
          <li class="notice">
            <strong>{labelOf(one.finding_id)}{sideOf(one.side)}</strong>: there to be seen, not marked
          </li>
        ))}
      </ul>
    </>
  );
}

function Steps({ steps, player, canHear }: { steps: readonly StepAnswer[]; player: Player; canHear: boolean }) {
  return (
    <details class="small" open>
      <summary>
        Every step in order<span class="no-print">; press a time to hear it again</span>
      </summary>
      <ol class="steps">
        {steps.map((one) => (
          <li class="figures">
            {canHear && one.do === 'place'
              ? (
                <button class="time-button" aria-label={`Hear this at ${clock(one.t)}`}
                  onClick={() => player.playFrom(one.t)}
                >
                  {clock(one.t)}
                </button>
              )
              : clock(one.t)} {one.words}
          </li>
        ))}
      </ol>
    </details>
  );
}
