import { isLevelNoteAway, putLevelNoteAway, volume } from './output';

export function Volume() {
  return (
    <div class="stack">
      <label>
        Volume
        <input type="range" min="0" max="1" step="0.01" value={volume.value}
          aria-valuetext={volume.value === 0 ? 'off' : `${Math.round(volume.value * 100)} of 100`} onInput={(event) => {
          volume.value = Number(event.currentTarget.value);
        }} />
      </label>
      {!isLevelNoteAway.value && (
        <p class="small notice">
          Start low and turn up only until you can just hear. Safe listening: 80 dB(A) for at most 40 hours a week
          (WHO-ITU H.870). <button class="plain" onClick={putLevelNoteAway}>Put this note away</button>
        </p>
      )}
    </div>
  );
}
