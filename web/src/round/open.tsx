// Opening a round: which patient, and which illness may still come.
import { useEffect, useState } from 'preact/hooks';
import { type CaseSummary, personInWords } from '../bedside/types';
import { getJson, postJson } from '../lib/api';
import { go } from '../lib/route';
import { useSubmit } from '../lib/use_submit';
import { localTime } from '../lib/when';
import { keepToken } from './tokens';
import type { CameIn } from './types';

interface ConditionKind {
  id: string;
  label: string;
  has_side: boolean;
}
interface Listed {
  id: string;
  title: string;
  code: string;
  created_ms: number;
  ended_ms: number;
}

export function OpenRound() {
  const [cases, setCases] = useState<CaseSummary[]>([]);
  const [conditions, setConditions] = useState<ConditionKind[]>([]);
  const [rounds, setRounds] = useState<Listed[]>([]);
  const [caseId, setCaseId] = useState('');
  const [second, setSecond] = useState('');
  const [side, setSide] = useState('right');
  const [failed, setFailed] = useState('');
  useEffect(() => {
    Promise.all([getJson<{ cases: CaseSummary[] }>('cases'), getJson<{ conditions: ConditionKind[] }>('conditions'),
      getJson<{ rounds: Listed[] }>('rounds')]).then(([known, ill, own]) => {
        setCases(known.cases);
        setConditions(ill.conditions);
        setRounds(own.rounds);
        setCaseId(known.cases[0]?.id ?? '');
      }, (error: Error) => setFailed(error.message));
  }, []);
  const chosen = conditions.find((one) => one.id === second);
  const { trouble, isBusy, onSubmit } = useSubmit(async () => {
    const more = chosen ? `__${chosen.id}${chosen.has_side ? `-${side}` : ''}` : '';
    const came = await postJson<CameIn>('rounds', { case_id: caseId + more });
    keepToken(came);
    go('round', 'desk', came.round.id);
  });
  const goOn = async (id: string) => {
    try {
      keepToken(await postJson<CameIn>(`rounds/${id}/desk`, {}));
      go('round', 'desk', id);
    } catch (error) {
      setFailed((error as Error).message);
    }
  };
  return (
    <div class="narrow stack">
      <h1>One patient for the whole room</h1>
      <form class="card stack" onSubmit={onSubmit}>
        <label class="field">
          Patient
          <select value={caseId} onChange={(event) => setCaseId(event.currentTarget.value)}>
            {cases.map((one) => <option value={one.id}>{one.title} · {personInWords(one.person)}</option>)}
          </select>
        </label>
        <details>
          <summary>A second illness that may come</summary>
          <div class="row">
            <select aria-label="Second illness" value={second}
              onChange={(event) => setSecond(event.currentTarget.value)}
            >
              <option value="">none</option>
              {conditions.map((one) => <option value={one.id}>{one.label}</option>)}
            </select>
            {chosen?.has_side && (
              <select aria-label="Side" value={side} onChange={(event) => setSide(event.currentTarget.value)}>
                <option value="right">right</option>
                <option value="left">left</option>
              </select>
            )}
          </div>
        </details>
        {(trouble || failed) && <p class="notice" role="alert">{trouble || failed}</p>}
        <div class="row">
          <button class="main" type="submit" disabled={isBusy || !caseId}>Open the round</button>
        </div>
      </form>
      {rounds.length > 0 && (
        <section class="stack">
          <h2>Your rounds</h2>
          <ul class="plain-list">
            {rounds.slice(0, 12).map((one) => (
              <li class="row">
                <span class="grow">
                  {one.title} <span class="soft small">{localTime(new Date(one.created_ms).toISOString())}</span>
                </span>
                {one.ended_ms === 0 && (
                  <button onClick={() => {
                    void goOn(one.id);
                  }}>
                    Go on
                  </button>
                )}
                <a href={`#/round/debrief/${one.id}`}>Debrief</a>
              </li>
            ))}
          </ul>
        </section>
      )}
    </div>
  );
}
