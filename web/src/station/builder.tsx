// Building a station: patients, time, checklist, who may come. Everything has a sensible start, so that
// a station stands after two taps and is good after five minutes.
import { useEffect, useState } from 'preact/hooks';
import { isDrawn } from '../bedside/drawn';
import { loadCase } from '../bedside/patients';
import { type CaseSummary, personInWords } from '../bedside/types';
import type { Checklist, ChecklistRule, Station, StationPlan } from '../class/types';
import { getJson, postJson, putJson } from '../lib/api';
import { go } from '../lib/route';
import { ChecklistEditor } from './checklist_editor';
import { DrawnPatients } from './drawn_patients';

interface Material {
  cases: CaseSummary[];
  checklists: Checklist[];
  rules: ChecklistRule[];
}

// The list that fits what all these patients have, if there is one.
async function fittingList(case_ids: readonly string[], lists: readonly Checklist[]): Promise<Checklist | undefined> {
  const cases = await Promise.all(case_ids.map(loadCase));
  const worst = cases.map(({ conditions }) =>
    [...conditions].sort((a, b) => b.severity - a.severity)[0]?.id ?? 'healthy'
  );
  const [first] = worst;
  return worst.every((one) => one === first) ? lists.find((one) => one.fits?.includes(first ?? '')) : undefined;
}

function blankPlan(checklists: readonly Checklist[]): StationPlan {
  const checklist = checklists.find((one) => one.id === 'chest_examination') ?? checklists[0]!;
  return { title: '', case_ids: [], checklist, time_limit_s: checklist.time_limit_s, patients: 'identical',
    admission: 'roster', instructions: '', shows_words: false };
}

