// One take as a picture: flow above, sounds made, spectrogram below. Every take has the same axes.
import { useEffect, useRef } from 'preact/hooks';
import { cssColour, wash } from '../explain/ink';
import { plainSounds, soundLabel } from '../generated/bedside';
import { theme } from '../lib/settings';
import { positionIn } from './loop';
import { kAxis_s, kBins, kColumn_s, kEvery_s, kFloor_dbfs, kLevelStep_dB, type Take } from './take_worker';

const kFlowShare = 0.26, kEventShare = 0.14;
// What the flow curve reaches at most, by what this body breathes: a quiet adult breath stays a small one.
const kLeastFlow_L_per_s = 0.35;

interface Ground {
  width: number;
  height: number;
  letter: number; // height of letters, in pixels of the canvas
}

function drawFlow(pen: CanvasRenderingContext2D, take: Take, { width, height, letter }: Ground): void {
  const tall = height * kFlowShare;
  const most = take.moments.reduce((top, one) => Math.max(top, Math.abs(one.flow)), kLeastFlow_L_per_s);
  const length = take.samples.length / take.rateHz;
  pen.strokeStyle = cssColour('--line');
  pen.lineWidth = Math.max(1, letter / 14);
  pen.beginPath();
  pen.moveTo(0, tall / 2);
  pen.lineTo(width, tall / 2);
  pen.stroke();
  pen.strokeStyle = cssColour('--ink');
  pen.lineWidth = Math.max(2, letter / 9);
  pen.beginPath();
  for (let t = 0; t < Math.min(kAxis_s, Math.max(length, kAxis_s)); t += kEvery_s) {
    const now = take.moments[Math.floor((t % length) / kEvery_s)];
    if (!now) continue;
    const y = tall / 2 - (now.flow / most) * (tall / 2 - letter / 6);
    if (t === 0) pen.moveTo(0, y);
    else pen.lineTo(width * t / kAxis_s, y);
  }
  pen.stroke();
  pen.fillStyle = cssColour('--soft');
  pen.fillText('in', letter / 4, letter);
  pen.fillText('out', letter / 4, tall - letter / 4);
}

function drawEvents(pen: CanvasRenderingContext2D, take: Take, { width, height, letter }: Ground, sound: string): void {
  const top = height * kFlowShare, tall = height * kEventShare;
  const length = take.samples.length / take.rateHz;
  const written: [number, number][] = [];
  pen.fillStyle = cssColour('--accent');
  const told = take.events.filter((one) =>
    one.isAudible && !plainSounds.has(one.sound) && (!one.sound.endsWith('heart_sound') || one.sound === sound)
  );
  // The sound that the screen is about gets its name first, then what lasts longest.
  const rank = (one: Take['events'][number]) => (one.sound === sound ? 100 : 0) + one.endS - one.startS;
  for (const event of told.sort((a, b) => rank(b) - rank(a))) {
    for (let start = event.startS; start < kAxis_s; start += length) {
      const x = width * start / kAxis_s, wide = Math.max(3, width * (event.endS - event.startS) / kAxis_s);
      pen.fillRect(x, top + tall * 0.74, Math.min(wide, width - x), tall * 0.22);
      const words = soundLabel[event.sound];
      const from = Math.min(x, width - pen.measureText(words).width - letter / 4),
        to = from + pen.measureText(words).width;
      if (x - from > width / 5 || written.some(([a, b]) => from < b + letter / 2 && to > a - letter / 2)) continue;
      pen.fillText(words, from, top + tall * 0.62);
      written.push([from, to]);
    }
  }
}

// A range of 60 dB up to the loudest of what stands on the screen, but a chest that is hardly to be heard stays pale.
const kRange_dB = 60, kLeastTop_dbfs = -45;
export const topOf = (takes: readonly (Take | undefined)[]): number =>
  Math.max(kLeastTop_dbfs, ...takes.map((one) => one?.loudest_dbfs ?? -Infinity));

