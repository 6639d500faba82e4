import { useEffect, useState } from 'preact/hooks';
import { playheadS, playing } from './player';

// The place being played in this recording, refreshed with the screen; null when it is not playing.
export function usePlayhead(id: string): number | null {
  const [at, setAt] = useState<number | null>(null);
  const isPlaying = playing.value?.id === id;
  useEffect(() => {
    if (!isPlaying) {
      setAt(null);
      return;
    }
    let frame = requestAnimationFrame(function next() {
      setAt(playheadS(id));
      frame = requestAnimationFrame(next);
    });
    return () => cancelAnimationFrame(frame);
  }, [isPlaying, id]);
  return at;
}
