// After the encounter: first that it is stored, then, once released, the mark with its reasons and the truth.
import { useEffect, useState } from 'preact/hooks';
import type { ServedEncounter } from '../class/types';
import { getJson } from '../lib/api';
import { MarkView } from './mark_view';
import type { Sender } from './sender';

const kAskAgain_ms = 5000;

export function Finished({ served, sender }: { served: ServedEncounter; sender: Sender }) {
  const [isReleased, setReleased] = useState(served.is_released);
  const isStored = sender.isFinished.value;
  useEffect(() => {
    if (isReleased || !isStored) return;
    const timer = setInterval(() => {
      getJson<ServedEncounter>(`encounters/${served.id}`).then((now) => setReleased(now.is_released), () => { /* asked again soon */ });
    }, kAskAgain_ms);
    return () => clearInterval(timer);
  }, [isReleased, isStored]);
  if (isReleased) return <MarkView encounterId={served.id} />;
  return <div class="narrow stack">
    <h1>Finished</h1>
    <div class="card stack">
      <p role="status">{isStored ? 'All you did is stored on the server. You may put the earphones away.'
        : `Do not close this page yet: ${sender.numWaiting.value} step${sender.numWaiting.value === 1 ? '' : 's'} still to be sent.`}</p>
      {isStored && <p>Your result appears here when the instructor releases it. You can also come back later with the same code and key.</p>}
    </div>
  </div>;
}
