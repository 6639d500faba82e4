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
  const isOver = isStored || sender.refused.value !== '';
  useEffect(() => {
    if (isReleased || !isOver) return;
    const timer = setInterval(() => {
      getJson<ServedEncounter>(`encounters/${served.id}`).then((now) => setReleased(now.is_released),
        () => {/* asked again soon */});
    }, kAskAgain_ms);
    return () => clearInterval(timer);
  }, [isReleased, isOver]);
  if (isReleased) return <MarkView encounterId={served.id} />;
  return (
    <div class="narrow stack">
      <h1>Finished</h1>
      <div class="card stack">
        <p role="status">{inWords(sender)}</p>
        {sender.refused.value !== '' && (
          <p class="small soft">
            Kept on this device, not taken by the server: {sender.numWaiting.value}{' '}
            step{sender.numWaiting.value === 1 ? '' : 's'}, saying that you are finished among them.
          </p>
        )}
        {isOver && (
          <p>
            Your result appears here when the instructor releases it. You can also come back later with the same code
            and key.
          </p>
        )}
      </div>
    </div>
  );
}

function inWords(sender: Sender): string {
  if (sender.isFinished.value) return 'All you did is stored on the server. You may put the earphones away.';
  const left = sender.numWaiting.value;
  switch (sender.refused.value) {
    case 'over':
      return 'The station is closed. What had reached the server by then is stored. If the line was down ' +
        'and steps are missing, show this to your examiner.';
    case 'refused':
      return 'The server did not take your last steps; all before them is stored. Show this to your examiner.';
    default:
      return `Do not close this page yet: ${left} step${left === 1 ? '' : 's'} still to be sent.`;
  }
}
