// A recording for the eye: envelope above, spectrogram below, what was measured drawn on both.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { cssColour, wash } from '../explain/ink';
import { Spectrum, windowFor } from '../explain/spectrum';
import { theme } from '../lib/settings';
import { lengthS, type Recording } from './recording';

// A quiet span is drawn without its word, where words would cover each other.
export interface Span {
  kind: string;
  startS: number;
  endS: number;
  lowHz?: number;
  highHz?: number;
  isQuiet?: boolean;
}

const kTopHz = 2000;
const kRange_db = 50;

function levelsOf(recording: Recording, width: number, height: number): Float32Array {
  const spectrum = new Spectrum(windowFor(recording.rateHz));
  const levels = new Float32Array(spectrum.bins);
  const top = Math.min(kTopHz, recording.rateHz / 2);
  const grid = new Float32Array(width * height);
  for (let x = 0; x < width; x++) {
    spectrum.levels(recording.samples, Math.round((x / width) * recording.samples.length - spectrum.size / 2), levels);
    for (let y = 0; y < height; y++) {
      const bin = ((height - 1 - y) / height) * top * spectrum.size / recording.rateHz;
      const low = Math.floor(bin), high = Math.min(spectrum.bins - 1, low + 1);
      const level = levels[low]! + (levels[high]! - levels[low]!) * (bin - low);
      grid[y * width + x] = level;
    }
  }
  return grid;
}

// `beside`: the recordings whose loudest sets the scale, `recording` among them.
function drawSpectrogram(image: ImageData, recording: Recording, beside: readonly Recording[]): void {
  const grid = levelsOf(recording, image.width, image.height);
  // A single knock must not dim the rest: the scale ends where one point in 200 is louder.
  const loudestOf = (levels: Float32Array) => levels.slice().sort()[Math.floor(levels.length * 0.995)]!;
  const loudest = Math.max(
    ...beside.map((one) => loudestOf(one === recording ? grid : levelsOf(one, image.width, image.height))),
  );
  const colours = wash();
  const pixels = new Uint32Array(image.data.buffer);
  for (let i = 0; i < grid.length; i++) {
    const shade = Math.round(255 * (grid[i]! - loudest + kRange_db) / kRange_db);
    pixels[i] = colours[Math.max(0, Math.min(255, shade))]!;
  }
}

// The height of the frame; a single knock may leave it.
function frameOf(recording: Recording): number {
  const sizes = Float32Array.from({ length: 2000 },
    (_, i) => Math.abs(recording.samples[Math.floor((i * recording.samples.length) / 2000)] ?? 0)).sort();
  return Math.max(1e-9, 1.6 * sizes[1990]!);
}

function drawEnvelope(pen: CanvasRenderingContext2D, recording: Recording, beside: readonly Recording[], width: number,
  height: number): void
{
  const peak = Math.max(...beside.map(frameOf));
  pen.fillStyle = cssColour('--ink');
  const perPixel = recording.samples.length / width;
  for (let x = 0; x < width; x++) {
    let low = 0, high = 0;
    const end = Math.min(recording.samples.length, Math.ceil((x + 1) * perPixel));
    for (let i = Math.floor(x * perPixel); i < end; i++) {
      low = Math.min(low, recording.samples[i]!);
      high = Math.max(high, recording.samples[i]!);
    }
    const top = Math.max(0, (1 - high / peak) * height / 2), bottom = Math.min(height, (1 - low / peak) * height / 2);
    pen.fillRect(x, top, 1, Math.max(1, bottom - top));
  }
}

// "14 fine crackle (marks below), 7 squawk": what the marks are, in words.
function counted(spans: readonly Span[]): string {
  const kinds = new Map<string, number>();
  for (const span of spans) if (!span.kind.endsWith('Hz')) kinds.set(span.kind, (kinds.get(span.kind) ?? 0) + 1);
  return [...kinds.entries()].map(([kind, count]) => `${count} × ${kind}`).join(', ');
}

const kEnvelope = 60, kSpectrogram = 200;

// `beside`: recordings drawn with one scale, this one among them, where the eye shall compare how loud they are.
export function Picture({ recording, beside, spans, selection, playheadS, onSelect, children }: {
  recording: Recording;
  beside?: readonly Recording[];
  spans: readonly Span[];
  selection: [number, number] | null;
  playheadS: number | null;
  onSelect?: (span: [number, number]) => void;
  children?: ComponentChildren;
}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const shade = theme.value;
  const scale = beside ?? [recording];
  useEffect(() => {
    const element = canvas.current!;
    const width = element.width = Math.max(280, Math.min(1200, Math.round(element.clientWidth * devicePixelRatio)));
    element.height = kEnvelope + kSpectrogram;
    const pen = element.getContext('2d')!;
    pen.fillStyle = cssColour('--card');
    pen.fillRect(0, 0, width, kEnvelope);
    drawEnvelope(pen, recording, scale, width, kEnvelope);
    const image = pen.createImageData(width, kSpectrogram);
    drawSpectrogram(image, recording, scale);
    pen.putImageData(image, 0, kEnvelope);
  }, [recording, scale.map((one) => one.id).join(), shade]);

  const total = lengthS(recording);
  const percent = (seconds: number) => `${Math.max(0, Math.min(100, (seconds / total) * 100))}%`;
  const top = Math.min(kTopHz, recording.rateHz / 2);
  const start = useRef<number | null>(null);
  const secondsAt = (event: PointerEvent) => {
    const box = canvas.current!.getBoundingClientRect();
    return Math.max(0, Math.min(total, ((event.clientX - box.left) / box.width) * total));
  };
  return (
    <figure class="picture">
      <div class="picture-field" onPointerDown={(event) => {
        if (onSelect) {
          start.current = secondsAt(event);
          event.currentTarget.setPointerCapture(event.pointerId);
        }
      }} onPointerMove={(event) => {
        if (start.current === null) return;
        const now = secondsAt(event);
        if (Math.abs(now - start.current) > total / 200) {onSelect!([Math.min(now, start.current),
            Math.max(now, start.current)]);}
      }} onPointerUp={() => {
        start.current = null;
      }}>
        <canvas ref={canvas} role="img"
          aria-label={`Envelope and spectrogram of ${recording.name}, ${
            total.toFixed(1)
          } seconds, 0 to ${top} hertz`} />
        {spans.map((span) => {
          if (span.endS - span.startS < 0.06) {return (
              <span class="span-tick" title={span.kind} style={{ left: percent(span.startS) }} />
            );}
          const high = span.highHz ?? top, low = span.lowHz ?? 0;
          const part = kSpectrogram / (kEnvelope + kSpectrogram) * 100;
          return (
            <span class="span" title={span.kind} style={{
              left: percent(span.startS),
              width: percent(span.endS - span.startS),
              top: `${100 - part + part * (1 - Math.min(1, high / top))}%`,
              bottom: `${part * Math.max(0, low / top)}%`,
            }}>
              {!span.isQuiet && <span class="span-word">{span.kind}</span>}
            </span>
          );
        })}
        {selection && (
          <span class="picked" style={{ left: percent(selection[0]), width: percent(selection[1] - selection[0]) }} />
        )}
        {playheadS !== null && <span class="playhead" style={{ left: percent(playheadS) }} />}
      </div>
      <figcaption class="small soft row">
        <span>0 s</span>
        <span class="grow">{counted(spans)}{children}</span>
        <span>{total.toFixed(1)} s · 0-{top / 1000} kHz</span>
      </figcaption>
    </figure>
  );
}
