// What was measured, in words and as marks on the picture (docs/formats/measurement.md).
import type { Span } from './picture';

export interface Measurement {
  duration_s: number;
  has_metadata_text: boolean;
  is_text_looked_for?: boolean; // not in files that are neither WAV nor FLAC
  record: { label: string; probabilities: Record<string, number> };
  verdict?: { can_tell: boolean; why_not: string; set: string[] }; // not in measurements kept from before
  quality: { usable: boolean; poor_probability: number; reasons: string[] };
  breath: { rate_per_min: number | null; expiration_to_inspiration: number | null; confidence: number };
  tones: { start_ms: number; end_ms: number; hz: number }[];
  crackles: { at_ms: number; '2cd_ms': number }[];
  events: { start_ms: number; end_ms: number; label: string; probabilities: Record<string, number>;
    wheeze_hz: number | null; crackles: number }[];
}

const recordWords: Record<string, string> = {
  Normal: 'no added sounds',
  CAS: 'continuous added sounds (wheeze, rhonchi, stridor)',
  DAS: 'discontinuous added sounds (crackles)',
  'CAS & DAS': 'continuous and discontinuous added sounds',
  'Poor Quality': 'too poor to tell',
};

// The longest tones keep their words; a word within 8 % of the picture's length and 150 Hz of another would cover it.
function toneSpans(measurement: Measurement): Span[] {
  const near_s = 0.08 * measurement.duration_s, near_hz = 150;
  const worded: Span[] = [];
  const spans = measurement.tones.map((one): Span => ({
    kind: `${Math.round(one.hz)} Hz`,
    startS: one.start_ms / 1000,
    endS: one.end_ms / 1000,
    lowHz: one.hz - 40,
    highHz: one.hz + 40,
  }));
  for (const span of [...spans].sort((a, b) => (b.endS - b.startS) - (a.endS - a.startS))) {
    span.isQuiet = worded.some((one) =>
      Math.abs(one.startS - span.startS) < near_s && Math.abs(one.lowHz! - span.lowHz!) < near_hz
    );
    if (!span.isQuiet) worded.push(span);
  }
  return spans;
}

export function measurementSpans(measurement: Measurement): Span[] {
  return [
    ...measurement.events.filter((one) => one.label !== 'Normal').map((one) => ({ kind: one.label,
      startS: one.start_ms / 1000, endS: one.end_ms / 1000 })
    ),
    ...toneSpans(measurement),
  ];
}

// The pitch in the middle of all, where no breath could be made out to put them in.
function middleTone({ tones }: Measurement): string {
  if (tones.length === 0) return '';
  const pitches = tones.map((one) => one.hz).sort((a, b) => a - b);
  return ` (half of them above ${Math.round(pitches[Math.floor(pitches.length / 2)]!)} Hz)`;
}

const percent = (value: number) => `${Math.round(value * 100)} %`;

const shortWords: Record<string, string> = { Normal: 'nothing added', CAS: 'continuous', DAS: 'crackles',
  'CAS & DAS': 'continuous and crackles', 'Poor Quality': 'too poor' };

// What can be said of the label: in nine of ten people the truth is one of the set.
export function verdictWords({ verdict }: Measurement): string {
  if (!verdict || verdict.why_not === 'fast measurement') return '';
  if (verdict.why_not === 'poor recording') return 'Cannot tell: the recording is too poor.';
  if (verdict.why_not === 'unfamiliar recording') {
    return 'Cannot tell: the model has heard no recordings of this kind.';
  }
  const set = verdict.set.map((label) => shortWords[label] ?? label).join(', or ');
  return verdict.can_tell
    ? `In 9 of 10 people the truth is: ${set}.`
    : `Cannot tell: too many labels are possible (${set}).`;
}

// For a list of recordings: the label, how sure, and whether it can be taught from.
export function inShort({ record, quality, verdict }: Measurement): string {
  const reasons = quality.usable
    ? 'good to teach from'
    : 'not to teach from' + (quality.reasons.length > 0 ? ': ' + quality.reasons.join(', ') : '');
  const sure = verdict && !verdict.can_tell ? '(cannot tell)' : percent(record.probabilities[record.label] ?? 0);
  return `${shortWords[record.label] ?? record.label} ${sure} · ${reasons}`;
}

export function MeasurementText({ measurement }: { measurement: Measurement }) {
  const { record, quality, breath } = measurement;
  const chance = record.probabilities[record.label];
  const verdict = verdictWords(measurement);
  return (
    <section class="card stack" aria-label="Measured">
      <h3>
        Measured: {recordWords[record.label] ?? record.label}
        {verdict && !measurement.verdict?.can_tell
          ? ', not sure'
          : chance !== undefined && ` (${percent(chance)})`}
      </h3>
      <p>
        {quality.usable ? 'The sound is good enough to teach from' : 'The sound is not good enough to teach from'}
        {quality.reasons.length > 0 && `: ${quality.reasons.join(', ')}`}. {breath.rate_per_min === null
          ? 'The breathing rate cannot be told.'
          : `About ${Math.round(breath.rate_per_min)} breaths a minute`}
        {breath.rate_per_min !== null && breath.expiration_to_inspiration !== null &&
          `, in to out 1 : ${breath.expiration_to_inspiration.toFixed(1)}`}
        {breath.rate_per_min !== null && '.'}
      </p>
      {verdict && <p class={measurement.verdict?.can_tell ? '' : 'notice'}>{verdict}</p>}
      {measurement.has_metadata_text && (
        <p class="notice">The file carries text that may name a person. Take it out before sharing the file.</p>
      )}
      {measurement.is_text_looked_for === false && (
        <p class="notice">
          This kind of file was not looked through for text that may name a person. “Save as WAV” keeps the sound alone.
        </p>
      )}
      {measurement.events.length === 0 ?
        <p>Single breaths could not be told apart.</p> :
        (
          <table>
            <caption class="unseen">Breaths and what was found in each</caption>
            <thead>
              <tr>
                <th scope="col">from</th>
                <th scope="col">to</th>
                <th scope="col">label</th>
                <th scope="col">sure</th>
                <th scope="col">tone</th>
                <th scope="col">crackles</th>
              </tr>
            </thead>
            <tbody class="figures">
              {measurement.events.map((one) => (
                <tr>
                  <td>{(one.start_ms / 1000).toFixed(1)} s</td>
                  <td>{(one.end_ms / 1000).toFixed(1)} s</td>
                  <td>{one.label}</td>
                  <td>{percent(one.probabilities[one.label] ?? 0)}</td>
                  <td>{one.wheeze_hz ? `${Math.round(one.wheeze_hz)} Hz` : ''}</td>
                  <td>{one.crackles || ''}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
      <p class="small soft">
        {measurement.crackles.length} single crackles and {measurement.tones.length} tones{middleTone(measurement)}{' '}
        in the whole recording. Labels come from a model trained on other people's recordings: a help for choosing
        teaching sounds, not a diagnosis.
      </p>
    </section>
  );
}
