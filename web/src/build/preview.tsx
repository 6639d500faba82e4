// What this patient will give, before anything is kept: the words at each place and the monitor's next half hour.
import { useEffect, useRef, useState } from 'preact/hooks';
import { fetchModule } from '../engine/engine';
import type { Vitals } from '../generated/bedside';
import { getJson, postText } from '../lib/api';
import type { FromCourse, ToCourse } from './course_worker';
import workerUrl from './course_worker?worker&url';
import { kToml, packetOfText, readPatient } from './kept_patients';

interface Site {
  id: string;
  name: string;
}
interface Heard {
  site_id: string;
  words: string;
}
const kWait_ms = 500;

const rows: [string, (one: Vitals) => number, number][] = [
  ['SpO2 %', (one) => one.spo2, 0],
  ['EtCO2 mmHg', (one) => one.etco2, 0],
  ['Pulse /min', (one) => one.heartPerMin, 0],
  ['Systolic mmHg', (one) => one.systolic, 0],
  ['Breaths /min', (one) => one.breathsPerMin, 0],
];

// `onTrouble` hears what the reader of cases says about the text, or nothing.
export function Preview({ text, onTrouble }: { text: string; onTrouble: (words: string) => void }) {
  const [sites, setSites] = useState<readonly Site[]>([]);
  const [heard, setHeard] = useState<readonly Heard[] | null>(null);
  const [course, setCourse] = useState<{ minutes: number[]; vitals: Vitals[] } | null>(null);
  const turn = useRef(0);
  const worker = useRef<Worker | null>(null);
  useEffect(() => {
    getJson<{ sites: Site[] }>('sites').then((answer) => setSites(answer.sites), () => {/* ids stand for names */});
    return () => worker.current?.terminate();
  }, []);
  useEffect(() => {
    const mine = ++turn.current;
    const isMine = () => mine === turn.current;
    const timer = setTimeout(() => {
      void (async () => {
        try {
          await readPatient(text);
          if (!isMine()) return;
          onTrouble('');
          const [packet, wasm] = await Promise.all([packetOfText(text), fetchModule()]);
          if (!isMine()) return;
          worker.current?.terminate(); // what it works on is not wanted any more
          worker.current = new Worker(workerUrl, { type: 'module' });
          worker.current.onmessage = ({ data }: MessageEvent<FromCourse>) => {
            if (data.turn !== turn.current) return;
            if ('trouble' in data) onTrouble(data.trouble);
            else setCourse(data);
          };
          worker.current.postMessage({ wasm, packet, turn: mine } satisfies ToCourse);
          const answer = await postText<{ places: Heard[] }>('patients/expected', kToml, text);
          if (isMine()) setHeard(answer.places);
        } catch (error) {
          if (isMine()) onTrouble((error as Error).message);
        }
      })();
    }, kWait_ms);
    return () => clearTimeout(timer);
  }, [text]);

  // Places that give the same but for decibels stand together; the case sheet has each figure.
  const groups = new Map<string, string[]>();
  for (const one of heard ?? []) {
    const words = one.words.replace(/,? ?-?\d+(\.\d+)? dB (below|above) [^;,.]*/g, '');
    groups.set(words, [...(groups.get(words) ?? []), sites.find((site) =>
      site.id === one.site_id
    )?.name ?? one.site_id]);
  }
  return (
    <section class="stack" aria-label="Preview">
      <h2>The next half hour, untreated</h2>
      {course
        ? (
          <div class="scroll-x" data-course>
            <table class="small figures">
              <thead>
                <tr>
                  <th scope="col">minute</th>
                  {course.minutes.map((minute) => <th scope="col">{minute}</th>)}
                </tr>
              </thead>
              <tbody>
                {rows.map(([name, take, digits]) => (
                  <tr>
                    <th scope="row">{name}</th>
                    {course.vitals.map((one) => {
                      const value = take(one);
                      return <td>{Number.isFinite(value) ? value.toFixed(digits) : '--'}</td>;
                    })}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )
        : <p class="loading">Living it ahead</p>}
      <h2>What each place will give</h2>
      {heard
        ? (
          <ul class="plain-list" data-heard>
            {[...groups].sort((a, b) => b[1].length - a[1].length).map(([words, places]) => (
              <li class="build-heard">
                <strong>{words}</strong>
                <span class="soft small">
                  {places.length > 6
                    ? `${places.length} places: ${places.slice(0, 4).join(', ')} …`
                    : places.join(', ')}
                </span>
              </li>
            ))}
          </ul>
        )
        : <p class="loading">Listening at every place</p>}
    </section>
  );
}
