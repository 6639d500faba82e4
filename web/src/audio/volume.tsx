import { isLevelNoteAway, putLevelNoteAway, volume } from './output';

// In the bar of every page, so that it is in reach whatever sounds.
export function VolumeSlider() {
  return (
    <label class="bar-volume">
      <svg viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">
        <path d="M3 8v4h3l4 3.5v-11L6 8zM13 7.5a3.5 3.5 0 0 1 0 5M15.3 5.2a6.8 6.8 0 0 1 0 9.6" />
      </svg>
      <span class="unseen">Volume</span>
      <input type="range" min="0" max="1" step="0.01" value={volume.value}
        aria-valuetext={volume.value === 0 ? 'off' : `${Math.round(volume.value * 100)} of 100`} onInput={(event) => {
        volume.value = Number(event.currentTarget.value);
      }} />
    </label>
  );
}

// The caution beside what is listened to, until it is put away on this device.
export function Volume() {
  if (isLevelNoteAway.value) return null;
  return (
    <p class="small notice">
      Start low and turn up only until you can just hear. Safe listening: 80 dB(A) for at most 40 hours a week (WHO-ITU
      H.870). <button class="plain" onClick={putLevelNoteAway}>Put this note away</button>
    </p>
  );
}