function drawSound(pen: CanvasRenderingContext2D, take: Take, { width, height, letter }: Ground, hasWords: boolean,
  top_dbfs: number): void
{
  const columns = take.picture.length / kBins, shown = Math.ceil(kAxis_s / kColumn_s);
  const sheet = document.createElement('canvas');
  sheet.width = shown;
  sheet.height = kBins;
  const sheetPen = sheet.getContext('2d')!;
  const image = sheetPen.createImageData(shown, kBins);
  const pixels = new Uint32Array(image.data.buffer);
  const colours = wash();
  for (let x = 0; x < shown; x++) {
    const column = x % Math.max(1, columns);
    for (let bin = 0; bin < kBins; bin++) {
      const level = kFloor_dbfs + kLevelStep_dB * take.picture[column * kBins + bin]!;
      const shade = 255 * (1 + (level - top_dbfs) / kRange_dB);
      pixels[(kBins - 1 - bin) * shown + x] = colours[Math.max(0, Math.min(255, Math.round(shade)))]!;
    }
  }
  sheetPen.putImageData(image, 0, 0);
  const top = hasWords ? height * (kFlowShare + kEventShare) : 0;
  pen.drawImage(sheet, 0, top, width, height - top);
  if (!hasWords) return;
  pen.fillStyle = cssColour('--ink');
  pen.fillText('2 kHz', letter / 4, top + letter);
  pen.fillText('1', letter / 4, top + (height - top) / 2 + letter / 3);
}

export function Picture({ take, label, sound, top_dbfs, isSmall = false }: {
  take: Take | undefined;
  label: string;
  sound: string; // that it is about
  top_dbfs: number;
  isSmall?: boolean;
}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const shade = theme.value;
  useEffect(() => {
    const element = canvas.current!;
    const pen = element.getContext('2d')!;
    const still = document.createElement('canvas');
    let drawnAt = '';
    const redraw = () => {
      const ratio = Math.min(2, devicePixelRatio || 1);
      const width = Math.round(element.clientWidth * ratio), height = Math.round(element.clientHeight * ratio);
      if (width < 2 || height < 2) return false;
      const wanted = `${width} ${height}`;
      if (drawnAt === wanted) return true;
      drawnAt = wanted;
      element.width = still.width = width;
      element.height = still.height = height;
      const letter = parseFloat(getComputedStyle(element).fontSize) * ratio;
      const back = still.getContext('2d')!;
      back.fillStyle = cssColour('--card');
      back.fillRect(0, 0, width, height);
      back.font = `${letter}px ${cssColour('--sans')}`;
      if (take) {
        const ground = { width, height, letter };
        drawSound(back, take, ground, !isSmall, top_dbfs);
        if (!isSmall) {
          drawFlow(back, take, ground);
          drawEvents(back, take, ground, sound);
        }
      }
      pen.drawImage(still, 0, 0);
      return true;
    };
    let frame = requestAnimationFrame(function draw() {
      frame = requestAnimationFrame(draw);
      if (!redraw() || !take) return;
      const at = positionIn(take);
      const was = element.dataset['at'];
      if (at < 0 && was === '-1') return;
      element.dataset['at'] = at < 0 ? '-1' : at.toFixed(2);
      pen.drawImage(still, 0, 0);
      if (at < 0) return;
      pen.fillStyle = cssColour('--accent');
      pen.fillRect(element.width * Math.min(1, at / kAxis_s) - 2, 0, 4, element.height);
    });
    return () => cancelAnimationFrame(frame);
  }, [take, shade, isSmall, top_dbfs, sound]);
  return (
    <canvas ref={canvas} class="show-picture" role="img" data-ready={take ? 'yes' : 'no'}
      aria-label={take ? `${label}: air flow, sounds made and spectrogram up to 2 kHz` : `${label}: being made`} />
  );
}
