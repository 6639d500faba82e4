// The monitor: nothing is shown before it is put on, and the breaths may have to be counted.
import { useEffect, useRef, useState } from 'preact/hooks';
import { cssColour } from '../explain/ink';
import type { VitalId, Vitals } from '../generated/bedside';
import { theme } from '../lib/settings';
import type { Encounter } from './session';

// The last reading of a vital sign, as the log has it.
const lastRead = (encounter: Encounter, vital: VitalId): number | undefined =>
  encounter.standing.value?.readings.find((one) => one.vital === vital)?.value ?? undefined;

export function Monitor({ encounter, onStart }: { encounter: Encounter; onStart: () => Promise<boolean> }) {
  const has = (vital: VitalId) => encounter.standing.value?.readings.some((one) => one.vital === vital) ?? false;
  // Read as soon as the body has told how it is.
  const read = (take: (vitals: Vitals) => [VitalId, number][]) => {
    void onStart().then((isThere) => {
      if (!isThere) return;
      let done = false;
      const stop = encounter.now.subscribe((now) => {
        if (!now || done) return;
        done = true;
        for (const [vital, value] of take(now.vitals)) encounter.measure(vital, value);
        queueMicrotask(() => stop());
      });
    });
  };
  const vitals = encounter.now.value?.vitals;
  const number = (value: number | undefined,
    digits = 0) => (value === undefined || !Number.isFinite(value) ? '--' : value.toFixed(digits));
  const isRateShown = encounter.isRateShown.value;
  return (
    <section class="stack" aria-label="Monitor">
      <div class="readings">
        <Reading name="SpO2" unit="%" isOn={has('spo2_percent')} put="Clip on the oximeter" value={number(vitals?.spo2)}
          onPut={() => read((one) => [['spo2_percent', one.spo2], ['heart_rate_per_min', one.heartPerMin]])} />
        <Reading name="Pulse" unit="/min" isOn={has('heart_rate_per_min')} value={number(vitals?.heartPerMin)} />
        <Reading name="EtCO2" unit="mmHg" isOn={has('etco2_mmHg')} put="Put on capnometry" value={number(vitals?.etco2)}
          onPut={() => read((one) => [['etco2_mmHg', one.etco2]])} />
        <Reading name="Blood pressure" unit="mmHg" isOn={has('systolic_mmHg')} put="Take the pressure"
          again="Take it again"
          value={`${number(lastRead(encounter, 'systolic_mmHg'))}/${number(lastRead(encounter, 'diastolic_mmHg'))}`}
          onPut={() => read((one) => [['systolic_mmHg', one.systolic], ['diastolic_mmHg', one.diastolic]])} />
        <Reading name="Temperature" unit="°C" isOn={has('temperature_C')} put="Take the temperature"
          again="Take it again" value={number(lastRead(encounter, 'temperature_C'), 1)}
          onPut={() => read((one) => [['temperature_C', one.temperature]])} />
        {isRateShown && <Reading name="Breathing rate" unit="/min" isOn value={number(vitals?.breathsPerMin)} />}
      </div>
      {has('etco2_mmHg') && <Capnogram encounter={encounter} />}
      {!isRateShown && <Counting encounter={encounter} />}
      <label class="row">
        <input type="checkbox" checked={isRateShown} onChange={(event) => {
          encounter.isRateShown.value = event.currentTarget.checked;
          if (event.currentTarget.checked) read((one) => [['respiratory_rate_per_min', one.breathsPerMin]]);
        }} />{' '}
        Show the breathing rate instead of counting it
      </label>
    </section>
  );
}

// What is on stays in view wherever one is: the numbers alone.
export function MonitorStrip({ encounter }: { encounter: Encounter }) {
  const readings = encounter.standing.value?.readings ?? [];
  const has = (vital: VitalId) => readings.some((one) => one.vital === vital);
  const vitals = encounter.now.value?.vitals;
  const whole = (value: number | undefined) => value === undefined || !Number.isFinite(value) ? '--' : value.toFixed(0);
  const shown: [string, string][] = [];
  if (has('spo2_percent')) shown.push(['SpO2', whole(vitals?.spo2) + ' %']);
  if (has('heart_rate_per_min')) shown.push(['Pulse', whole(vitals?.heartPerMin)]);
  if (has('etco2_mmHg')) shown.push(['EtCO2', whole(vitals?.etco2)]);
  if (has('systolic_mmHg')) {
    shown.push(['BP',
      `${whole(lastRead(encounter, 'systolic_mmHg'))}/${whole(lastRead(encounter, 'diastolic_mmHg'))}`]);
  }
  if (encounter.isRateShown.value) shown.push(['RR', whole(vitals?.breathsPerMin)]);
  if (shown.length === 0) return <span class="small soft">Nothing is on the monitor yet</span>;
  return (
    <span class="row strip-values" aria-label="On the monitor">
      {shown.map(([name, value]) => (
        <span>
          <span class="small soft">{name}</span> <strong class="figures">{value}</strong>
        </span>
      ))}
    </span>
  );
}

