// Time left, told in words at one minute and at twenty seconds for those who do not watch it.
import { useEffect, useRef, useState } from 'preact/hooks';
import { clock } from '../bedside/marking';
import type { ServedEncounter } from '../class/types';

// How far the server's clock is ahead of this device's, learnt when the encounter was begun.
function serverAheadMs(served: ServedEncounter): number {
  const key = 'phren.clock.' + served.id;
  try {
    const kept = localStorage.getItem(key);
    if (kept !== null) return Number(kept);
    const ahead = served.actions === 0 ? served.started_ms - Date.now() : 0;
    const isJustBegun = served.actions === 0 && Math.abs(ahead) < 24 * 3600_000;
    if (isJustBegun) localStorage.setItem(key, String(ahead));
    return isJustBegun ? ahead : 0;
  } catch { return 0; }
}

export function TimeLeft({ served, onOver }: { served: ServedEncounter; onOver: () => void }) {
  const ahead = useRef(serverAheadMs(served));
  const leftS = () => (served.ends_ms - Date.now() - ahead.current) / 1000;
  const [left, setLeft] = useState(leftS());
  const hasLimit = served.ends_ms > 0;
  useEffect(() => {
    if (!hasLimit) return;
    const timer = setInterval(() => {
      const now = leftS();
      setLeft(now);
      if (now <= 0) { clearInterval(timer); onOver(); }
    }, 250);
    return () => clearInterval(timer);
  }, [served.id]);
  if (!hasLimit) return <span class="small soft">no time limit</span>;
  const warning = left <= 20 ? '20 seconds left' : left <= 60 ? 'One minute left' : '';
  return <span class="row">
    <span class={left <= 60 ? 'figures time-left near' : 'figures time-left'}><span class="small soft">left </span>{clock(Math.max(0, left))}</span>
    <span class="unseen" role="status">{warning}</span>
  </span>;
}
