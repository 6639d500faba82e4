// Where to listen: the sites by landmark, on a chest of any age and build.
import { useEffect, useState } from 'preact/hooks';
import { getJson, Trouble } from '../lib/api';
import { AspectChoice } from './aspect_choice';
import { ChestView } from './chest_view';
import { grownWoman, mirrored, type Aspect, type Body, type Place } from './geometry';
import { inWords, siteAt, type Site } from './landmarks';

const builds: { name: string; body: Body }[] = [
  { name: 'Woman of 40', body: grownWoman },
  { name: 'Infant', body: { ageYears: 0.5, sex: 'male', heightCm: 67, weightKg: 8, muscle: 0.2, halfBreadthCm: 6.2, depthCm: 11, lungHeightCm: 9.5 } },
  { name: 'Child of 6', body: { ageYears: 6, sex: 'female', heightCm: 117, weightKg: 21, muscle: 0.2, halfBreadthCm: 9, depthCm: 14, lungHeightCm: 15 } },
  { name: 'Muscular man', body: { ageYears: 28, sex: 'male', heightCm: 182, weightKg: 88, muscle: 0.95, halfBreadthCm: 16.5, depthCm: 24, lungHeightCm: 27 } },
  { name: 'Heavy man', body: { ageYears: 52, sex: 'male', heightCm: 174, weightKg: 122, muscle: 0.3, halfBreadthCm: 17, depthCm: 30, lungHeightCm: 25 } },
  { name: 'Thin elder', body: { ageYears: 83, sex: 'male', heightCm: 168, weightKg: 52, muscle: 0.1, halfBreadthCm: 14, depthCm: 22, lungHeightCm: 25 } },
];
const none: ReadonlySet<string> = new Set();

export function Sites() {
  const [sites, setSites] = useState<Site[]>([]);
  const [trouble, setTrouble] = useState('');
  const [build, setBuild] = useState(0);
  const [aspect, setAspect] = useState<Aspect>('front');
  const [place, setPlace] = useState<Place>({ aspect: 'front', u: -0.6, v: 0.45 });
  useEffect(() => {
    getJson<{ sites: Site[] }>('sites').then((answer) => setSites(answer.sites), (error: Trouble) => setTrouble(error.message));
  }, []);
  const body = builds[build]!.body;
  const near = siteAt(sites, place);
  const move = (to: Place) => { setPlace(to); setAspect(to.aspect); };
  return <div class="two">
    <section class="stack" aria-label="Chest">
      <AspectChoice aspect={aspect} onChange={setAspect} />
      <ChestView body={body} aspect={aspect} place={place} isPressed isBell={false} isClothed={false} sites={sites}
        markedSites={near ? new Set([near.id]) : none} heardSites={none} onMove={move} />
    </section>
    <section class="stack">
      <h1>Where to listen</h1>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <p class="place-words" aria-live="polite">{place.aspect === aspect ? inWords(place) : ''}<br />
        {near && <><strong>{near.name}</strong> ({near.id}): {near.landmark}</>}</p>
      <div class="row">
        <button onClick={() => move(mirrored(place))}>Same place, other side</button>
        <label>Build <select value={build} onChange={(event) => setBuild(Number(event.currentTarget.value))}>
          {builds.map((one, i) => <option value={i}>{one.name}</option>)}</select></label>
      </div>
      <p class="soft small">Rings are places, not points: clinicians differ by centimetres in where they put the midclavicular line.</p>
    </section>
  </div>;
}
