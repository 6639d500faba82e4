// Sends an encounter's actions to the server in batches, in order, as often as it takes. Everything is
// kept on this device first (bedside/session.ts), and an action sent twice is stored once, so a line
// that drops loses nothing.
import { signal } from '@preact/signals';
import type { LogEntry } from '../generated/bedside';
import { postJson, Trouble } from '../lib/api';

export type SendState = 'sent' | 'sending' | 'waiting';
export interface Ending {
  id: string;
  t: number;
  claim?: { monitor: { t: number; spo2_percent: number; heart_rate_per_min: number } };
}

const kMostAtOnce = 200; // as the server takes
const kFirstPause_ms = 1000, kLongestPause_ms = 15000;

export class Sender {
  readonly state = signal<SendState>('sent');
  // The server will never take what is left: said, not dropped in silence. 'over': the station is closed.
  readonly refused = signal<'' | 'over' | 'refused'>('');
  readonly numWaiting = signal(0);
  readonly isFinished = signal(false);
  private isBusy = false;
  private pauseMs = kFirstPause_ms;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private ending: Ending | null = null;

  // `actions` may grow; the first `numSent` are on the server already.
  constructor(private readonly path: string, private readonly actions: readonly LogEntry[], private numSent = 0) {
    addEventListener('online', this.hurry);
  }
  close(): void {
    removeEventListener('online', this.hurry);
    clearTimeout(this.timer);
  }
  private hurry = () => {
    this.pauseMs = kFirstPause_ms;
    this.poke();
  };

  // The last word of the encounter; sent when everything before it is stored.
  finish(ending: Ending): void {
    this.ending ??= ending;
    this.poke();
  }

  // Call whenever actions were added.
  poke(): void {
    const isOpen = this.ending !== null && !this.isFinished.peek();
    this.numWaiting.value = this.actions.length - this.numSent + (isOpen ? 1 : 0);
    if (this.isBusy || this.refused.peek() || this.numWaiting.peek() === 0) return;
    clearTimeout(this.timer);
    void this.send();
  }

  private async sendOne(): Promise<void> {
    if (this.numSent < this.actions.length) {
      const batch = this.actions.slice(this.numSent, this.numSent + kMostAtOnce);
      await postJson(`${this.path}/actions`, { actions: batch });
      this.numSent += batch.length;
    } else {
      await postJson(`${this.path}/end`, this.ending);
      this.isFinished.value = true;
    }
  }

  private async send(): Promise<void> {
    this.isBusy = true;
    this.state.value = 'sending';
    try {
      await this.sendOne();
      this.pauseMs = kFirstPause_ms;
      this.state.value = 'sent';
    } catch (error) {
      this.state.value = 'waiting';
      if (error instanceof Trouble && error.isFinal) {
        this.refused.value = ['closed', 'released'].includes(error.title)
          ? 'over'
          : 'refused';
      } else {
        this.timer = setTimeout(() => this.poke(), this.pauseMs);
        this.pauseMs = Math.min(kLongestPause_ms, this.pauseMs * 2);
      }
    } finally {
      this.isBusy = false;
    }
    const wasSent = this.state.peek() === 'sent';
    if (wasSent) this.poke();
  }
}
