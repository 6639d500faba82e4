// The patient of the round and one's own chestpiece: the same parts as at the Bedside.
import { useEffect, useState } from 'preact/hooks';
import { lyingOf } from '../bedside/bedside';
import type { Encounter } from '../bedside/session';
import { personInWords, type Posture } from '../bedside/types';
import { BodyView } from '../body/body_view';
import { toneOf } from '../body/tones';
import { AspectChoice } from '../chest/aspect_choice';
import { ChestView } from '../chest/chest_view';
import { inWords } from '../chest/landmarks';
import { askable, postureLabel, postures } from '../generated/bedside';
import type { Round } from './round';

export function Field({ round, encounter, mayMove }: { round: Round; encounter: Encounter; mayMove: boolean }) {
  const [mayLoadBody, setMayLoadBody] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setMayLoadBody(true), 1200);
    return () => clearTimeout(timer);
  }, []);
  const press = () => {
    if (encounter.isPressed.peek()) {
      void encounter.lift();
      return;
    }
    void round.start().then((isThere) => {
      if (isThere) encounter.press();
    });
  };
  const place = encounter.place.value, site = encounter.siteHere();
  const isPressed = encounter.isPressed.value, isBell = encounter.isBell.value;
  const shown = { body: encounter.body, place, isPressed, isBell, isClothed: encounter.isClothed.value,
    sites: encounter.sites, markedSites: encounter.markedSites.value, heardSites: encounter.heardSites.value,
    onMove: (to: typeof place) => encounter.move(to), onPress: press };
  return (
    <section class="stack" aria-label="Chest">
      <h1>{encounter.prepared.title}</h1>
      <p class="soft small">{personInWords(encounter.prepared.person)}</p>
      <BodyView {...shown} tone={toneOf(encounter.seed)} lying={lyingOf[encounter.posture.value]} mayLookThrough={false}
        live={() => round.live} mayLoad={mayLoadBody || isPressed}
      >
        <AspectChoice aspect={encounter.aspect.value} onChange={(aspect) => encounter.show(aspect)} />
        <ChestView {...shown} aspect={encounter.aspect.value} />
      </BodyView>
      <p class="place-words" aria-live="polite">
        {inWords(place)}
        {site && <span class="soft">{' '}· {site.name} ({site.id})</span>}
      </p>
      <div class="main-action">
        <button class="main" onClick={press} aria-pressed={isPressed}>
          {isPressed ? 'Lift the chestpiece' : 'Put the chestpiece on'}
        </button>
        <button onClick={() => encounter.otherSide()}>Other side</button>
        <button aria-pressed={isBell} onClick={() => encounter.setBell(!isBell)}>Bell</button>
      </div>
      {mayMove && <Moving encounter={encounter} />}
    </section>
  );
}

// What concerns everybody: clothing, posture, what the patient is asked to do.
function Moving({ encounter }: { encounter: Encounter }) {
  return (
    <div class="row" role="group" aria-label="The patient, for everybody">
      {encounter.prepared.clothing !== 'bare' && (
        <button onClick={() => (encounter.isClothed.value ? encounter.uncover() : encounter.cover())}>
          {encounter.isClothed.value ? 'Open the clothing' : 'Close the clothing'}
        </button>
      )}
      <label class="row">
        Position{' '}
        <select value={encounter.posture.value}
          onChange={(event) => encounter.setPosture(event.currentTarget.value as Posture)}
        >
          {postures.map((one) => <option value={one}>{postureLabel[one]}</option>)}
        </select>
      </label>
      {askable.filter((one) => one.key).map((one) => (
        <button onClick={() => encounter.ask(one.manoeuvre)}>{one.label}</button>
      ))}
    </div>
  );
}

export function RoundMonitor({ encounter }: { encounter: Encounter }) {
  const vitals = encounter.now.value?.vitals;
  const figure = (value: number | undefined) =>
    value === undefined || !Number.isFinite(value) ? '--' : value.toFixed(0);
  const readings: [string, string, string][] = [['SpO2', figure(vitals?.spo2), '%'], ['Pulse',
    figure(vitals?.heartPerMin), '/min'], ['Breathing', figure(vitals?.breathsPerMin), '/min'], ['EtCO2',
    figure(vitals?.etco2), 'mmHg'], ['Blood pressure', `${figure(vitals?.systolic)}/${figure(vitals?.diastolic)}`,
    'mmHg']];
  return (
    <section class="readings" aria-label="Monitor">
      {readings.map(([name, value, unit]) => (
        <div class="reading">
          <span class="small soft">{name}</span>
          <span class="figures big">
            {value} <span class="small">{unit}</span>
          </span>
        </div>
      ))}
    </section>
  );
}

export function LineState({ round }: { round: Round }) {
  const unsent = round.numUnsent.value;
  return (
    <>
      {round.state.value === 'down' && (
        <p class="notice" role="status">
          The line is down; it is being opened again.{unsent > 0 && ` Kept here to be sent: ${unsent}.`}
        </p>
      )}
      {round.trouble.value && (
        <p class="notice" role="alert">
          {round.trouble.value}{' '}
          <button class="plain" onClick={() => {
            round.trouble.value = '';
          }}>
            Put away
          </button>
        </p>
      )}
    </>
  );
}
