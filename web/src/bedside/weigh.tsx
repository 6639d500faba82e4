// What the findings mean: threats first, then the ranking, then where to look next.
import { useState } from 'preact/hooks';
import { ask } from '../engine/ask';
import { postJson, Trouble } from '../lib/api';
import { OwnView } from './own_view';
import type { Encounter } from './session';

interface Contribution {
  label: string;
  presence: string;
  log_odds: number;
  source: string;
  standing: string;
  shrink: number;
  is_capped: boolean;
}
interface Ranked {
  id: string;
  label: string;
  can_kill_soon: boolean;
  posterior: number;
  posterior_lo: number;
  posterior_hi: number;
  prior: number;
  prior_source: string;
  contributions: Contribution[];
}
interface Threat {
  id: string;
  label: string;
  is_named: boolean;
  why: string;
  source: string;
  standing: string;
  grounds: string[];
  settle_in_words: string[];
}
interface Look {
  id: string;
  label: string;
  how: string;
  shows: string[];
  seconds: number;
  bits: number;
  for_condition: string;
}
interface Saying {
  id: string;
  says: string;
  agrees: string;
  evidence: string;
  source: string;
  status: string;
}
interface Rule {
  id: string;
  label: string;
  about: string;
  lowest: number;
  highest: number;
  band: string;
  probability: number | null;
  note: string;
  source: string;
  status: string;
}
export interface Impression {
  caution: string;
  threats: Threat[];
  ranking: Ranked[];
  looks: Look[];
  rules: Rule[];
  sayings: Saying[];
  remarks: string[];
}

// Nothing is shown nearer to certain than 0.5 or 98 %, and it says so.
const percent = (value: number) =>
  value <= 0.005 ? 'below 0.5 %' : value >= 0.98 ? 'above 98 %' : `${(value * 100).toFixed(value < 0.1 ? 1 : 0)} %`;
const isFromMemory = (status: string) => /memory/i.test(status);

export function Weigh({ encounter }: { encounter: Encounter }) {
  const [impression, setImpression] = useState<Impression | null>(null);
  const [trouble, setTrouble] = useState('');
  const weigh = async () => {
    setTrouble('');
    try {
      const { id, person, setting } = encounter.prepared;
      const found = ask('examination', { log: encounter.log.peek(), case_id: id, seed: encounter.seed, setting,
        age_years: person.age_years, sex: person.sex, now: encounter.now.peek()?.vitals ?? null });
      if (!found) throw new Error('The findings could not be gathered: the engine is not loaded. Load the page again.');
      const made = await postJson<Impression>('impression', found);
      setImpression(made);
    } catch (error) {
      const isKept = error instanceof Trouble && error.isOffline && encounter.storingTrouble.peek() === '';
      setTrouble((error as Error).message + (isKept ? ' What you have done so far is kept on this device.' : ''));
    }
  };
  return (
    <section class="stack" aria-label="Weigh">
      <OwnView encounter={encounter} />
      <h2>What the findings mean</h2>
      <p class="small soft">By published evidence where there is any, and by teaching judgement, marked so.</p>
      <button class="main" onClick={() => {
        void weigh();
      }}>
        Weigh what was found
      </button>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {impression && <ShowImpression impression={impression} />}
    </section>
  );
}

