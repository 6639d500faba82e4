// One learner: what was practised, what is mixed up, which encounters there were.
import { useEffect, useState } from 'preact/hooks';
import { AbilityList } from '../drill/ability_test';
import { ConfusionTable, SkillTable } from '../drill/standing';
import { download, getJson, remove } from '../lib/api';
import { go, route } from '../lib/route';
import { MarkView } from '../station/mark_view';
import { AskFirst } from './ask_first';
import { points } from './estimate';
import type { ClassRoom, KeptSummary, Learner } from './types';

export function MyPage() {
  const [learner, setLearner] = useState<Learner | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<Learner>('me').then(setLearner, (error: Error) => setTrouble(error.message));
  }, []);
  if (route.value[1] === 'mark' && route.value[2]) {
    return <MarkView key={route.value[2]} encounterId={route.value[2]} />;
  }
  if (!learner) {
    return (
      <div class="stack">
        <h1>My page</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }
  return (
    <div class="stack">
      <h1>{learner.person.name}</h1>
      <LearnerBody learner={learner} whose="Your" linkOf={(one) => (one.is_released ? `#/class/mark/${one.id}` : '')} />
      <p>
        <button onClick={() => {
          download(`people/${learner.person.id}/export`, 'my_records.jsonl').catch((error: Error) =>
            setTrouble(error.message)
          );
        }}>
          All that is kept about me
        </button>
      </p>
    </div>
  );
}

export function LearnerPage({ classId, personId }: { classId: string; personId: string }) {
  const [learner, setLearner] = useState<Learner | null>(null);
  const [trouble, setTrouble] = useState('');
  const [isInstructor, setInstructor] = useState(false);
  useEffect(() => {
    getJson<Learner>(`classes/${classId}/members/${personId}`).then(setLearner,
      (error: Error) => setTrouble(error.message));
    getJson<ClassRoom>(`classes/${classId}`).then((room) => setInstructor(room.my_role === 'instructor'),
      () => {/* then nothing is offered */});
  }, [personId]);
  if (!learner) {
    return (
      <div class="stack">
        <h1>Learner</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }
  const forget = async () => {
    try {
      await remove(`people/${personId}`);
      go('class', classId);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <div class="stack">
      <p class="small no-print">
        <a href={`#/class/${classId}/people`}>Back to the class</a>
      </p>
      <h1>{learner.person.name}</h1>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <LearnerBody learner={learner} whose="The"
        linkOf={(one) => (one.station_id && one.has_ended ? `#/station/${one.station_id}/mark/${one.id}` : '')} />
      {isInstructor && (
        <>
          <h2>On request of the person</h2>
          <div class="row">
            <button onClick={() => {
              download(`people/${personId}/export`, 'records.jsonl').catch((error: Error) => setTrouble(error.message));
            }}>
              All that is kept, as a file
            </button>
            <AskFirst words="Delete this person" typed={learner.person.name}
              ask="Everything of this person is deleted: answers, encounters, marks. It cannot be brought back."
              onYes={forget} />
          </div>
        </>
      )}
    </div>
  );
}

function LearnerBody(
  { learner, whose, linkOf }: { learner: Learner; whose: 'Your' | 'The'; linkOf: (one: KeptSummary) => string },
) {
  return (
    <>
      <section class="stack">
        <h2>Encounters</h2>
        {learner.encounters.length === 0
          ? <p class="soft">None yet.</p>
          : (
            <ul class="plain-list">
              {learner.encounters.map((one) => <EncounterLine one={one} link={linkOf(one)} />)}
            </ul>
          )}
      </section>
      <section class="stack">
        <h2>Ability tests</h2>
        <AbilityList tests={learner.ability_tests} whose={whose} />
      </section>
      <section class="stack">
        <h2>Skills</h2>
        <SkillTable skills={learner.skills} />
      </section>
      <section class="stack">
        <h2>What is taken for what</h2>
        <ConfusionTable confusion={learner.confusion} />
      </section>
    </>
  );
}

function EncounterLine({ one, link }: { one: KeptSummary; link: string }) {
  const when = new Date(one.started_ms).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });
  const result = one.points !== null
    ? `${points(one.points)} of ${points(one.max_points ?? 0)} points, ${
      !one.is_released ? 'not released yet' : one.passed ? 'passed' : 'not passed'
    }`
    : one.has_ended
    ? 'result not out yet'
    : 'not finished';
  return (
    <li class="row">
      <span class="grow">
        {link ? <a href={link}>{one.title}</a> : one.title} <span class="soft small figures">{when}</span>
      </span>
      <span class="small figures">{result}</span>
    </li>
  );
}
