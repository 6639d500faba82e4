// Classes: a learner sees the own page; staff see theirs, one class at a time.
import { useEffect, useState } from 'preact/hooks';
import { getJson, postJson } from '../lib/api';
import { go, route } from '../lib/route';
import { session } from '../lib/session';
import { StationList } from '../station/station_place';
import { Audit } from './audit';
import { DrillRulesView } from './drill_rules';
import { LearnerPage, MyPage } from './learner_page';
import { People } from './people';
import { Results } from './results';
import { SkillsMap } from './skills_map';
import type { ClassRoom, ClassSummary } from './types';

const views = [['people', 'People'], ['skills', 'Skills'], ['drill', 'Drill'], ['stations', 'Stations'], ['results',
  'Results'], ['audit', 'Activity']] as const;

export function ClassPlace() {
  const [, id, view, who] = route.value;
  if (session.value!.person!.role === 'learner') return <MyPage />;
  if (!id) return <AllClasses />;
  if (view === 'person' && who) return <LearnerPage key={who} classId={id} personId={who} />;
  return <OneClass key={id} classId={id} view={view ?? 'people'} />;
}

function AllClasses() {
  const [classes, setClasses] = useState<ClassSummary[] | null>(null);
  const [title, setTitle] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ classes: ClassSummary[] }>('classes').then((answer) => setClasses(answer.classes),
      (error: Error) => setTrouble(error.message));
  }, []);
  const make = async (event: Event) => {
    event.preventDefault();
    try {
      go('class', (await postJson<ClassRoom>('classes', { title: title.trim() })).id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <div class="stack">
      <h1>Classes</h1>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {classes?.length === 0 && (
        <p>
          A class holds the learners, what they practised, their stations and the results.{' '}
          {session.value!.person!.role === 'instructor'
            ? 'Make one to begin.'
            : 'An instructor must take you on as staff of one.'}
        </p>
      )}
      <ul class="plain-list cases">
        {(classes ?? []).map((one) => (
          <li>
            <a class="case" href={`#/class/${one.id}`}>
              <strong>{one.title}</strong>
              <span class="soft small">
                {one.members} learner{one.members === 1 ? '' : 's'} · {one.stations}{' '}
                station{one.stations === 1 ? '' : 's'}
                {one.my_role !== 'instructor' && ` · you are ${one.my_role}`}
              </span>
            </a>
          </li>
        ))}
      </ul>
      {session.value!.person!.role === 'instructor' && (
        <form class="row" onSubmit={(event) => {
          void make(event);
        }}>
          <label class="field grow">
            New class<input type="text" required maxLength={80} placeholder="for example: Skerrow Sound, autumn crew"
              value={title} onInput={(event) => setTitle(event.currentTarget.value)} />
          </label>
          <button class="main" type="submit">Make the class</button>
        </form>
      )}
    </div>
  );
}

function OneClass({ classId, view }: { classId: string; view: string }) {
  const [room, setRoom] = useState<ClassRoom | null>(null);
  const [trouble, setTrouble] = useState('');
  const load = () => {
    getJson<ClassRoom>(`classes/${classId}`).then(setRoom, (error: Error) => setTrouble(error.message));
  };
  useEffect(load, [classId]);
  if (!room) {
    return (
      <div class="stack">
        <h1>Class</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
      </div>
    );
  }
  const isInstructor = room.my_role === 'instructor';
  return (
    <div class="stack">
      <p class="small no-print">
        <a href="#/class">All classes</a>
      </p>
      <h1>{room.title}</h1>
      <nav class="row no-print" aria-label="In this class">
        {views.filter(([key]) => isInstructor || key !== 'audit').map(([key, name]) => (
          <a class="button-link" href={`#/class/${classId}/${key}`} aria-current={view === key ? 'page' : undefined}>
            {name}
          </a>
        ))}
      </nav>
      {view === 'people' && <People room={room} isInstructor={isInstructor} onChanged={load} />}
      {view === 'skills' && <SkillsMap room={room} />}
      {view === 'drill' && <DrillRulesView classId={classId} isInstructor={isInstructor} />}
      {view === 'stations' && (
        <section class="stack">
          <StationList stations={room.stations} />
          {isInstructor && (
            <p>
              <a class="button-link main-link" href={`#/station/new/${classId}`}>New station</a>
            </p>
          )}
        </section>
      )}
      {view === 'results' && <Results room={room} />}
      {view === 'audit' && isInstructor && <Audit classId={classId} />}
    </div>
  );
}
