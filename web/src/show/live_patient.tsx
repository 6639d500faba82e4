// A live patient on the projector: a running body, a chestpiece that keys move from place to place, its airways and
// its monitor. Everything else is done at the Bedside.
import { signal } from '@preact/signals';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { loadCase, loadConfig } from '../bedside/patients';
import { type Case, personInWords } from '../bedside/types';
import { type Engine, startEngine } from '../engine/engine';
import { Airway } from '../explain/airway';
import { LiveTrace } from '../explain/live_trace';
import { Tape } from '../explain/tape';
import type { Now } from '../generated/bedside';
import { newId } from '../lib/new_id';
import { address } from '../lib/route';
import type { Shown } from './types';

// Front and back, high to low, each pair right and left: what a first look at a chest takes.
const kRound = ['F5', 'F6', 'F9', 'F10', 'S3', 'S4', 'P5', 'P6', 'P9', 'P10'];

export function LivePatient({ id, shown, isQuiet }: { id: string; shown: Shown; isQuiet: boolean }) {
  const [prepared, setPrepared] = useState<Case | null>(null);
  const [trouble, setTrouble] = useState('');
  const [at, setAt] = useState(-1); // of kRound; -1: the chestpiece is off
  const engine = useRef<Engine | null>(null);
  const tape = useMemo(() => new Tape(), []);
  const now = useMemo(() => signal<Now | null>(null), []);
  const sites = kRound.map((one) => shown.sites.find((site) => site.id === one)!).filter(Boolean);

  useEffect(() => {
    loadCase(id).then(setPrepared, (error: Error) => setTrouble(error.message));
    return () => {
      engine.current?.close();
      engine.current = null;
    };
  }, [id]);
  useEffect(() => {
    if (isQuiet || engine.current) {
      engine.current?.send({ do: 'pause', isPaused: isQuiet });
      return;
    }
    let isHere = true;
    loadConfig(id).then((packet) =>
      startEngine({ packet, seed: shown.seed, sites: [], history: [], untilS: 0 }, {
        onNow: (one, block) => {
          now.value = one;
          tape.take(one, block);
        },
        onEvents: (events) => tape.add(events),
        onFindings: () => {/* nothing is asked here */},
        onDone: () => {/* nothing is kept here */},
        onReady: () => {/* one listens as the lesson says */},
        onFailed: setTrouble,
      })
    ).then((made) => {
      if (!isHere) return made.close();
      engine.current = made;
      made.send({ do: 'deed', entry: { id: newId(), t: 0, do: 'expose' } });
      put(at < 0 ? 0 : at);
    }, (error: Error) => setTrouble(error.message));
    return () => {
      isHere = false;
    };
  }, [isQuiet]);

  const put = (index: number) => {
    const site = sites[index];
    if (!site) return;
    setAt(index);
    engine.current?.send({ do: 'deed',
      entry: { id: newId(), t: 0, do: 'place', aspect: site.aspect, u: site.u, v: site.v } });
  };
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if ((event.target as HTMLElement).closest('input,select,textarea')) return;
      const by = event.key === 'ArrowDown' ? 1 : event.key === 'ArrowUp' ? -1 : 0;
      const number = /^[0-9]$/.test(event.key) ? (Number(event.key) + 9) % 10 : -1;
      if (by === 0 && number < 0) return;
      event.preventDefault();
      put(number >= 0 ? number : (at + by + sites.length) % sites.length);
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
  const vitals = now.value?.vitals;
  const figure = (
    value: number | undefined,
  ) => (value === undefined || !Number.isFinite(value) ? '--' : value.toFixed(0));
  return (
    <div class="show-sound">
      <div class="show-words">
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <p>
          <strong>{prepared?.title ?? ''}</strong>
        </p>
        {prepared && <p class="soft">{personInWords(prepared.person)}</p>}
        <p>
          SpO2 {figure(vitals?.spo2)} % · EtCO2 {figure(vitals?.etco2)} · pulse {figure(vitals?.heartPerMin)} ·{' '}
          {figure(vitals?.systolic)}/{figure(vitals?.diastolic)} · breaths {figure(vitals?.breathsPerMin)}
        </p>
        <ol class="show-places">
          {sites.map((site, i) => (
            <li>
              <button aria-pressed={i === at} onClick={() => put(i)}>{(i + 1) % 10} {site.name}</button>
            </li>
          ))}
        </ol>
        <p class="soft">
          ↑ ↓ or a digit moves the chestpiece. <a href={address('bedside', id)}>All hands at the Bedside</a>
        </p>
      </div>
      <div class="show-pictures">
        <LiveTrace tape={tape} now={now} />
        <Airway tape={tape} now={now} />
      </div>
    </div>
  );
}
