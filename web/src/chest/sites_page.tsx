// Where to listen: the sites by landmark, on a chest of any age and build.
import { useEffect, useState } from 'preact/hooks';
import { BodyView } from '../body/body_view';
import { loadAnswers } from '../engine/ask';
import { getJson, Trouble } from '../lib/api';
import { AspectChoice } from './aspect_choice';
import { builds } from './builds';
import { ChestView } from './chest_view';
import { type Aspect, mirrored, type Place } from './geometry';
import { inWords, type Site, siteAt } from './landmarks';

const none: ReadonlySet<string> = new Set();

export function Sites() {
  const [sites, setSites] = useState<Site[]>([]);
  const [trouble, setTrouble] = useState('');
  const [build, setBuild] = useState(0);
  const [aspect, setAspect] = useState<Aspect>('front');
  const [place, setPlace] = useState<Place>({ aspect: 'front', u: -0.6, v: 0.45 });
  useEffect(() => {
    getJson<{ sites: Site[] }>('sites').then((answer) => {
      setSites(answer.sites);
      void loadAnswers(answer.sites).catch(() => {/* places stay without words */});
    }, (error: Trouble) => setTrouble(error.message));
  }, []);
  const body = builds[build]!.body;
  const near = siteAt(sites, place);
  const move = (to: Place) => {
    setPlace(to);
    setAspect(to.aspect);
  };
  return (
    <div class="two">
      <section class="stack" aria-label="Chest">
        <BodyView body={body} tone={build + 2} place={place} isPressed isBell={false} isClothed={false} lying={0}
          mayLookThrough sites={sites} markedSites={near ? new Set([near.id]) : none} heardSites={none}
          live={() => null} mayLoad onMove={move}
        >
          <AspectChoice aspect={aspect} onChange={setAspect} />
          <ChestView body={body} aspect={aspect} place={place} isPressed isBell={false} isClothed={false} sites={sites}
            markedSites={near ? new Set([near.id]) : none} heardSites={none} onMove={move} />
        </BodyView>
      </section>
      <section class="stack">
        <h1>Where to listen</h1>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <p class="place-words" aria-live="polite">
          {inWords(place)}
          <br />
          {near && (
            <>
              <strong>{near.name}</strong> ({near.id}): {near.landmark}
            </>
          )}
        </p>
        <div class="row">
          <button onClick={() => move(mirrored(place))}>Same place, other side</button>
          <label>
            Build{' '}
            <select value={build} onChange={(event) => setBuild(Number(event.currentTarget.value))}>
              {builds.map((one, i) => <option value={i}>{one.name}</option>)}
            </select>
          </label>
        </div>
        <p class="soft small">
          Rings are places, not points: clinicians differ by centimetres in where they put the midclavicular line.
        </p>
      </section>
    </div>
  );
}