export function Builder({ classId, stationId, startCase }: {
  classId?: string;
  stationId?: string;
  startCase?: string; // the patient to begin with
}) {
  const [material, setMaterial] = useState<Material | null>(null);
  const [plan, setPlan] = useState<StationPlan | null>(null);
  const [isDraft, setDraft] = useState(true);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    Promise.all([getJson<{ cases: CaseSummary[] }>('cases'),
      getJson<{ checklists: Checklist[]; rules: ChecklistRule[] }>('checklists'),
      stationId ? getJson<Station>(`stations/${stationId}`) : null])
      .then(([cases, checklists, station]) => {
        setMaterial({ ...cases, ...checklists });
        setPlan(station ? planOf(station) : blankPlan(checklists.checklists));
        setDraft(!station || station.state === 'draft');
      }).catch((error: Error) => setTrouble(error.message));
  }, [stationId]);
  useEffect(() => {
    if (plan && material && startCase && plan.case_ids.length === 0) takeCases([startCase]);
  }, [material]);
  if (!plan || !material) {
    return (
      <div class="stack">
        <h1>{stationId ? 'Change the station' : 'New station'}</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }

  const change = (part: Partial<StationPlan>) => setPlan({ ...plan, ...part });
  const toggleCase = (id: string) =>
    takeCases(plan.case_ids.includes(id) ? plan.case_ids.filter((one) => one !== id) : [...plan.case_ids, id]);
  const takeCases = (case_ids: string[]) => {
    const isUntouched = material.checklists.some((one) => one === plan.checklist);
    const next: StationPlan = {
      ...plan,
      case_ids,
      patients: case_ids.length > 1 ? 'parallel' : 'identical',
      ...(plan.title === '' || plan.title === 'Drawn patients' || material.cases.some((one) => one.title === plan.title)
        ? {
          title: material.cases.find((one) => one.id === case_ids[0])?.title ??
            (case_ids.length > 0 ? 'Drawn patients' : ''),
        }
        : {}),
    };
    setPlan(next);
    if (!isUntouched || case_ids.length === 0) return;
    void fittingList(case_ids, material.checklists).then((own) => {
      const fitting = own ?? blankPlan(material.checklists).checklist;
      setPlan((now) =>
        now && now.case_ids === case_ids ? { ...now, checklist: fitting, time_limit_s: fitting.time_limit_s } : now
      );
    }, () => {/* the list stays as it is */});
  };
  const save = async () => {
    setTrouble('');
    try {
      const whole = { ...plan, checklist: { ...plan.checklist, time_limit_s: plan.time_limit_s } };
      const station = stationId
        ? await putJson<Station>(`stations/${stationId}`, whole)
        : await postJson<Station>(`classes/${classId}/stations`, whole);
      go('station', station.id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  const points = plan.checklist.items.reduce((sum, one) => sum + (one.points ?? 1), 0);

  return (
    <div class="stack builder">
      <h1>{stationId ? 'Change the station' : 'New station'}</h1>
      {!isDraft && (
        <p class="notice">
          Learners may have been here already: only the title, the words at the start and the pass mark can still
          change.
        </p>
      )}
      <fieldset class="stack" disabled={!isDraft}>
        <legend>1. The patient</legend>
        <ul class="plain-list cases">
          {material.cases.map((one) => (
            <li>
              <label class="case pick">
                <span class="check">
                  <input type="checkbox" checked={plan.case_ids.includes(one.id)} onChange={() => toggleCase(one.id)} />
                  <strong>{one.title}</strong>
                </span>
                <span class="soft small">{personInWords(one.person)}{one.is_in_use && ' · in use at a station'}</span>
              </label>
            </li>
          ))}
        </ul>
        <DrawnPatients ids={plan.case_ids.filter(isDrawn)} others={plan.case_ids.filter((id) => !isDrawn(id)).length}
          onChange={(drawn) => takeCases([...plan.case_ids.filter((id) => !isDrawn(id)), ...drawn])} />
        <p class="small soft">
          {plan.case_ids.length > 1
            ? 'Several patients: learners meet them in turn, each with small differences of their own. ' +
              'Whether they were equally hard is shown with the results.'
            : 'One patient: everybody meets exactly the same one.'}
        </p>
        {plan.case_ids.length === 1 && (
          <label class="check">
            <input type="checkbox" checked={plan.patients === 'parallel'} onChange={(event) =>
              change({ patients: event.currentTarget.checked ? 'parallel' : 'identical' })} />{' '}
            Give each learner small differences, so that neighbours cannot copy
          </label>
        )}
      </fieldset>
      <fieldset class="stack">
        <legend>2. Name, time, who may come</legend>
        <label class="field">
          Title, as staff see it<input type="text" maxLength={80} value={plan.title}
            onInput={(event) => change({ title: event.currentTarget.value })} />
        </label>
        <div class="row">
          <label class="field">
            Minutes, 0 for no limit<input class="short" type="number" min="0" max="120" step="1" disabled={!isDraft}
              value={Math.round(plan.time_limit_s / 60)}
              onInput={(event) => change({ time_limit_s: 60 * Number(event.currentTarget.value) })} />
          </label>
          <label class="field">
            Passes with, % of points<input class="short" type="number" min="0" max="100"
              value={Math.round(100 * plan.checklist.pass_share)}
              onInput={(event) =>
                change({ checklist: { ...plan.checklist, pass_share: Number(event.currentTarget.value) / 100 } })} />
          </label>
        </div>
        <p class="small soft">
          Extra time belongs to the learner, not to the station: set it in the roster of the class.
        </p>
        <div class="row" role="group" aria-label="Who may come">
          <button aria-pressed={plan.admission === 'roster'} disabled={!isDraft}
            onClick={() => change({ admission: 'roster' })}
          >
            Only the roster, each with a key
          </button>
          <button aria-pressed={plan.admission === 'open'} disabled={!isDraft}
            onClick={() => change({ admission: 'open' })}
          >
            Anybody with the code
          </button>
        </div>
        <label class="field">
          What the learner reads at the start (may stay empty)<textarea rows={2} maxLength={1000}
            value={plan.instructions} onInput={(event) => change({ instructions: event.currentTarget.value })} />
        </label>
        <label class="check">
          <input type="checkbox" disabled={!isDraft} checked={plan.shows_words}
            onChange={(event) => change({ shows_words: event.currentTarget.checked })} />{' '}
          Show in words which sounds can be heard (for those who cannot hear them)
        </label>
      </fieldset>
      <fieldset class="stack">
        <legend>3. The checklist: {plan.checklist.items.length} items, {points} points</legend>
        <label class="field">
          Begin with<select disabled={!isDraft} value={plan.checklist.id} onChange={(event) => {
            const chosen = material.checklists.find((one) => one.id === event.currentTarget.value);
            if (chosen) change({ checklist: chosen, time_limit_s: chosen.time_limit_s });
          }}>
            {!material.checklists.some((one) => one.id === plan.checklist.id) && (
              <option value={plan.checklist.id}>this station’s own</option>
            )}
            {material.checklists.map((one) => <option value={one.id}>{one.title}</option>)}
          </select>
        </label>
        <ChecklistEditor checklist={plan.checklist} rules={material.rules} isDraft={isDraft}
          onChange={(checklist) => change({ checklist })} />
      </fieldset>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="main-action">
        <button class="main" disabled={plan.case_ids.length === 0 || plan.title.trim() === ''} onClick={() => {
          void save();
        }}>
          Save the station
        </button>
        {plan.case_ids.length === 0 && <span class="small soft">Choose a patient first.</span>}
      </div>
    </div>
  );
}

export function planOf(station: Station): StationPlan {
  const { title, case_ids, checklist, time_limit_s, patients, admission, instructions, shows_words } = station;
  return { title, case_ids, checklist, time_limit_s, patients, admission, instructions, shows_words };
}
