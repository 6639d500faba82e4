// A case made of recordings: each at its place on the chest, with the key, for others to listen to.
import { useState } from 'preact/hooks';
import { heardAtChest } from '../bedside/groups';
import type { KeptRecordedCase } from '../bedside/recorded_case';
import type { FindingKind } from '../bedside/types';
import { newId } from '../lib/new_id';
import { go } from '../lib/route';
import { put } from '../lib/store';
import { lengthS, type Recording } from './recording';

export function MakeCase({ recordings, kinds }: { recordings: readonly Recording[]; kinds: readonly FindingKind[] }) {
  const [title, setTitle] = useState('');
  const [story, setStory] = useState('');
  const [age, setAge] = useState(40);
  const [sex, setSex] = useState<'female' | 'male'>('female');
  const [isAgreed, setAgreed] = useState(false);
  const [trouble, setTrouble] = useState('');
  const [keys, setKeys] = useState<ReadonlyMap<string, readonly string[]>>(new Map());
  // The newest recording of each place counts.
  const placed = [...new Map(recordings.filter((one) => one.siteId).map((one) => [one.siteId, one])).values()];
  const choose = (id: string, finding: string) => {
    const had = keys.get(id) ?? [];
    setKeys(new Map([...keys, [id, had.includes(finding) ? had.filter((one) => one !== finding) : [...had, finding]]]));
  };
  const make = async () => {
    const made: KeptRecordedCase = {
      id: newId(),
      title: title.trim() || 'A patient',
      story: story.trim(),
      ageYears: age,
      sex,
      madeAt: new Date().toISOString(),
      recordings: placed.map((one) => ({ siteId: one.siteId, rateHz: one.rateHz, samples: one.samples,
        findings: [...(keys.get(one.id) ?? [])] })
      ),
    };
    try {
      await put('cases', made);
      go('recorded', made.id);
    } catch (error) {
      setTrouble(`The case could not be kept: ${(error as Error).message}`);
    }
  };
  return (
    <section class="card stack" aria-label="Make a case">
      <h2>Make a case</h2>
      {placed.length === 0 && (
        <p>
          No recording has a place yet. Open one below and say where it was taken; then it can be listened to there.
        </p>
      )}
      {placed.length > 0 && (
        <>
          <div class="row">
            <label class="field grow">
              Title<input type="text" maxLength={200} value={title} placeholder="A patient" onInput={(event) =>
                setTitle(event.currentTarget.value)} />
            </label>
            <label class="field">
              Age<input class="short" type="number" min="0" max="110" value={age} onInput={(event) =>
                setAge(Math.max(0, Math.min(110, Number(event.currentTarget.value))))} />
            </label>
            <label class="field">
              Drawn as<select value={sex} onChange={(event) => setSex(event.currentTarget.value as 'female' | 'male')}>
                <option value="female">woman or girl</option>
                <option value="male">man or boy</option>
              </select>
            </label>
          </div>
          <label class="field">
            Story, without names or dates<textarea rows={2} maxLength={4000} value={story} onInput={(event) =>
              setStory(event.currentTarget.value)} />
          </label>
          {placed.map((one) => (
            <fieldset>
              <legend>{one.siteId}: {one.name}, {lengthS(one).toFixed(1)} s</legend>
              <p class="small soft">What is there to hear? The learner sees it in the debrief.</p>
              <div class="choices">
                {heardAtChest(kinds).map((kind) => (
                  <button aria-pressed={(keys.get(one.id) ?? []).includes(kind.id)} onClick={() =>
                    choose(one.id, kind.id)}
                  >
                    {kind.label}
                  </button>
                ))}
              </div>
            </fieldset>
          ))}
          <label class="row">
            <input type="checkbox" checked={isAgreed} onChange={(event) => setAgreed(event.currentTarget.checked)} />
            The people recorded agreed to teaching use, and nothing in title, story or sound tells who they are.
          </label>
          <p class="small soft">
            Only the sound goes into the case: file names and whatever text the files carried stay behind.
          </p>
          {trouble && <p class="notice" role="alert">{trouble}</p>}
          <div class="row">
            <button class="main" disabled={!isAgreed} onClick={() => {
              void make();
            }}>
              Make the case
            </button>
          </div>
        </>
      )}
    </section>
  );
}
