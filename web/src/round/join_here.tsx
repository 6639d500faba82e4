// For the wall: the code, and a QR code of the address.
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';

export function JoinHere({ round }: { round: { id: string; code: string } }) {
  const [addresses, setAddresses] = useState<string[]>([]);
  useEffect(() => {
    getJson<{ addresses: string[] }>(`rounds/${round.id}/join`).then((answer) => setAddresses(answer.addresses),
      () => {/* the code alone will do */});
  }, [round.id]);
  const best = addresses[0] ?? '';
  return (
    <section class="join-sheet" aria-label="Join">
      <div class="stack">
        <p class="join-code">
          <span class="small soft">Code</span> <strong class="figures">{round.code}</strong>
        </p>
        {best && (
          <p>
            Open <strong>{best.replace(/\/#.*$/, '')}</strong> and type the code, or point the camera at the square.
          </p>
        )}
        {/\/\/(127\.|localhost|\[::1\])/.test(best) && (
          <p class="notice">
            This address works on this computer only. To let phones in, start Phren so that it listens to the room’s
            network: <code>phren serve --listen :8443 --self-signed</code>
          </p>
        )}
      </div>
      {best && (
        <img class="qr" alt={`QR code of ${best}`}
          src={`/api/v1/rounds/${round.id}/qr?address=${encodeURIComponent(best)}`} />
      )}
    </section>
  );
}
