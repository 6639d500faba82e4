// The last seconds of one encounter: flow, sound and events on one patient clock.
import { signal } from '@preact/signals';
import { besideBreath, type HeardEvent, type Now, type Phase } from '../generated/bedside';
import { Spectrum } from './spectrum';

export const kTape_s = 12;
const kSize = 2048;
const kHop = 1024;
export const kBins = 86; // up to 2 kHz at 48 kHz

export const isOfBreath = (event: HeardEvent): boolean => !besideBreath.has(event.sound);

export interface Column {
  timeS: number;
  levels: Float32Array;
}
export interface FlowPoint {
  timeS: number;
  flow: number;
  volume: number;
  phase: Phase;
  breath: number;
}

export class Tape {
  readonly flow: FlowPoint[] = [];
  readonly columns: Column[] = [];
  readonly events: HeardEvent[] = [];
  readonly lit = signal<readonly HeardEvent[]>([]); // sounding now, or just heard
  private readonly spectrum = new Spectrum(kSize);
  private readonly levels = new Float32Array(this.spectrum.bins);
  private readonly window = new Float32Array(kSize);
  private filled = 0;

  take(now: Now, block: Float32Array | null): void {
    const last = this.flow[this.flow.length - 1];
    if (last && now.timeS < last.timeS) {
      this.flow.length = 0;
      this.columns.length = 0;
    }
    this.flow.push({ timeS: now.timeS, flow: now.flow, volume: now.volume, phase: now.phase, breath: now.breathCount });
    while (this.flow.length > 2 && this.flow[0]!.timeS < now.timeS - kTape_s) this.flow.shift();
    if (block) this.hear(block, now.timeS);
    while (this.columns.length > 0 && this.columns[0]!.timeS < now.timeS - kTape_s) this.columns.shift();
    while (this.events.length > 0 && this.events[0]!.endS < now.timeS - kTape_s) this.events.shift();
    const lit = this.events.filter((event) =>
      event.isAudible && event.startS <= now.timeS + 0.05 && event.endS > now.timeS - 0.8
    );
    if (lit.length !== this.lit.value.length || lit.some((event, i) => event !== this.lit.value[i])) {
      this.lit.value = lit;
    }
  }

  add(events: readonly HeardEvent[]): void {
    this.events.push(...events);
  }

  private hear(block: Float32Array, endS: number): void {
    for (let at = 0; at < block.length; at += kHop) {
      const part = block.subarray(at, at + kHop);
      this.window.copyWithin(0, part.length);
      this.window.set(part, kSize - part.length);
      this.filled = Math.min(kSize, this.filled + part.length);
      if (this.filled < kSize) continue;
      this.spectrum.levels(this.window, 0, this.levels);
      this.columns.push({ timeS: endS - (block.length - at - part.length) / 48000,
        levels: this.levels.slice(0, kBins) });
    }
  }
}
