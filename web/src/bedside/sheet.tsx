// A case on paper, for the instructor: who, where, what is wrong, what to hear, and a form to write on.
import { useEffect, useState } from 'preact/hooks';
import { basisLabel, roomLabel } from '../generated/bedside';
import { getJson } from '../lib/api';
import { address, route } from '../lib/route';
import { conditionInWords } from './debrief';
import { loadCase, loadVocabulary, type Vocabulary } from './patients';
import { type Case, personInWords } from './types';

export function CaseSheet() {
  const id = route.value[1] ?? '';
  const [prepared, setPrepared] = useState<Case | null>(null);
  const [words, setWords] = useState<Vocabulary | null>(null);
  const [trouble, setTrouble] = useState('');
  const [expected, setExpected] = useState<Record<string, string> | null>(null);
  useEffect(() => {
    Promise.all([loadCase(id), loadVocabulary()]).then(([one, vocabulary]) => {
      setPrepared(one);
      setWords(vocabulary);
    }, (error: Error) => setTrouble(error.message));
    getJson<{ places: { site_id: string; words: string }[] }>(`cases/${encodeURIComponent(id)}/expected`)
      .then(({ places }) => setExpected(Object.fromEntries(places.map((one) => [one.site_id, one.words]))),
        () => setExpected({}));
  }, [id]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Case sheet</h1>
        <p class="notice" role="alert">{trouble}</p>
        <a href="#/bedside">Choose a patient</a>
      </div>
    );
  }
  if (!prepared || !words) return <h1>Case sheet</h1>;
  const label = (finding: string) => words.kinds.find((one) => one.id === finding)?.label ?? finding;
  const told = (presence: string) =>
    prepared.told.filter((one) => one.presence === presence).map((one) => `${label(one.id)} (${basisLabel[one.basis]})`)
      .join(', ');
  return (
    <article class="stack sheet">
      <h1>{prepared.title}</h1>
      <p class="soft">
        Case sheet for the instructor · {personInWords(prepared.person)} · {prepared.posture} · clothing:{' '}
        {prepared.clothing} · {roomLabel[prepared.room]}
      </p>
      <h2>Story</h2>
      <p class="story">{prepared.story}</p>
      <h2>What is wrong</h2>
      <p>
        {prepared.conditions.length === 0
          ? 'Nothing: the patient is healthy.'
          : prepared.conditions.map(conditionInWords).join('; ') + '.'}
      </p>
      {prepared.told.length > 0 && (
        <>
          <h2>What asking and looking bring to light</h2>
          <p>
            <strong>Yes:</strong> {told('present') || 'nothing'}.
          </p>
          <p>
            <strong>No:</strong> {told('absent') || 'nothing'}.
          </p>
        </>
      )}
      {prepared.teaching_points.length > 0 && (
        <>
          <h2>To take away</h2>
          <ul>{prepared.teaching_points.map((point) => <li>{point}</li>)}</ul>
        </>
      )}
      <h2>What is to be heard, place by place</h2>
      <table class="form small" data-expected>
        <thead>
          <tr>
            <th scope="col">place</th>
            <th scope="col">expected</th>
            <th scope="col">the learner heard</th>
          </tr>
        </thead>
        <tbody>
          {words.sites.map((one) => (
            <tr>
              <td>{one.id} {one.name}</td>
              <td>{expected ? expected[one.id] ?? 'not known without the server' : 'working it out …'}</td>
              <td>&nbsp;</td>
            </tr>
          ))}
        </tbody>
      </table>
      <div class="main-action no-print">
        <button class="main" onClick={() => print()}>Print or save as PDF</button>
        <a href={address('bedside', prepared.id)}>To this patient</a>
      </div>
    </article>
  );
}
