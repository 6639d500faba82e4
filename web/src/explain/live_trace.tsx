// Flow above, events in the middle, spectrogram below: one clock, the newest at the right edge.
import type { Signal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { type Now, soundLabel } from '../generated/bedside';
import { theme } from '../lib/settings';
import { cssColour, enlargement, wash } from './ink';
import { isOfBreath, kBins, kTape_s, type Tape } from './tape';

const kFlow = 90, kEvents = 44, kSound = 172;
const kFloor_dbfs = -105, kTop_dbfs = -45;

interface Look {
  ink: string;
  soft: string;
  line: string;
  accent: string;
  card: string;
  colours: Uint32Array;
  font: string;
}
function lookNow(): Look {
  return { ink: cssColour('--ink'), soft: cssColour('--soft'), line: cssColour('--line'), accent: cssColour('--accent'),
    card: cssColour('--card'), colours: wash(), font: cssColour('--sans') };
}

function drawFlow(pen: CanvasRenderingContext2D, tape: Tape, endS: number, width: number, look: Look): void {
  let most = 0.5;
  for (const point of tape.flow) most = Math.max(most, Math.abs(point.flow));
  const x = (t: number) => width * (1 - (endS - t) / kTape_s),
    y = (flow: number) => kFlow / 2 - (flow / most) * (kFlow / 2 - 6);
  pen.strokeStyle = look.line;
  pen.lineWidth = 1;
  pen.beginPath();
  pen.moveTo(0, kFlow / 2);
  pen.lineTo(width, kFlow / 2);
  pen.stroke();
  pen.fillStyle = look.soft;
  pen.font = `12px ${look.font}`;
  pen.fillText('in', 4, 14);
  pen.fillText('out', 4, kFlow - 6);
  pen.strokeStyle = look.ink;
  pen.lineWidth = 2.2;
  pen.beginPath();
  tape.flow.forEach((point, i) => {
    if (i === 0) pen.moveTo(x(point.timeS), y(point.flow));
    else pen.lineTo(x(point.timeS), y(point.flow));
  });
  pen.stroke();
}

function drawEvents(pen: CanvasRenderingContext2D, tape: Tape, endS: number, width: number, look: Look): void {
  const x = (t: number) => width * (1 - (endS - t) / kTape_s);
  let wordsEnd = -Infinity;
  pen.font = `13px ${look.font}`;
  for (const event of tape.events) {
    if (!event.isAudible || !isOfBreath(event)) continue;
    const isLit = event.endS > endS - 0.8;
    const isPlain = event.sound === 'normal' || event.sound === 'tracheal';
    pen.fillStyle = isLit ? look.accent : look.soft;
    const from = x(event.startS), to = Math.max(from + 2, x(Math.min(event.endS, endS)));
    pen.fillRect(from, kFlow + kEvents - (isPlain ? 8 : 12), to - from, isPlain ? 3 : 9);
    const words = soundLabel[event.sound];
    if (from > wordsEnd + 8 && !isPlain) {
      pen.fillText(words, from, kFlow + kEvents - 17);
      wordsEnd = from + pen.measureText(words).width;
    }
  }
}

function drawSound(image: ImageData, tape: Tape, endS: number, look: Look): void {
  const pixels = new Uint32Array(image.data.buffer);
  pixels.fill(look.colours[0]!);
  const { width } = image;
  let previous = -1;
  for (const column of tape.columns) {
    const x = Math.round(width * (1 - (endS - column.timeS) / kTape_s)) - 1;
    if (x < 0 || x >= width) {
      previous = x;
      continue;
    }
    for (let from = Math.max(0, previous >= 0 && x - previous < 8 ? previous + 1 : x); from <= x; from++) {
      for (let bin = 0; bin < kBins; bin++) {
        const shade = (255 * (column.levels[bin]! - kFloor_dbfs)) / (kTop_dbfs - kFloor_dbfs);
        pixels[(kBins - 1 - bin) * width + from] = look.colours[Math.max(0, Math.min(255, Math.round(shade)))]!;
      }
    }
    previous = x;
  }
}

export function LiveTrace({ tape, now }: { tape: Tape; now: Signal<Now | null> }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const shade = theme.value;
  useEffect(() => {
    const element = canvas.current!;
    let width = 0;
    const pen = element.getContext('2d')!;
    const sheet = document.createElement('canvas');
    const sheetPen = sheet.getContext('2d')!;
    let image = sheetPen.createImageData(1, kBins);
    const fit = () => {
      const wanted = Math.round(Math.max(300, Math.min(1000, element.clientWidth / enlargement())));
      if (wanted === width) return;
      width = element.width = sheet.width = wanted;
      element.height = kFlow + kEvents + kSound;
      sheet.height = kBins;
      image = sheetPen.createImageData(width, kBins);
    };
    const look = lookNow();
    let frame = requestAnimationFrame(function draw() {
      frame = requestAnimationFrame(draw);
      const at = now.peek();
      if (!at) return;
      fit();
      pen.fillStyle = look.card;
      pen.fillRect(0, 0, width, element.height);
      drawFlow(pen, tape, at.timeS, width, look);
      drawEvents(pen, tape, at.timeS, width, look);
      drawSound(image, tape, at.timeS, look);
      sheetPen.putImageData(image, 0, 0);
      pen.drawImage(sheet, 0, kFlow + kEvents, width, kSound);
      pen.fillStyle = look.soft;
      pen.font = `12px ${look.font}`;
      pen.fillText('2 kHz', 4, kFlow + kEvents + 14);
    });
    return () => cancelAnimationFrame(frame);
  }, [tape, shade]);
  return (
    <figure class="picture">
      <canvas class="live" ref={canvas} role="img"
        aria-label={`Airflow, sound events and spectrogram of the last ${kTape_s} seconds`} />
      <figcaption class="small soft">Air flow, sounds made, and spectrogram: last {kTape_s} s</figcaption>
    </figure>
  );
}
