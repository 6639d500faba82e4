// The airways moving with the take that plays.
import { signal } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import { Airway } from '../explain/airway';
import type { HeardEvent, Now } from '../generated/bedside';
import { positionIn } from './loop';
import { kEvery_s, type Take } from './take_worker';

export function AirwayNow({ take }: { take: Take | undefined }) {
  const now = useMemo(() => signal<Now | null>(null), []);
  const tape = useMemo(() => ({ lit: signal<readonly HeardEvent[]>([]) }), []);
  useEffect(() => {
    if (!take) return;
    now.value = take.moments[0] ?? null;
    tape.lit.value = [];
    let frame = requestAnimationFrame(function follow() {
      frame = requestAnimationFrame(follow);
      const at = positionIn(take);
      if (at < 0) return;
      now.value = take.moments[Math.floor(at / kEvery_s)] ?? now.value;
      const lit = take.events.filter((one) => one.isAudible && one.startS <= at && one.endS > at - 0.15);
      if (lit.length !== tape.lit.value.length || lit.some((one, i) => one !== tape.lit.value[i])) tape.lit.value = lit;
    });
    return () => cancelAnimationFrame(frame);
  }, [take]);
  return <Airway tape={tape} now={now} />;
}
