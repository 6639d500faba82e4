// The sounds of one question, to be played as often as wanted; pictures only when they may be seen.
import { Picture } from '../bench/picture';
import { play, playing, stop } from '../bench/player';
import { usePlayhead } from '../bench/use_playhead';
import { rms } from '../bench/recording';
import type { DrillSound } from './types';

// Sounds that are to be told apart by kind come at the same level, so that loudness gives nothing away.
const kLevel = 0.05;

export function playSound(sound: DrillSound, isLevelled: boolean): void {
  if (playing.peek()?.id === sound.recording.id) { stop(); return; }
  const quiet = rms(sound.recording.samples) < 1e-4;
  play(sound.recording, null, isLevelled && !quiet ? kLevel : null);
}

export function SoundButtons({ sounds, isLevelled, onPlayed }: { sounds: readonly DrillSound[]; isLevelled: boolean; onPlayed: (sound: DrillSound) => void }) {
  return <div class="plays">
    {sounds.map((sound) => {
      const isPlaying = playing.value?.id === sound.recording.id;
      return <button class="play" aria-pressed={isPlaying} onClick={() => { playSound(sound, isLevelled); onPlayed(sound); }}>
        <svg viewBox="0 0 24 24" aria-hidden="true">{isPlaying ? <path d="M6 5h4v14H6zM14 5h4v14h-4z" /> : <path d="M7 4l13 8-13 8z" />}</svg>
        <span>{isPlaying ? 'Stop' : 'Play'}{sound.label && <> {sound.label}</>}</span>
      </button>;
    })}
  </div>;
}

export function SoundPicture({ sound }: { sound: DrillSound }) {
  const playhead = usePlayhead(sound.recording.id);
  return <section aria-label={`Picture of ${sound.label || 'the sound'}`}>
    {sound.label && <h3>{sound.label}</h3>}
    <Picture recording={sound.recording} spans={sound.truth} selection={null} playheadS={playhead} />
  </section>;
}
