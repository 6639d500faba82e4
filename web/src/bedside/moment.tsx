// Any moment of the encounter, heard again exactly as it was: the engine lives it again from the log.
import { useEffect, useRef, useState } from 'preact/hooks';
import { open } from '../audio/output';
import { Volume } from '../audio/volume';
import { kEngineRate_hz } from '../engine/module';
import type { Replay } from '../engine/replay';
import { clock } from './marking';

const kPart_s = 8;

export interface Player {
  playFrom: (timeS: number) => void;
  stop: () => void;
  isBusy: boolean;
  isPlaying: boolean;
  trouble: string;
}

// `onAt` is told the moment that is sounding, null when nothing is.
export function useMoment(replay: Replay | null, totalS: number, onAt: (timeS: number | null) => void): Player {
  const [state, setState] = useState<'quiet' | 'busy' | 'playing'>('quiet');
  const [trouble, setTrouble] = useState('');
  const source = useRef<AudioBufferSourceNode | null>(null);
  const stop = () => {
    source.current?.stop();
    source.current = null;
    setState('quiet');
    onAt(null);
  };
  useEffect(() => () => {
    source.current?.stop();
  }, []);
  const playFrom = (timeS: number) => {
    if (!replay || state === 'busy') return;
    source.current?.stop();
    const { context, input } = open(); // from the tap itself, or the browser keeps silent
    setState('busy');
    setTrouble('');
    const toS = Math.min(totalS, timeS + kPart_s);
    replay.sound(timeS, toS).then((samples) => {
      if (samples.length === 0) {
        setState('quiet');
        return;
      }
      const buffer = context.createBuffer(1, samples.length, kEngineRate_hz);
      buffer.copyToChannel(samples, 0);
      const node = context.createBufferSource();
      node.buffer = buffer;
      node.connect(input);
      const startedAt = context.currentTime;
      node.start();
      source.current = node;
      setState('playing');
      const follow = () => {
        if (source.current !== node) return;
        onAt(timeS + context.currentTime - startedAt);
        requestAnimationFrame(follow);
      };
      follow();
      node.onended = () => {
        if (source.current === node) stop();
      };
    }).catch((error: Error) => {
      setState('quiet');
      setTrouble(error.message);
    });
  };
  return { playFrom, stop, isBusy: state === 'busy', isPlaying: state === 'playing', trouble };
}

export function Moment(
  { player, totalS, isListening }: { player: Player; totalS: number; isListening: (timeS: number) => boolean },
) {
  const [fromS, setFromS] = useState(0);
  return (
    <section class="stack no-print" aria-label="Hear it again">
      <h2>Hear it again</h2>
      <label>
        From {clock(fromS)}
        {!isListening(fromS) && <span class="soft">{' '}(the chestpiece was not on the chest)</span>}
        <input type="range" min="0" max={Math.floor(totalS)} step="1" value={fromS} aria-valuetext={clock(fromS)}
          onInput={(event) => setFromS(Number(event.currentTarget.value))} />
      </label>
      <div class="row">
        <button disabled={player.isBusy} onClick={() => player.playFrom(fromS)}>
          {player.isBusy ? 'Working it out' : `Hear ${kPart_s} seconds`}
        </button>
      </div>
      {player.trouble && <p class="notice" role="alert">{player.trouble}</p>}
      <Volume />
    </section>
  );
}
