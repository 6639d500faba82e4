// For the wall: the code, large, and a QR code of the address.
import { useEffect, useState } from 'preact/hooks';
import type { Station } from '../class/types';
import { getJson } from '../lib/api';

export function JoinSheet({ station, isInstructor }: { station: Station; isInstructor: boolean }) {
  const [addresses, setAddresses] = useState<string[]>([]);
  const [chosen, setChosen] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ code: string; addresses: string[] }>(`stations/${station.id}/join`).then((answer) => {
      setAddresses(answer.addresses);
      setChosen(answer.addresses[0] ?? '');
    }, (error: Error) => setTrouble(error.message));
  }, [station.id]);
  const isHereOnly = chosen !== '' && /\/\/(127\.|localhost|\[::1\])/.test(chosen);
  return (
    <section class="join-sheet" aria-label="Join">
      <div class="stack">
        <p class="join-code">
          <span class="small soft">Code</span> <strong class="figures">{station.join_code}</strong>
        </p>
        {chosen && (
          <p>
            Open{' '}
            <strong>{chosen.replace(/\/#.*$/, '').replace(/\/$/, '')}</strong>, choose Station, and type the code. Or
            point the camera at the square.
          </p>
        )}
        {station.state !== 'open' && <p class="notice">The station is not open: nobody can begin yet.</p>}
        {isHereOnly && (
          <p class="notice">
            This address works on this computer only. To let phones in, start Phren so that it listens to the room’s
            network: <code>phren serve --listen :8443 --self-signed</code>
          </p>
        )}
        {station.admission === 'roster' && (
          <p>
            Each learner also needs their own key: {isInstructor
              ? 'print the key slips in the class, under People.'
              : 'an instructor of the class prints the key slips.'}
          </p>
        )}
        {addresses.length > 1 && (
          <label class="field no-print">
            This computer has several addresses<select value={chosen} onChange={(event) =>
              setChosen(event.currentTarget.value)}
            >
              {addresses.map((one) => <option value={one}>{one.replace(/\/#.*$/, '')}</option>)}
            </select>
          </label>
        )}
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <div class="row no-print">
          <button onClick={() => print()}>Print this sheet</button>
        </div>
      </div>
      {chosen && (
        <img class="qr" alt={`QR code of ${chosen}`}
          src={`/api/v1/stations/${station.id}/qr?address=${encodeURIComponent(chosen)}`} />
      )}
    </section>
  );
}
