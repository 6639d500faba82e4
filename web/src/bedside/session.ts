// One learner's time with one patient: the log of what was done, and what was marked.
// The log is the only truth; it is kept on this device after every action.
import { computed, signal, type Signal } from '@preact/signals';
import { inWords, nearestSite, siteReachCm, type Site } from '../chest/landmarks';
import { aspects, mirrored, type Aspect, type Body, type Place } from '../chest/geometry';
import type { HeardEvent, Now, ToEngine } from '../engine/protocol';
import { put } from '../lib/store';
import { bodyOf, type Case, type FindingKind, type Side } from './types';

export interface LogEntry {
  t_s: number;               // patient time
  do: string;
  [detail: string]: string | number | boolean | undefined;
}

export interface Mark {
  finding_id: string;
  presence: 'present' | 'absent';
  basis: string;
  side: Side;
  site_id: string;           // empty when not at a site
  t_s: number;
  words: string;             // where, in words
}

export interface HeardAt { fromS: number; toS: number; site_id: string; words: string }

export interface KeptEncounter {
  id: string; case_id: string; title: string; seed: number; started_at: string; ended_at: string; left_s: number;
  log: LogEntry[]; marks: Mark[]; heard: HeardAt[]; events: HeardEvent[];
}

// In the order of acoustics::Surroundings (src/acoustics/listening.h), in the words of case files.
const rooms = ['quiet', 'ward', 'street', 'ambulance', 'ambulance_siren', 'helicopter'];

// Numbers of patient::ActionKind (src/patient/patient.h).
const actions = { treat: 0, stop: 1, deep_breath: 2, normal: 3, hold: 4, cough: 5, speak: 6, vowel: 7 } as const;

const basisOf: Record<string, string> = { asked: 'asked', seen: 'seen', felt: 'felt', percussed: 'percussed', monitored: 'monitored', heard: 'heard' };

export class Encounter {
  readonly body: Body;
  readonly place = signal<Place>({ aspect: 'front', u: -0.6, v: 0.45 });
  readonly aspect = signal<Aspect>('front');
  readonly isPressed = signal(false);
  readonly isBell = signal(false);
  readonly clothing: Signal<number>;
  readonly isPaused = signal(false);
  readonly now = signal<Now | null>(null);
  readonly marks = signal<readonly Mark[]>([]);
  readonly log = signal<readonly LogEntry[]>([]);
  readonly heard = signal<readonly HeardAt[]>([]);
  readonly events: HeardEvent[] = [];
  readonly isEnded = signal(false);
  readonly storingTrouble = signal('');
  readonly markedSites = computed(() => new Set(this.marks.value.map((mark) => mark.site_id)));
  readonly heardSites = computed(() => new Set(this.heard.value.filter((one) => one.toS - one.fromS > 1).map((one) => one.site_id)));
  send: (message: ToEngine) => void = () => { /* until the engine is there */ };

  constructor(readonly id: string, readonly prepared: Case, readonly seed: number, readonly sites: readonly Site[],
    readonly kinds: readonly FindingKind[], readonly startedAt = new Date().toISOString()) {
    this.body = bodyOf(prepared.person);
    this.clothing = signal({ bare: 0, shirt: 0.35, jacket: 0.9 }[prepared.clothing] ?? 0);
  }

  // Tells a fresh engine how the chestpiece and the room stand.
  connect(send: (message: ToEngine) => void): void {
    this.send = send;
    send({ do: 'cloth', thickness: this.clothing.peek() });
    send({ do: 'head', isBell: this.isBell.peek() });
    send({ do: 'room', kind: rooms.indexOf(this.prepared.room) });
    this.replay();
    if (this.isPaused.peek()) send({ do: 'pause', isPaused: true });
  }

  // Goes on where an interrupted encounter stopped: the same case, seed and actions at the same times
  // give the same patient.
  restore(kept: KeptEncounter): void {
    this.log.value = kept.log;
    this.marks.value = kept.marks;
    this.heard.value = kept.heard;
    this.events.push(...kept.events);
    if (kept.log.some((one) => one.do === 'expose')) this.clothing.value = 0;
    this.resumeS = kept.left_s;
  }
  private resumeS = 0;
  private replay(): void {
    if (this.resumeS <= 0) return;
    let atS = 0;
    const until = (timeS: number) => {
      for (; timeS - atS > 0.01; atS = Math.min(timeS, atS + 3600)) this.send({ do: 'step', seconds: Math.min(3600, timeS - atS) });
    };
    for (const entry of this.log.peek()) {
      const kind = entry.do === 'treat' ? actions.treat : entry.do === 'stop' ? actions.stop : entry.do === 'ask' ? actions[entry['what'] as keyof typeof actions] : undefined;
      if (kind === undefined) continue;
      until(entry.t_s);
      const side = ['right', 'left', 'midline'].indexOf(String(entry['side'] ?? 'midline'));
      this.send({ do: 'act', kind, index: Number(entry['index'] ?? 0), side, seconds: Number(entry['seconds'] ?? 0) });
    }
    until(this.resumeS);
    this.resumeS = 0;
  }

