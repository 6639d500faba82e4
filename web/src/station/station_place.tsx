// Stations: a learner takes the one joined; staff see theirs, build new ones, and sit at the desk of one.
import { useEffect, useState } from 'preact/hooks';
import { JoinPage } from '../class/login';
import type { ClassRoom, ClassSummary, StationSummary } from '../class/types';
import { getJson } from '../lib/api';
import { route } from '../lib/route';
import { session } from '../lib/session';
import { Builder } from './builder';
import { Desk } from './desk';
import { LearnerStation } from './learner_station';
import { Tablet } from './tablet';

export const stateInWords: Record<string, string> = { draft: 'draft', open: 'open', closed: 'closed, not yet released',
  released: 'results released' };

export function StationPlace() {
  const [, first, second, third] = route.value;
  if (session.value!.station_id) return <LearnerStation key={session.value!.station_id} />;
  if (session.value!.person!.role === 'learner') return <JoinPage code="" />;
  if (first === 'new' && second) return <Builder key={second} classId={second} startCase={third ?? ''} />;
  if (first && second === 'change') return <Builder key={first} stationId={first} />;
  if (first && second === 'mark' && third) return <Tablet key={third} stationId={first} encounterId={third} />;
  if (first) return <Desk key={first} stationId={first} />;
  return <AllStations />;
}

function AllStations() {
  const [classes, setClasses] = useState<ClassRoom[] | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ classes: ClassSummary[] }>('classes')
      .then((answer) =>
        Promise.all(
          answer.classes.filter((one) => one.my_role !== 'learner').map((one) =>
            getJson<ClassRoom>(`classes/${one.id}`)
          ),
        )
      )
      .then(setClasses, (error: Error) => setTrouble(error.message));
  }, []);
  return (
    <div class="stack">
      <h1>Stations</h1>
      <p>
        A station is one patient, a checklist and a time limit. Learners join with a code; what they do is marked from
        what they did.
      </p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {classes?.length === 0 && (
        <p>
          A station belongs to a class. <a href="#/class">Make a class first.</a>
        </p>
      )}
      {(classes ?? []).map((one) => (
        <section class="stack">
          <h2>{one.title}</h2>
          <StationList stations={one.stations} />
          {one.my_role === 'instructor' && (
            <p>
              <a class="button-link" href={`#/station/new/${one.id}`}>New station</a>
            </p>
          )}
        </section>
      ))}
      <p class="small">
        Taking part yourself? <a href="#/join">Join with a code</a>
      </p>
    </div>
  );
}

export function StationList({ stations }: { stations: readonly StationSummary[] }) {
  if (stations.length === 0) return <p class="soft">No station yet.</p>;
  return (
    <ul class="plain-list cases">
      {stations.map((one) => (
        <li>
          <a class="case" href={`#/station/${one.id}`}>
            <strong>{one.title}</strong>
            <span class="soft small">
              {stateInWords[one.state]}
              {one.state === 'open' && ` · code ${one.join_code}`}
            </span>
          </a>
        </li>
      ))}
    </ul>
  );
}
