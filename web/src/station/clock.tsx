// Time left, told in words at one minute and at twenty seconds for those who do not watch it.
import { useEffect, useState } from 'preact/hooks';
import { clock } from '../bedside/marking';
import type { ServedEncounter } from '../class/types';

// `ahead_ms`: how far the server's clock is ahead of this device's, which may be wrong.
export interface Arrived extends ServedEncounter {
  ahead_ms: number;
}
export const arrived = (served: ServedEncounter): Arrived => ({ ...served, ahead_ms: served.now_ms - Date.now() });

export function TimeLeft({ served, onOver }: { served: Arrived; onOver: () => void }) {
  const leftS = () => (served.ends_ms - Date.now() - served.ahead_ms) / 1000;
  const [left, setLeft] = useState(leftS());
  const hasLimit = served.ends_ms > 0;
  useEffect(() => {
    if (!hasLimit) return;
    const timer = setInterval(() => {
      const now = leftS();
      setLeft(now);
      if (now <= 0) {
        clearInterval(timer);
        onOver();
      }
    }, 250);
    return () => clearInterval(timer);
  }, [served.id]);
  if (!hasLimit) return <span class="small soft">no time limit</span>;
  const warning = left <= 20 ? '20 seconds left' : left <= 60 ? 'One minute left' : '';
  return (
    <span class="row">
      <span class={left <= 60 ? 'figures time-left near' : 'figures time-left'}>
        <span class="small soft">left{' '}</span>
        {clock(Math.max(0, left))}
      </span>
      <span class="unseen" role="status">{warning}</span>
    </span>
  );
}