function Reading({ name, unit, value, isOn, put, again, onPut }: {
  name: string;
  unit: string;
  value: string;
  isOn: boolean;
  put?: string;
  again?: string;
  onPut?: () => void;
}) {
  if (!isOn) {
    return put
      ? (
        <div class="reading">
          <button onClick={onPut}>{put}</button>
        </div>
      )
      : null;
  }
  return (
    <div class="reading">
      <span class="small soft">{name}</span>
      <span class="figures big">
        {value}
        <span class="small">{' '}{unit}</span>
      </span>
      {again && <button class="plain" onClick={onPut}>{again}</button>}
    </div>
  );
}

// The learner counts: each tap is one breath in; the rate comes from the taps alone.
function Counting({ encounter }: { encounter: Encounter }) {
  const [taps, setTaps] = useState<number[]>([]);
  const isDone = taps.length > 1 && taps[taps.length - 1]! - taps[0]! >= 29;
  const rate = taps.length > 1 ? ((taps.length - 1) * 60) / (taps[taps.length - 1]! - taps[0]!) : 0;
  const tap = () => {
    const next = isDone ? [encounter.timeS] : [...taps, encounter.timeS];
    setTaps(next);
    if (next.length > 1 && next[next.length - 1]! - next[0]! >= 29) {
      encounter.measure('respiratory_rate_per_min',
        Math.round(((next.length - 1) * 60) / (next[next.length - 1]! - next[0]!)));
    }
  };
  return (
    <div class="row">
      <button class="main" onClick={tap}>{isDone ? 'Count again' : 'Tap each breath'}</button>
      <span class="figures" role="status">
        {taps.length === 0 ?
          'Count the breathing rate: tap at each breath in, for 30 seconds.'
          : isDone
          ? `${Math.round(rate)} breaths a minute, as you counted`
          : `${taps.length} counted`}
      </span>
    </div>
  );
}

const kSeconds = 15, kTop_mmHg = 60;

function Capnogram({ encounter }: { encounter: Encounter }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const shade = theme.value;
  useEffect(() => {
    const element = canvas.current!;
    element.width = Math.round(element.clientWidth * devicePixelRatio);
    element.height = Math.round(element.clientHeight * devicePixelRatio);
    const pen = element.getContext('2d')!;
    const ink = cssColour('--ink'), soft = cssColour('--line');
    const trace: [number, number][] = [];
    return encounter.now.subscribe((now) => {
      if (!now) return;
      trace.push([now.timeS, now.capnogram]);
      while (trace.length > 2 && trace[0]![0] < now.timeS - kSeconds) trace.shift();
      const { width, height } = element;
      pen.clearRect(0, 0, width, height);
      pen.strokeStyle = soft;
      pen.lineWidth = 1;
      for (const level of [20, 40]) {
        const y = height * (1 - level / kTop_mmHg);
        pen.beginPath();
        pen.moveTo(0, y);
        pen.lineTo(width, y);
        pen.stroke();
      }
      pen.strokeStyle = ink;
      pen.lineWidth = 2 * devicePixelRatio;
      pen.beginPath();
      trace.forEach(([t, value], i) => {
        const x = width * (1 - (now.timeS - t) / kSeconds), y = height * (1 - value / kTop_mmHg);
        if (i === 0) pen.moveTo(x, y);
        else pen.lineTo(x, y);
      });
      pen.stroke();
    });
  }, [encounter, shade]);
  return (
    <figure class="picture">
      <canvas class="capnogram" ref={canvas} role="img"
        aria-label="Capnogram of the last 15 seconds, lines at 20 and 40 mmHg" />
      <figcaption class="small soft">Capnogram, last {kSeconds} s; lines at 20 and 40 mmHg</figcaption>
    </figure>
  );
}
