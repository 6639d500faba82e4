// Synthetic sounds, one of each kind, to look at and to compare with one's own.
import { useEffect, useState } from 'preact/hooks';
import { plainSounds } from '../generated/bedside';
import { getBytes, getJson } from '../lib/api';
import { decode, type Recording } from './recording';

interface Kind {
  id: string;
  name: string;
  mechanism: string;
  listen: string;
  site_id: string;
}
interface Made extends Kind {
  truth: { sound: string; start_s: number; end_s: number; pitch_hz: number; audible: boolean }[];
}

async function take(kind: Kind): Promise<Recording> {
  const path = `specimens/${encodeURIComponent(kind.id)}`;
  const [made, bytes] = await Promise.all([getJson<Made>(path), getBytes(path + '/sound')]);
  const recording = await decode(new Blob([bytes], { type: 'audio/wav' }), kind.name);
  return {
    ...recording,
    siteId: kind.site_id,
    source: `specimen ${kind.id}, synthetic`,
    truth: made.truth.filter((one) => one.audible && !plainSounds.has(one.sound))
      .map((one) => ({ sound: one.sound, startS: one.start_s, endS: one.end_s, pitchHz: one.pitch_hz })),
  };
}

export function SpecimenShelf(
  { onTake, onTrouble }: { onTake: (made: Promise<Recording>) => void; onTrouble: (words: string) => void },
) {
  const [kinds, setKinds] = useState<Kind[]>([]);
  useEffect(() => {
    getJson<{ specimens: Kind[] }>('specimens').then((answer) => setKinds(answer.specimens),
      (error: Error) => onTrouble(error.message));
  }, []);
  return (
    <section class="card stack" aria-label="Specimens">
      <p class="small">
        Synthetic sounds, each made by a body that has a reason to sound so, with the truth drawn on it. Take two
        look-alikes and compare them.
      </p>
      <div class="choices">
        {kinds.map((kind) => (
          <button title={`${kind.mechanism} ${kind.listen}`} onClick={() => onTake(take(kind))}>{kind.name}</button>
        ))}
      </div>
    </section>
  );
}