export function ShowImpression({ impression }: { impression: Impression }) {
  const named = impression.threats.filter((one) => one.is_named);
  const open = impression.threats.filter((one) => !one.is_named);
  return (
    <div class="stack">
      <p class="small soft">{impression.caution}</p>
      <h2>What could kill first</h2>
      {named.length === 0 && <p>Nothing is named by what was found so far. What was not looked at is not excluded.</p>}
      <ul class="plain-list">
        {named.map((one) => (
          <li class="notice">
            <strong>{one.label}.</strong> {one.why} <span class="small soft">({one.source}; {one.standing})</span>{' '}
            <span class="small">Because: {one.grounds.join('; ')}.</span>
          </li>
        ))}
      </ul>
      {open.length > 0 && (
        <details>
          <summary>Not yet excluded: {open.length}</summary>
          <ul class="small">
            {open.map((one) => (
              <li>
                <strong>{one.label}</strong>
                {one.settle_in_words.length > 0 && `: look for ${one.settle_in_words.join(', ')}`}
              </li>
            ))}
          </ul>
        </details>
      )}
      <h2>What is likely</h2>
      <ol class="plain-list">{impression.ranking.slice(0, 8).map((one) => <RankedLine one={one} />)}</ol>
      <p class="small soft">
        Each condition stands for itself; they can coexist, so the figures do not add up to 100 %. The line shows the 95
        % interval.
      </p>
      <h2>Look next</h2>
      <ol class="small">
        {impression.looks.slice(0, 5).map((look) => (
          <li>
            {look.how}{' '}
            <span class="soft">({Math.round(look.seconds)} s; {look.label} points to {look.for_condition})</span>
          </li>
        ))}
      </ol>
      <p class="small soft">Most told per second first. The times are common practice, not measured.</p>
      {impression.rules.length > 0 && (
        <details>
          <summary>Published rules on the same findings: {impression.rules.length}</summary>
          <ul class="small">{impression.rules.map((rule) => <RuleLine rule={rule} />)}</ul>
        </details>
      )}
      {impression.sayings.length > 0 && (
        <>
          <h2>Rules of thumb beside the evidence</h2>
          <ul class="small">
            {impression.sayings.map((one) => (
              <li>
                “{one.says}” Evidence agrees: {one.agrees}. {one.evidence}{' '}
                <span class="soft">({one.source}{isFromMemory(one.status) && ', from memory'})</span>
              </li>
            ))}
          </ul>
        </>
      )}
    </div>
  );
}

function RuleLine({ rule }: { rule: Rule }) {
  const points = rule.lowest === rule.highest
    ? `${rule.lowest}`
    : `${rule.lowest} to ${rule.highest}, items were not looked at`;
  const result = rule.band
    ? `${rule.band} (${points})`
    : rule.probability !== null
    ? percent(rule.probability)
    : rule.lowest === rule.highest
    ? points
    : 'items are missing';
  return (
    <li>
      <strong>{rule.label}</strong>: {result}{' '}
      <span class="soft">({rule.about}; {rule.source}{isFromMemory(rule.status) && ', from memory'})</span>
      {rule.note && <>{' '}{rule.note}</>}
    </li>
  );
}

function RankedLine({ one }: { one: Ranked }) {
  return (
    <li>
      <details>
        <summary>
          <span class="rank">
            <strong>{one.label}</strong>
            {one.can_kill_soon && <span class="small">{' '}· can kill soon</span>}
            <span class="figures">
              {percent(one.posterior)}{' '}
              <span class="small soft">({percent(one.posterior_lo)} to {percent(one.posterior_hi)})</span>
            </span>
          </span>
          <span class="chance" aria-hidden="true">
            <span class="chance-range"
              style={{ left: `${one.posterior_lo * 100}%`, right: `${100 - one.posterior_hi * 100}%` }} />
            <span class="chance-dot" style={{ left: `${one.posterior * 100}%` }} />
          </span>
        </summary>
        <ul class="small">
          <li>
            Before any finding: {percent(one.prior)} <span class="soft">({one.prior_source})</span>
          </li>
          {one.contributions.map((part) => (
            <li>
              {part.presence === 'present' ? '' : 'no '}
              {part.label}: {part.log_odds > 0 ? 'for' : 'against'}, odds × {Math.exp(part.log_odds).toFixed(2)}
              <span class="soft">
                ({part.standing === 'teaching judgement'
                  ? 'teaching judgement, not published'
                  : `${part.source}; ${part.standing}`}
                {part.shrink < 1 && '; repeats a stronger finding, so counts less'}
                {part.is_capped && '; ratio cut'})
              </span>
            </li>
          ))}
        </ul>
      </details>
    </li>
  );
}
