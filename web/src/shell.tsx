// The frame around every place: name, places, who is here, theme and size, and the caution.
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { VolumeSlider } from './audio/volume';
import { BedsidePlace } from './bedside/opened';
import { RecordedPlace } from './bedside/recorded';
import { CaseSheet } from './bedside/sheet';
import { Bench } from './bench/bench';
import { BuildPlace } from './build/builder';
import { Sites } from './chest/sites_page';
import { AskFirst } from './class/ask_first';
import { ClassPlace } from './class/class_place';
import { JoinPage, Login } from './class/login';
import { DrillPlace } from './drill/drill';
import { FrontPage } from './front/front';
import { route } from './lib/route';
import { isJoined, isUnderWay, loadSession, logOut, session, sessionTrouble } from './lib/session';
import { size, theme } from './lib/settings';
import { RoundPlace } from './round/place';
import { ShowPlace } from './show/show_place';
import { StationPlace } from './station/station_place';

// Places without a name are reached from another one. `login`: why somebody must be known here; absent
// where nobody needs to be.
interface PlaceInPhren {
  path: string;
  name?: string;
  view: () => JSX.Element;
  login?: string;
}
const places: PlaceInPhren[] = [
  { path: 'bedside', name: 'Bedside', view: () => <BedsidePlace /> },
  { path: 'show', name: 'Show', view: () => <ShowPlace /> },
  { path: 'bench', name: 'Bench', view: () => <Bench /> },
  { path: 'drill', name: 'Drill', view: () => <DrillPlace />,
    login: 'The drill remembers what you mix up, so it must know who you are.' },
  { path: 'round', name: 'Round', view: () => <RoundPlace /> },
  { path: 'station', name: 'Station', view: () => <StationPlace />, login: 'Instructors and examiners log in here.' },
  { path: 'class', name: 'Class', view: () => <ClassPlace />,
    login: 'Records of a class are shown only to those who teach it, and your own to you.' },
  { path: 'sites', name: 'Sites', view: () => <Sites /> },
  { path: 'build', view: () => <BuildPlace /> },
  { path: 'sheet', view: () => <CaseSheet /> },
  { path: 'recorded', view: () => <RecordedPlace /> },
];

function Known({ place }: { place: PlaceInPhren }) {
  const now = session.value;
  const [isStaff, setStaff] = useState(false);
  useEffect(() => {
    if (!now) void loadSession();
  }, [place]);
  if (!now) {
    return sessionTrouble.value
      ? (
        <div class="stack">
          <h1>{place.name}</h1>
          <p class="notice" role="alert">
            {sessionTrouble.value}{' '}
            <button class="plain" onClick={() => {
              void loadSession();
            }}>
              Try again
            </button>
          </p>
        </div>
      )
      : <h1>{place.name}</h1>;
  }
  if (now.person) return place.view();
  // Most who come here without a session are learners with a code from the wall.
  const isForLearners = place.path === 'station' && route.value.length === 1 && !isStaff;
  return isForLearners ? <JoinPage code="" onStaff={() => setStaff(true)} /> : <Login forWhat={place.login!} />;
}

export function Shell() {
  useEffect(() => {
    scrollTo({ top: 0 });
  }, [route.value.join('/')]);
  const isJoining = route.value[0] === 'join';
  const night = theme.value === 'night';
  const hall = size.value === 'hall';
  const now = session.value;
  useEffect(() => {
    void loadSession();
  }, []);
  // Whoever joined a station has that, the drill and the own page, and nothing else to look at.
  const shown = isJoined()
    ? places.filter((place) => ['station', 'round', 'drill', 'class'].includes(place.path))
    : places;
  const isFront = route.value.length === 0 && !isJoined();
  const current = shown.find((place) => place.path === route.value[0]) ??
    shown.find((place) => place.path === 'station' && isJoined()) ?? shown[0]!;
  // At a patient the places step back: what is in view is the patient's.
  const isAtPatient = route.value[0] === 'bedside' && route.value.length > 1;
  const links = shown.filter((place) => place.name).map((place) => (
    <a href={`#/${place.path}`} aria-current={place === current && !isJoining && !isFront ? 'page' : undefined}>
      {place.name}
    </a>
  ));
  const looks = (
    <>
      <button aria-pressed={night} onClick={() => {
        theme.value = night ? 'paper' : 'night';
      }}>
        Night
      </button>
      <button class="wide-only" aria-pressed={hall} onClick={() => {
        size.value = hall ? 'hand' : 'hall';
      }}>
        Projector
      </button>
    </>
  );
  return (
    <>
      <header class="bar">
        <a class="name" href="#/" aria-current={isFront ? 'page' : undefined}>
          <svg viewBox="0 0 64 64" aria-hidden="true">
            <path d="M8 40Q20 10 32 22T56 16" />
          </svg>
          Phren
        </a>
        {isAtPatient ? <span class="grow" /> : <nav class="bar-places" aria-label="Places">{links}</nav>}
        <span class="row">
          {now?.person && (!now.is_local || now.person.role === 'learner') && (
            <span class="small">
              {now.person.name} {isUnderWay.value
                ? (
                  <AskFirst words="Leave" no="Stay" isPlain
                    ask={'You are in the middle of a station and its clock goes on. With the same code ' +
                      'and key you can come back. Leave?'} onYes={async () => {
                    await logOut();
                  }} />
                )
                : (
                  <button class="plain" onClick={() => {
                    void logOut();
                  }}>
                    {isJoined() ? 'Leave' : 'Log out'}
                  </button>
                )}
            </span>
          )}
          <VolumeSlider />
          <details class={isAtPatient ? 'menu' : 'menu phone-menu'} onClick={(event) => {
            // Whoever has gone somewhere is done with it.
            if ((event.target as HTMLElement).closest('a')) event.currentTarget.open = false;
          }}>
            <summary>Menu</summary>
            <div class="menu-open">
              <nav aria-label="Places">{links}</nav>
              <div class="row">{looks}</div>
            </div>
          </details>
          {!isAtPatient && <span class="row bar-looks">{looks}</span>}
        </span>
      </header>
      <main>
        {isJoining
          ? <JoinPage code={route.value[1] ?? ''} />
          : isFront
          ? <FrontPage />
          : current.login
          ? <Known place={current} />
          : current.view()}
      </main>
      <footer class="foot">
        <p>
          Training aid. Not a medical device; not for diagnosing or treating anyone. Follow local protocols and medical
          direction.
        </p>
      </footer>
    </>
  );
}