  show(aspect: Aspect): void {
    this.aspect.value = aspect;
    if (this.place.peek().aspect === aspect) return;
    // Turning the drawing takes the chestpiece along, to the first site there.
    const first = this.sites.find((site) => site.aspect === aspect);
    if (first) this.move({ aspect, u: first.u, v: first.v });
  }
  nextSite(step: 1 | -1): void {
    if (this.sites.length === 0) return;
    const here = this.siteHere();
    const at = here ? this.sites.indexOf(here) + step : 0;
    const next = this.sites[(at + this.sites.length) % this.sites.length]!;
    this.move({ aspect: next.aspect, u: next.u, v: next.v });
  }
  percuss(): void {
    const { aspect, u, v } = this.place.peek();
    this.send({ do: 'percuss', aspect: aspects.indexOf(aspect), u, v });
    this.note({ do: 'percuss', aspect, u, v, site: this.siteHere()?.id ?? '' });
  }
  step(seconds: number): void {
    // Minutes let pass are not minutes listened.
    if (this.isPressed.peek()) { this.closeHearing(this.place.peek()); this.hearingSinceS += seconds; }
    this.send({ do: 'step', seconds });
    this.note({ do: 'wait', seconds });
  }

  get timeS(): number { return this.now.value?.timeS ?? 0; }

  siteHere(): Site | null {
    const near = nearestSite(this.body, this.sites, this.place.value);
    return near && near.distanceCm <= siteReachCm(this.body) ? near.site : null;
  }

  note(entry: Omit<LogEntry, 't_s'> & { do: string }): void {
    this.log.value = [...this.log.value, { t_s: Math.round(this.timeS * 1000) / 1000, ...entry }];
    void this.keep();
  }

  // A drag is many small moves; the log keeps the place where it rested or was left.
  private moveTimer: ReturnType<typeof setTimeout> | undefined;
  move(place: Place): void {
    const was = this.place.value;
    this.place.value = place;
    this.aspect.value = place.aspect;
    if (!this.isPressed.value) return;
    this.sendPlace();
    if (this.siteAt(was)?.id !== this.siteHere()?.id) this.closeHearing(was);
    clearTimeout(this.moveTimer);
    this.moveTimer = setTimeout(() => this.notePlace(), 250);
  }
  private siteAt(place: Place): Site | null {
    const near = nearestSite(this.body, this.sites, place);
    return near && near.distanceCm <= siteReachCm(this.body) ? near.site : null;
  }
  private notePlace(): void {
    const { aspect, u, v } = this.place.value;
    this.note({ do: 'place', aspect, u: Math.round(u * 1000) / 1000, v: Math.round(v * 1000) / 1000, site: this.siteHere()?.id ?? '' });
  }
  private sendPlace(): void {
    const { aspect, u, v } = this.place.value;
    this.send({ do: 'place', aspect: aspects.indexOf(aspect), u, v });
  }

  private hearingSinceS = 0;
  press(): void {
    if (this.isPressed.value) return;
    this.isPressed.value = true;
    this.hearingSinceS = this.timeS;
    this.sendPlace();
    this.notePlace();
  }
  lift(): void {
    if (!this.isPressed.value) return;
    this.closeHearing(this.place.value);
    this.isPressed.value = false;
    this.send({ do: 'lift' });
    this.note({ do: 'lift' });
  }
  private closeHearing(place: Place): void {
    const toS = this.timeS;
    if (toS - this.hearingSinceS > 0.3) {
      const one = { fromS: this.hearingSinceS, toS, site_id: this.siteAt(place)?.id ?? '', words: inWords(place) };
      this.heard.value = [...this.heard.value, one];
    }
    this.hearingSinceS = toS;
  }
  otherSide(): void { this.move(mirrored(this.place.value)); }

  setBell(isBell: boolean): void {
    this.isBell.value = isBell;
    this.send({ do: 'head', isBell });
    this.note({ do: isBell ? 'bell' : 'diaphragm' });
  }
  uncover(): void {
    this.clothing.value = 0;
    this.send({ do: 'cloth', thickness: 0 });
    this.note({ do: 'expose' });
  }
  pause(isPaused: boolean): void {
    this.isPaused.value = isPaused;
    this.send({ do: 'pause', isPaused });
  }

