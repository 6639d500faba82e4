// The sounds of one question, to be played as often as wanted; pictures only when they may be seen.
import { Picture } from '../bench/picture';
import { play, playing, stop } from '../bench/player';
import { rms } from '../bench/recording';
import { usePlayhead } from '../bench/use_playhead';
import type { DrillSound } from './types';

// Each sound comes at one level, so that loudness gives nothing away; where loudness is part of the
// answer, the loudest of the item comes at it and the others keep their true distance from that.
const kLevel = 0.05;

export function levelOf(sound: DrillSound, sounds: readonly DrillSound[], hasOneGain: boolean): number {
  if (!hasOneGain) return kLevel;
  const loudest = Math.max(...sounds.map((one) => rms(one.recording.samples)));
  return loudest > 0 ? kLevel * rms(sound.recording.samples) / loudest : 0;
}

export function playSound(sound: DrillSound, sounds: readonly DrillSound[], hasOneGain: boolean): void {
  if (playing.peek()?.id === sound.recording.id) {
    stop();
    return;
  }
  play(sound.recording, null, levelOf(sound, sounds, hasOneGain));
}

export function SoundButtons(
  { sounds, hasOneGain, beside = sounds, onPlayed }: { sounds: readonly DrillSound[]; hasOneGain: boolean;
    beside?: readonly DrillSound[]; onPlayed: (sound: DrillSound) => void },
) {
  return (
    <div class="plays">
      {sounds.map((sound) => {
        const isPlaying = playing.value?.id === sound.recording.id;
        return (
          <button class="play" aria-pressed={isPlaying} onClick={() => {
            playSound(sound, beside, hasOneGain);
            onPlayed(sound);
          }}>
            <svg viewBox="0 0 24 24" aria-hidden="true">
              {isPlaying ? <path d="M6 5h4v14H6zM14 5h4v14h-4z" /> : <path d="M7 4l13 8-13 8z" />}
            </svg>
            <span>{[isPlaying ? 'Stop' : 'Play', sound.label].filter(Boolean).join(' ')}</span>
          </button>
        );
      })}
    </div>
  );
}

export function SoundPicture({ sound, beside }: { sound: DrillSound; beside: readonly DrillSound[] }) {
  const playhead = usePlayhead(sound.recording.id);
  return (
    <section aria-label={`Picture of ${sound.label || 'the sound'}`}>
      {sound.label && <h2>{sound.label}</h2>}
      <Picture recording={sound.recording} beside={beside.map((one) => one.recording)} spans={sound.truth}
        selection={null} playheadS={playhead} />
    </section>
  );
}
