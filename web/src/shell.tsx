// The frame around every place: name, places, theme and size, and the caution.
import type { JSX } from 'preact';
import { useEffect } from 'preact/hooks';
import { route } from './lib/route';
import { size, theme } from './lib/settings';
import { Bench } from './bench/bench';
import { BedsidePlace } from './bedside/opened';
import { RecordedPlace } from './bedside/recorded';
import { CaseSheet } from './bedside/sheet';
import { Sites } from './chest/sites_page';

// Places without a name are reached from another one.
interface PlaceInPhren { path: string; name?: string; view: () => JSX.Element }
const places: PlaceInPhren[] = [
  { path: 'bedside', name: 'Bedside', view: () => <BedsidePlace /> },
  { path: 'bench', name: 'Bench', view: () => <Bench /> },
  { path: 'sites', name: 'Sites', view: () => <Sites /> },
  { path: 'sheet', view: () => <CaseSheet /> },
  { path: 'recorded', view: () => <RecordedPlace /> },
];

export function Shell() {
  const current = places.find((place) => place.path === route.value[0]) ?? places[0]!;
  useEffect(() => { scrollTo({ top: 0 }); }, [route.value.join('/')]);
  const night = theme.value === 'night';
  const hall = size.value === 'hall';
  return <>
    <header class="bar">
      <a class="name" href="#/">Phren</a>
      <nav aria-label="Places">
        {places.filter((place) => place.name).map((place) => <a href={`#/${place.path}`} aria-current={place === current ? 'page' : undefined}>{place.name}</a>)}
      </nav>
      <span class="row">
        <button aria-pressed={night} onClick={() => { theme.value = night ? 'paper' : 'night'; }}>Night</button>
        <button aria-pressed={hall} onClick={() => { size.value = hall ? 'hand' : 'hall'; }}>Hall size</button>
      </span>
    </header>
    <main>{current.view()}</main>
    <footer class="foot">
      <p>Training aid. Not a medical device; not for diagnosing or treating anyone. Follow local protocols and medical direction.</p>
    </footer>
  </>;
}
