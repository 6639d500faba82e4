// A number never without its uncertainty.
import type { Estimate } from './types';

// Points as people write them: no tail of digits.
export const points = (value: number): string => String(Math.round(value * 100) / 100);

const shown = (value: number, digits: number): string => value.toFixed(digits).replace('-', '−');

export function EstimateText(
  { estimate, unit = '', digits = 2, isShare = false }: { estimate: Estimate | null; unit?: string; digits?: number;
    isShare?: boolean },
) {
  if (!estimate || estimate.value === null) return <span class="soft">cannot be told</span>;
  const form = (value: number) => (isShare ? `${Math.round(value * 100)} %` : shown(value, digits));
  const hasInterval = estimate.low !== null && estimate.high !== null;
  return (
    <span class="figures">
      {form(estimate.value)}
      {unit && ` ${unit}`}
      {hasInterval && <span class="small soft">{' '}({form(estimate.low!)} to {form(estimate.high!)})</span>}
    </span>
  );
}

// The interval drawn on a scale, for the eye; the figures stand beside it.
export function Interval({ estimate, from, to }: { estimate: Estimate | null; from: number; to: number }) {
  if (!estimate || estimate.value === null) return null;
  const x = (value: number) => 2 + 96 * Math.min(1, Math.max(0, (value - from) / (to - from)));
  return (
    <svg class="interval" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      <path class="bar-back" d="M2 5h96" />
      {from < 0 && <path class="bar-back" d={`M${x(0)} 1v8`} />}
      {estimate.low !== null && estimate.high !== null && (
        <path class="bar-full thin" d={`M${x(estimate.low)} 5H${x(estimate.high)}`} />
      )}
      <path class="bar-point" d={`M${x(estimate.value) - 1} 1h2v8h-2z`} />
    </svg>
  );
}
