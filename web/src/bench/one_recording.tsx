// One recording: seen, heard, cut.
import { useEffect, useState } from 'preact/hooks';
import { save } from '../lib/save';
import { measurementSpans, MeasurementText } from './measurement';
import { measure, troubles, waiting } from './measurer';
import { Picture, type Span } from './picture';
import { play, playing, stop } from './player';
import { cut, lengthS, type Recording, toWav } from './recording';
import { discard, keepRecording } from './shelf';
import { SitePick } from './site_pick';
import { usePlayhead } from './use_playhead';

// The key of a synthetic sound, drawn until it is measured: what the body really did.
function truthSpans(recording: Recording): Span[] {
  return (recording.truth ?? []).map((one) => ({ kind: one.sound.replaceAll('_', ' '), startS: one.startS,
    endS: one.endS, ...(one.pitchHz > 0 ? { lowHz: one.pitchHz - 40, highHz: one.pitchHz + 40 } : {}) })
  );
}

function saveWav(recording: Recording): void {
  save(recording.name.replace(/\.(wav|flac|mp3|ogg|m4a)$/i, '') + '.wav', toWav(recording.samples, recording.rateHz));
}

export type Part = [number, number] | null; // from and to, in seconds; null: the whole recording

// The one action that is always in view.
export function PlayBar({ recording, picked }: { recording: Recording; picked: Part }) {
  const isPlaying = playing.value?.id === recording.id;
  return (
    <div class="main-action">
      <button class="main" onClick={() => (isPlaying ? stop() : play(recording, picked, null))}>
        {isPlaying ? 'Stop' : picked ? 'Play the part' : 'Play'}
      </button>
    </div>
  );
}

export function OneRecording(
  { recording, picked, setPicked, onCut }: {
    recording: Recording;
    picked: Part;
    setPicked: (part: Part) => void;
    onCut: (made: Recording) => void;
  },
) {
  const [isLeaving, setLeaving] = useState(false);
  const measured = recording.measurement ?? null;
  const isMeasuring = waiting.value.includes(recording.id);
  const trouble = troubles.value.get(recording.id);
  const at = usePlayhead(recording.id);
  const total = lengthS(recording);
  useEffect(() => stop, [recording.id]);
  const edit = (i: 0 | 1, value: number) => {
    const next: [number, number] = picked ? [...picked] : [0, total];
    next[i] = Math.max(0, Math.min(total, value));
    setPicked(next[0] < next[1] ? next : null);
  };
  return (
    <section class="stack" aria-label={recording.name}>
      <h2>
        <input type="text" class="name-field" aria-label="Name" value={recording.name} onChange={(event) => {
          void keepRecording({ ...recording, name: event.currentTarget.value || recording.name });
        }} />
      </h2>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <Picture recording={recording} spans={measured ? measurementSpans(measured) : truthSpans(recording)}
        selection={picked} playheadS={at} onSelect={setPicked} />
      <div class="row">
        <button disabled={isMeasuring} onClick={() => {
          void measure([recording]);
        }}>
          {isMeasuring ? 'Measuring' : 'Measure'}
        </button>
        <button onClick={() => saveWav(recording)}>Save as WAV</button>
        <button onClick={() => setLeaving(!isLeaving)} aria-expanded={isLeaving}>Remove</button>
        {isLeaving && (
          <button onClick={() => {
            void discard(recording.id);
          }}>
            Yes, remove it from this device
          </button>
        )}
      </div>
      {measured && <MeasurementText measurement={measured} />}
      <SitePick siteId={recording.siteId} onPick={(siteId) => {
        void keepRecording({ ...recording, siteId });
      }} />
      <fieldset class="row">
        <legend>Part</legend>
        <label>
          from{' '}
          <input type="number" class="short figures" min="0" max={total} step="0.1"
            value={(picked?.[0] ?? 0).toFixed(1)} onChange={(event) => edit(0, Number(event.currentTarget.value))} />
          {' '}
          s
        </label>
        <label>
          to{' '}
          <input type="number" class="short figures" min="0" max={total} step="0.1"
            value={(picked?.[1] ?? total).toFixed(1)}
            onChange={(event) => edit(1, Number(event.currentTarget.value))} />{' '}
          s
        </label>
        <button disabled={!picked} onClick={() => picked && onCut(cut(recording, picked[0], picked[1]))}>
          Cut as a specimen
        </button>
        {picked && <button onClick={() => setPicked(null)}>Whole recording</button>}
      </fieldset>
      <p class="soft small figures">{total.toFixed(2)} s at {recording.rateHz} Hz · {recording.source}</p>
    </section>
  );
}
