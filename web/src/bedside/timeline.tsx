// The encounter from beginning to end: what was done when, and how the patient fared.
import type { RefObject } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { DebriefAnswer, StayAnswer, StepAnswer, StepKind } from '../generated/bedside';
import { size } from '../lib/settings';
import { clock } from './marking';

const kLeft = 4;
const kWord = 3; // height of the words in units, as in style.css
const kWord_rem = 0.85; // and on the screen, however wide it is

// Units across the drawing, so that its words are as large as the text around them.
function useUnitsAcross(field: RefObject<HTMLElement>): number {
  const [across, setAcross] = useState(200);
  const shown = size.value;
  useEffect(() => {
    const measure = () => {
      const rem_px = parseFloat(getComputedStyle(document.documentElement).fontSize);
      setAcross(Math.max(50, (field.current!.clientWidth * kWord) / (kWord_rem * rem_px)));
    };
    const watch = new ResizeObserver(measure);
    watch.observe(field.current!);
    return () => watch.disconnect();
  }, [shown]);
  return across;
}

export function Timeline({ steps, stays, totalS, atS, relived }: {
  steps: readonly StepAnswer[];
  stays: readonly StayAnswer[];
  totalS: number;
  atS: number | null;
  relived: DebriefAnswer | null;
}) {
  const field = useRef<HTMLElement>(null);
  const across = useUnitsAcross(field), right = across - kLeft;
  const x = (t: number) => kLeft + (t / totalS) * (right - kLeft);
  const dots = (kind: StepKind) =>
    steps.filter((one) => one.kind === kind).map((one) => ({ t: one.t, to: undefined as number | undefined,
      words: one.words })
    );
  const rows = [
    { name: 'listened',
      items: stays.map((one) => ({ t: one.start_s, to: one.end_s as number | undefined,
        words: one.site_id || one.aspect })
      ) },
    { name: 'asked, examined', items: dots('examine') },
    { name: 'found', items: dots('find') },
    { name: 'treated', items: dots('treat') },
  ];
  return (
    <section class="stack" aria-label="Timeline" ref={field}>
      <svg class="timeline" viewBox={`0 0 ${across} 51`} role="img"
        aria-label={`Timeline of ${clock(totalS)}; the list of steps says the same in words`}
      >
        {rows.map((row, i) => (
          <g transform={`translate(0 ${4 + i * 11})`}>
            <line x1={kLeft} x2={right} y1="6" y2="6" class="time-line" />
            <text x="4" y="2.6" class="time-word">{row.name}</text>
            {row.items.map((item) =>
              item.to !== undefined
                ? (
                  <rect class="time-span" x={x(item.t)} width={Math.max(0.6, x(item.to) - x(item.t))} y="4.2"
                    height="3.6"
                  >
                    <title>{`${clock(item.t)} ${item.words}`}</title>
                  </rect>
                )
                : (
                  <circle class="time-dot" cx={x(item.t)} cy="6" r="1.5">
                    <title>{`${clock(item.t)} ${item.words}`}</title>
                  </circle>
                )
            )}
          </g>
        ))}
        {atS !== null && <line class="time-now" x1={x(atS)} x2={x(atS)} y1="4" y2="45" />}
        <text x="4" y="49" class="time-word">0:00</text>
        <text x={right} y="49" text-anchor="end" class="time-word">{clock(totalS)}</text>
      </svg>
      {relived && relived.monitor.length > 2 && <Trend relived={relived} totalS={totalS} across={across} x={x} />}
    </section>
  );
}

// Vital signs over the encounter, each in its own band with its own ends.
function Trend(
  { relived, totalS, across, x }: { relived: DebriefAnswer; totalS: number; across: number; x: (t: number) => number },
) {
  const lines = [
    { name: 'SpO2', unit: '%', read: (i: number) => relived.monitor[i]!.spo2_percent },
    { name: 'pulse', unit: '/min', read: (i: number) => relived.monitor[i]!.heart_rate_per_min },
    { name: 'breaths', unit: '/min', read: (i: number) => relived.monitor[i]!.respiratory_rate_per_min },
  ].map((line) => {
    const values = relived.monitor.map((_, i) => line.read(i));
    return { ...line, values, low: Math.min(...values), high: Math.max(...values) };
  });
  const words = lines.map((line) => `${line.name} ${Math.round(line.low)} to ${Math.round(line.high)} ${line.unit}`)
    .join('; ');
  return (
    <svg class="timeline" viewBox={`0 0 ${across} 42`} role="img"
      aria-label={`The patient over ${clock(totalS)}: ${words}`}
    >
      {lines.map((line, i) => {
        const top = 5.5 + i * 12.5, span = Math.max(2, line.high - line.low);
        const points = line.values.map((value, j) =>
          `${x(relived.monitor[j]!.t).toFixed(2)},${(top + 7 - ((value - line.low) / span) * 6).toFixed(2)}`
        ).join(' ');
        return (
          <g>
            <text x="4" y={top - 0.8} class="time-word">
              {line.name} {Math.round(line.values[0]!)} → {Math.round(line.values[line.values.length - 1]!)} {line.unit}
            </text>
            <polyline class="trend" points={points} />
          </g>
        );
      })}
    </svg>
  );
}