  mark(kind: FindingKind, presence: 'present' | 'absent'): void {
    const here = kind.found_by === 'heard' || kind.found_by === 'percussed';
    const site = here ? this.siteHere() : null;
    const place = this.place.value;
    const side: Side = kind.is_sided && here ? this.sideOf(place) : 'midline';
    const same = (mark: Mark) => mark.finding_id === kind.id && mark.site_id === (site?.id ?? '');
    const had = this.marks.value.find(same);
    const others = this.marks.value.filter((mark) => !same(mark));
    if (had?.presence === presence) {  // a second tap takes it back
      this.marks.value = others;
      this.note({ do: 'unmark', finding: kind.id, site: site?.id ?? '' });
      return;
    }
    this.marks.value = [...others, {
      finding_id: kind.id, presence, basis: basisOf[kind.found_by] ?? 'heard', side, site_id: site?.id ?? '',
      t_s: this.timeS, words: here ? inWords(place) : '',
    }];
    this.note({ do: 'mark', finding: kind.id, presence, side, site: site?.id ?? '' });
  }
  // Looking, feeling and asking take a moment; the engine answers for the body as it is then.
  look(kind: FindingKind): void { this.send({ do: 'look', finding: kind.id }); }
  answer(findingId: string, signs: Record<string, number>): void {
    const kind = this.kinds.find((one) => one.id === findingId);
    if (!kind) return;
    const told = this.prepared.told.find((one) => one.id === kind.id);
    const sign = signs[kind.id];
    const isPresent = told ? told.presence === 'present' : sign !== undefined && sign !== 0;
    const side: Side = told ? told.side : sign === 2 ? 'right' : sign === 3 ? 'left' : 'midline';
    const others = this.marks.value.filter((mark) => !(mark.finding_id === kind.id && mark.site_id === ''));
    this.marks.value = [...others, {
      finding_id: kind.id, presence: isPresent ? 'present' : 'absent', basis: kind.found_by, side: isPresent ? side : 'midline', site_id: '',
      t_s: this.timeS, words: '',
    }];
    this.note({ do: 'examine', finding: kind.id, answer: isPresent });
  }
  private sideOf(place: Place): Side {
    if (place.aspect === 'right_side') return 'right';
    if (place.aspect === 'left_side') return 'left';
    return Math.abs(place.u) < 0.05 ? 'midline' : place.u < 0 ? 'right' : 'left';
  }
  markOf(kindId: string, siteId: string): Mark | undefined {
    return this.marks.value.find((mark) => mark.finding_id === kindId && mark.site_id === siteId);
  }

  isOn(treatmentId: string): boolean {
    for (let i = this.log.value.length - 1; i >= 0; i--) {
      const entry = this.log.value[i]!;
      if (entry['treatment'] === treatmentId) return entry.do === 'treat';
    }
    return false;
  }
  treat(kind: { id: string; index: number; is_held: boolean; has_side: boolean }, side: Side): void {
    const isStop = kind.is_held && this.isOn(kind.id);
    this.act(isStop ? actions.stop : actions.treat, { index: kind.index, side: kind.has_side ? side : 'midline' });
    this.note({ do: isStop ? 'stop' : 'treat', treatment: kind.id, index: kind.index, ...(kind.has_side ? { side } : {}) });
  }
  ask(what: 'deep_breath' | 'hold' | 'cough' | 'speak' | 'vowel' | 'normal'): void {
    const seconds = { deep_breath: 30, hold: 10, cough: 2, speak: 6, vowel: 4, normal: 0 }[what];
    this.act(actions[what], { seconds });
    this.note({ do: 'ask', what, seconds });
  }
  private act(kind: number, detail: { index?: number; side?: Side; seconds?: number }): void {
    this.send({ do: 'act', kind, index: detail.index ?? 0, side: ['right', 'left', 'midline'].indexOf(detail.side ?? 'midline'), seconds: detail.seconds ?? 0 });
  }

  end(): void {
    this.lift();
    this.pause(true);
    this.note({ do: 'end' });
    this.isEnded.value = true;
    void this.keep();
  }

  kept(): KeptEncounter {
    return {
      id: this.id, case_id: this.prepared.id, title: this.prepared.title, left_s: Math.max(this.timeS, this.resumeS), seed: this.seed, started_at: this.startedAt, ended_at: this.isEnded.value ? new Date().toISOString() : '',
      log: [...this.log.value], marks: [...this.marks.value], heard: [...this.heard.value], events: this.events,
    };
  }
  // Also called every few seconds, so that a reload loses no time.
  async keep(): Promise<void> {
    try { await put('encounters', this.kept()); } catch (error) { this.storingTrouble.value = (error as Error).message; }
  }
}
