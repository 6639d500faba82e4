// What the findings mean: threats first, then the ranking, then where to look next.
import { useState } from 'preact/hooks';
import { postJson } from '../lib/api';
import { examinationOf } from './examination';
import { OwnView } from './own_view';
import type { Encounter } from './session';

interface Contribution { label: string; presence: string; log_odds: number; source: string; status: string; standing: string }
interface Ranked {
  id: string; label: string; can_kill_soon: boolean; posterior: number; posterior_lo: number; posterior_hi: number;
  prior: number; prior_source: string; contributions: Contribution[];
}
interface Threat { id: string; label: string; is_named: boolean; why: string; grounds: string[]; settle: string[] }
interface Look { finding_id: string; label: string; how: string; seconds: number; bits: number; for_condition: string }
interface Saying { id: string; says: string; agrees: boolean; evidence: string; source: string }
export interface Impression { caution: string; threats: Threat[]; ranking: Ranked[]; looks: Look[]; sayings: Saying[]; remarks: string[] }

const percent = (value: number) => (value < 0.01 ? '<1 %' : value > 0.99 ? '>99 %' : `${Math.round(value * 100)} %`);

export function Weigh({ encounter }: { encounter: Encounter }) {
  const [impression, setImpression] = useState<Impression | null>(null);
  const [trouble, setTrouble] = useState('');
  const weigh = async () => {
    setTrouble('');
    try {
      const made = await postJson<Impression>('impression', examinationOf(encounter));
      setImpression(made);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return <section class="stack" aria-label="Weigh">
    <OwnView encounter={encounter} />
    <h2>What the evidence says</h2>
    <button class="main" onClick={() => { void weigh(); }}>Weigh what was found</button>
    {trouble && <p class="notice" role="alert">{trouble}</p>}
    {impression && <ShowImpression impression={impression} />}
  </section>;
}

export function ShowImpression({ impression }: { impression: Impression }) {
  const named = impression.threats.filter((one) => one.is_named);
  const open = impression.threats.filter((one) => !one.is_named);
  return <div class="stack">
    <p class="small soft">{impression.caution}</p>
    <h2>What could kill first</h2>
    {named.length === 0 && <p>Nothing is named by what was found so far. What was not looked at is not excluded.</p>}
    <ul class="plain-list">{named.map((one) => <li class="notice"><strong>{one.label}.</strong> {one.why} <span class="small">Because: {one.grounds.join('; ')}.</span></li>)}</ul>
    {open.length > 0 && <details><summary>Not yet excluded: {open.length}</summary>
      <ul class="small">{open.map((one) => <li><strong>{one.label}</strong>{one.settle.length > 0 && `: look for ${one.settle.join(', ').replaceAll('_', ' ')}`}</li>)}</ul></details>}
    <h2>What is likely</h2>
    <ol class="plain-list">{impression.ranking.slice(0, 8).map((one) => <RankedLine one={one} />)}</ol>
    <p class="small soft">Each condition stands for itself; they can coexist, so the figures do not add up to 100 %. The line shows the 95 % interval.</p>
    <h2>Look next</h2>
    <ol class="small">{impression.looks.slice(0, 5).map((look) => <li>{look.how || look.label} <span class="soft">({Math.round(look.seconds)} s, {look.bits.toFixed(2)} bits, mostly about {look.for_condition})</span></li>)}</ol>
  </div>;
}

function RankedLine({ one }: { one: Ranked }) {
  return <li><details>
    <summary><span class="rank"><strong>{one.label}</strong>{one.can_kill_soon && <span class="small"> · can kill soon</span>}
      <span class="figures"> {percent(one.posterior)} <span class="small soft">({percent(one.posterior_lo)} to {percent(one.posterior_hi)})</span></span></span>
      <span class="chance" aria-hidden="true"><span class="chance-range" style={{ left: `${one.posterior_lo * 100}%`, right: `${100 - one.posterior_hi * 100}%` }} />
        <span class="chance-dot" style={{ left: `${one.posterior * 100}%` }} /></span></summary>
    <ul class="small">
      <li>Before any finding: {percent(one.prior)} <span class="soft">({one.prior_source})</span></li>
      {one.contributions.map((part) => <li>{part.presence === 'present' ? '' : 'no '}{part.label}: {part.log_odds > 0 ? 'for' : 'against'}, odds × {Math.exp(part.log_odds).toFixed(2)}
        <span class="soft"> ({part.source || 'teaching judgement'}{part.status && `, ${part.status.toLowerCase()}`})</span></li>)}
    </ul>
  </details></li>;
}
