// One learner's time with one patient: the log of what was done, and what was marked.
// The log is the only truth (docs/formats/encounter.md); it is kept on this device after every action.
import { computed, type Signal, signal } from '@preact/signals';
import { type Aspect, type Body, mirrored, type Place } from '../chest/geometry';
import { inWords, placeAnswer, type Site, siteAt } from '../chest/landmarks';
import { ask } from '../engine/ask';
import type { Setup } from '../engine/module';
import type { ToEngine } from '../engine/protocol';
import { askable, bodilyDeeds, type Deed, type FindingAnswer, type InstrumentAnswer, type LogAnswer, type LogEntry,
  lookFor, type Manoeuvre, type Now, type Posture, type Presence, type Realness, type Side, type StayAnswer,
  type VitalId } from '../generated/bedside';
import { newId } from '../lib/new_id';
import { put } from '../lib/store';
import { type Mark, reportOf } from './marks';
import { bodyOf, type Case, type FindingKind } from './types';

export interface KeptEncounter {
  id: string;
  case_id: string;
  title: string;
  seed: number;
  started_at: string;
  ended_at: string;
  left_s: number;
  log: LogEntry[];
  marks: Mark[];
}

const kDragEvery_ms = 150; // the chestpiece itself takes about a tenth of a second to slide there
const kAnswer_ms = 5000;

const whole = (timeS: number) => Math.floor(timeS * 1000) / 1000; // the log counts in milliseconds

export class Encounter {
  readonly body: Body;
  readonly place = signal<Place>({ aspect: 'front', u: -0.6, v: 0.45 });
  readonly aspect = signal<Aspect>('front');
  readonly isPressed = signal(false);
  readonly isBell = signal(false);
  readonly instruments = signal<readonly InstrumentAnswer[]>([]); // at hand; none until the engine is there
  readonly isClothed: Signal<boolean>;
  readonly posture: Signal<Posture>;
  readonly isPaused = signal(false);
  readonly isRateShown = signal(false); // else the learner counts the breaths
  readonly now = signal<Now | null>(null);
  readonly marks = signal<readonly Mark[]>([]);
  readonly log = signal<readonly LogEntry[]>([]);
  readonly isEnding = signal(false); // End was pressed; what is still under way is waited for
  readonly isEnded = signal(false);
  readonly storingTrouble = signal('');
  readonly markedSites = computed(() => new Set(this.marks.value.map((mark) => mark.site_id)));
  readonly heardSites = computed(() =>
    new Set(this.stays().filter((one) => one.end_s - one.start_s > 1).map((one) => one.site_id))
  );
  // How the encounter stands after what was done; null until the module is there.
  readonly standing = computed<LogAnswer | null>(() => this.standingAt(0));
  private toEngine: ((message: ToEngine) => void) | null = null;

  constructor(readonly id: string, readonly prepared: Case, readonly seed: number, readonly sites: readonly Site[],
    readonly kinds: readonly FindingKind[], readonly startedAt = new Date().toISOString())
  {
    this.body = bodyOf(prepared.person);
    this.isClothed = signal(prepared.clothing !== 'bare');
    this.posture = signal(prepared.posture);
  }

  // What a fresh engine needs to stand where this encounter stands.
  setup(packet: ArrayBuffer): Omit<Setup, 'wasm'> {
    return { packet, seed: this.seed, sites: this.sites, history: this.log.peek(), untilS: this.resumeS };
  }
  connect(send: (message: ToEngine) => void): void {
    this.toEngine = send;
    this.resumeS = 0;
    if (this.isPaused.peek()) send({ do: 'pause', isPaused: true });
  }

  // Goes on where an interrupted encounter stopped: the same case, seed and actions at the same times
  // give the same patient. The chestpiece was put aside at that moment.
  private resumeS = 0;
  restore(kept: KeptEncounter): void {
    this.log.value = kept.log;
    this.marks.value = kept.marks;
    this.resumeS = kept.left_s;
    this.isEnded.value = Boolean(kept.ended_at) || this.hasEnd();
    const standing = this.standing.peek();
    if (!standing) return;
    this.isClothed.value = standing.is_closed;
    this.isBell.value = standing.head === 'bell';
    this.posture.value = standing.posture;
    if (standing.last_place) {
      const { aspect, u, v } = standing.last_place;
      this.place.value = { aspect, u, v };
      this.aspect.value = aspect;
    }
    if (standing.is_on_skin && !this.isEnded.peek()) this.write({ do: 'lift' }, kept.left_s);
  }

  get timeS(): number {
    return this.now.value?.timeS ?? this.resumeS;
  }
  siteHere(): Site | null {
    return siteAt(this.sites, this.place.value);
  }
  private standingAt(untilS: number): LogAnswer | null {
    return ask('log', { log: this.log.value, clothing: this.prepared.clothing, posture: this.prepared.posture,
      until_s: untilS });
  }
  // `untilS`: for a stay that is not over.
  stays(untilS = 0): StayAnswer[] {
    return (untilS > 0 ? this.standingAt(untilS) : this.standing.value)?.stays ?? [];
  }
  text(): string {
    return ask('text', { log: this.log.peek(), id: this.id, case_id: this.prepared.id, seed: String(this.seed),
      started_at: this.startedAt }) ?? '';
  }

  // ---- the log ----

  private hasEnd(): boolean {
    return this.log.peek()[this.log.peek().length - 1]?.do === 'end';
  }
  // Nothing is written after the end: the log would be refused.
  private write(deed: Deed, timeS: number, id: string = newId()): void {
    if (this.hasEnd()) return;
    const last = this.log.peek()[this.log.peek().length - 1]?.t ?? 0;
    this.log.value = [...this.log.peek(), { id, t: Math.max(last, whole(timeS)), ...deed }];
    void this.keep();
  }
  // Words and looks: they leave the body as it is, so the page's own clock will do.
  note(deed: Deed): void {
    this.write(deed, this.timeS);
  }

  // Deeds that reach the body are stamped by the engine with the step at which they did.
  private readonly waiting = new Map<string, { deed: Deed; done: () => void }>();
  private readonly underWay = new Set<Promise<void>>(); // deeds and looks that the engine has yet to answer
  private awaitEngine(ask: (done: () => void) => void): Promise<void> {
    const answered = new Promise<void>(ask).finally(() => this.underWay.delete(answered));
    this.underWay.add(answered);
    return answered;
  }
  private perform(deed: Deed): Promise<void> {
    if (!bodilyDeeds.has(deed.do)) throw new Error(`${deed.do} does not reach the body`);
    const id = newId();
    if (!this.toEngine) {
      this.write(deed, this.timeS, id);
      return Promise.resolve();
    }
    this.toEngine({ do: 'deed', entry: { id, t: 0, ...deed } });
    return this.awaitEngine((done) => {
      this.waiting.set(id, { deed, done });
      setTimeout(() => this.stamp(id, this.timeS), kAnswer_ms); // sound stopped by the system: nothing done is lost
    });
  }
  stamp(id: string, t: number): void {
    const one = this.waiting.get(id);
    if (!one) return;
    this.waiting.delete(id);
    this.write(one.deed, t, id);
    one.done();
  }

  // What somebody else did to the same body (web/src/round), and what oneself did before a reload.
  witness(deed: Deed, timeS: number, id: string): void {
    if (this.log.peek().some((one) => one.id === id)) return;
    this.write(deed, timeS, id);
    if (deed.do === 'posture') this.posture.value = deed.posture;
    if (deed.do === 'cover') this.isClothed.value = this.prepared.clothing !== 'bare';
    if (deed.do === 'expose') this.isClothed.value = false;
  }
  // Another beginning of the same patient: what was done is done anew.
  beginAgain(): void {
    this.log.value = [];
    this.marks.value = [];
    this.posture.value = this.prepared.posture;
    this.isClothed.value = this.prepared.clothing !== 'bare';
  }
  // The chestpiece was taken up anew by the engine: put it where the hand holds it.
  putAgain(): void {
    if (this.isBell.peek()) void this.perform({ do: 'head', head: 'bell' });
    if (this.isPressed.peek()) this.put();
  }

  // ---- the chestpiece ----

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
  otherSide(): void {
    this.move(mirrored(this.place.value));
  }
  move(place: Place): void {
    this.place.value = place;
    this.aspect.value = place.aspect;
    if (this.isPressed.peek()) this.slide();
  }
  // A drag is many small moves; the chestpiece is told, and the log written, a few times a second.
  private slideTimer: ReturnType<typeof setTimeout> | undefined;
  private slidLast_ms = 0;
  private slide(): void {
    clearTimeout(this.slideTimer);
    const due_ms = this.slidLast_ms + kDragEvery_ms - performance.now();
    if (due_ms > 0) {
      this.slideTimer = setTimeout(() => this.slide(), due_ms);
      return;
    }
    if (this.isPressed.peek()) this.put();
  }
  private put(): void {
    this.slidLast_ms = performance.now();
    void this.perform({ do: 'place', ...this.point() });
  }
  private point(): { aspect: Aspect; u: number; v: number } {
    const { aspect, u, v } = this.place.peek();
    return { aspect, u: Math.round(u * 1000) / 1000, v: Math.round(v * 1000) / 1000 };
  }
  press(): void {
    if (this.isPressed.value || this.isEnding.peek()) return;
    this.isPressed.value = true;
    this.put();
  }
  async lift(): Promise<void> {
    if (!this.isPressed.value) return;
    clearTimeout(this.slideTimer);
    this.isPressed.value = false;
    await this.perform({ do: 'lift' });
  }
  setBell(isBell: boolean): void {
    this.isBell.value = isBell;
    void this.perform({ do: 'head', head: isBell ? 'bell' : 'diaphragm' });
  }
  // What is left out is said anew each time.
  listen(change: { realness?: Realness; instrument?: string; without?: readonly string[] }): void {
    const without = change.without ?? this.standing.peek()?.without ?? [];
    void this.perform({ do: 'listen', ...change, without });
  }
  // An examination is as on a patient, unless it says how it is heard already.
  listenAsOnAPatient(): void {
    if (!this.log.peek().some((entry) => entry.do === 'listen')) this.listen({ realness: 'patient' });
  }
  uncover(): void {
    this.isClothed.value = false;
    void this.perform({ do: 'expose', part: 'all' });
  }
  cover(): void {
    this.isClothed.value = this.prepared.clothing !== 'bare';
    void this.perform({ do: 'cover' });
  }
  percuss(): void {
    void this.perform({ do: 'tap', ...this.point() });
  }

  // ---- the patient ----

  ask(manoeuvre: Manoeuvre): void {
    void this.perform({ do: 'instruct', manoeuvre,
      seconds: askable.find((one) => one.manoeuvre === manoeuvre)!.seconds });
  }
  setPosture(posture: Posture): void {
    this.posture.value = posture;
    void this.perform({ do: 'posture', posture });
  }
  isOn(treatmentId: string): boolean {
    return this.standing.value?.treatments_on.includes(treatmentId) ?? false;
  }
  treat(kind: { id: string; is_held: boolean; has_side: boolean }, side: Side): void {
    if (kind.is_held && this.isOn(kind.id)) void this.perform({ do: 'stop', treatment: kind.id });
    else void this.perform({ do: 'treat', treatment: kind.id, ...(kind.has_side ? { side } : {}) });
  }
  measure(vital: VitalId, value: number | undefined): void {
    this.note({ do: 'measure', vital,
      ...(value !== undefined && Number.isFinite(value) ? { value: Math.round(value * 10) / 10 } : {}) });
  }
  // Looking, feeling and asking take a moment; the engine answers for the body as it is then.
  look(kind: FindingKind): void {
    this.note({ do: 'examine', how: lookFor[kind.found_by], finding: kind.id });
    if (!this.toEngine) return;
    this.toEngine({ do: 'look', finding: kind.id });
    void this.awaitEngine((done) => {
      this.looking.set(kind.id, done);
      setTimeout(done, kAnswer_ms);
    });
  }
  private readonly looking = new Map<string, () => void>();
  answer(findingId: string, findings: readonly FindingAnswer[]): void {
    this.tell(findingId, findings);
    this.looking.get(findingId)?.();
    this.looking.delete(findingId);
  }
  private tell(findingId: string, findings: readonly FindingAnswer[]): void {
    const kind = this.kinds.find((one) => one.id === findingId);
    if (!kind) return;
    const found = findings.find((one) => one.finding_id === kind.id);
    const isPresent = found?.presence === 'present';
    const side = found?.side ?? 'midline';
    const had = this.seen(kind.id);
    const others = this.marks.value.filter((mark) => mark !== had);
    const isMoved = had && had.side !== (isPresent ? side : 'midline');
    if (isMoved) this.setMarks(others, kind, had.side); // what the eye took for the other side
    this.setMarks([...others, {
      finding_id: kind.id,
      presence: isPresent ? 'present' : 'absent',
      basis: kind.found_by,
      side: isPresent ? side : 'midline',
      site_id: '',
      t_s: this.timeS,
      words: '',
    }], kind, isPresent ? side : 'midline');
  }

  // ---- looking ----

  seen(findingId: string): Mark | undefined {
    return this.marks.value.find((mark) => mark.finding_id === findingId && mark.site_id === '');
  }
  // What the learner's own eye saw: a second tap takes it back, the other side replaces.
  see(kind: FindingKind, presence: Presence, side: Side): void {
    const had = this.seen(kind.id);
    const others = this.marks.value.filter((mark) => mark !== had);
    if (had && had.side !== side) this.setMarks(others, kind, had.side, 'seen');
    const isTakenBack = had?.presence === presence && had.side === side;
    this.setMarks(isTakenBack ? others : [...others, {
      finding_id: kind.id,
      presence,
      basis: 'seen',
      side,
      site_id: '',
      t_s: this.timeS,
      words: '',
    }], kind, side, 'seen');
  }

  // ---- marking ----

  mark(kind: FindingKind, presence: Presence): void {
    const here = kind.found_by === 'heard' || kind.found_by === 'percussed';
    const place = this.place.value;
    const siteId = here ? this.siteHere()?.id ?? '' : '';
    const side: Side = kind.is_sided && here ? placeAnswer(place)?.side ?? 'midline' : 'midline';
    const same = (mark: Mark) => mark.finding_id === kind.id && mark.site_id === siteId;
    const had = this.marks.value.find(same);
    const others = this.marks.value.filter((mark) => !same(mark));
    const isTakenBack = had?.presence === presence; // a second tap takes it back
    this.setMarks(isTakenBack ? others : [...others, {
      finding_id: kind.id,
      presence,
      basis: kind.found_by,
      side,
      site_id: siteId,
      t_s: this.timeS,
      words: here ? inWords(place) : '',
    }], kind, side);
  }
  private setMarks(marks: readonly Mark[], kind: FindingKind, side: Side, basis = kind.found_by): void {
    this.marks.value = marks;
    this.note(reportOf(marks, kind.id, side, basis));
  }
  markOf(kindId: string, siteId: string): Mark | undefined {
    return this.marks.value.find((mark) => mark.finding_id === kindId && mark.site_id === siteId);
  }

  // ---- time ----

  pause(isPaused: boolean): void {
    this.isPaused.value = isPaused;
    this.toEngine?.({ do: 'pause', isPaused });
    if (!isPaused && this.isLaidAside) this.press();
    this.isLaidAside = false;
  }
  // Minutes let pass are not minutes listened: the chestpiece is laid aside until time runs again.
  private isLaidAside = false;
  async pass(seconds: number): Promise<void> {
    this.isLaidAside ||= this.isPressed.peek();
    await this.lift();
    this.toEngine?.({ do: 'pass', seconds });
  }
  async end(): Promise<void> {
    if (this.isEnding.peek() || this.isEnded.peek()) return;
    this.isEnding.value = true;
    await this.lift();
    while (this.underWay.size > 0) await Promise.all(this.underWay);
    this.isLaidAside = false;
    this.pause(true);
    this.note({ do: 'end' });
    this.isEnded.value = true;
    await this.keep();
  }

  kept(): KeptEncounter {
    return {
      id: this.id,
      case_id: this.prepared.id,
      title: this.prepared.title,
      left_s: this.timeS,
      seed: this.seed,
      started_at: this.startedAt,
      ended_at: this.isEnded.value ? new Date().toISOString() : '',
      log: [...this.log.value],
      marks: [...this.marks.value],
    };
  }
  // Also called every second, so that a reload loses no time.
  async keep(): Promise<void> {
    try {
      await put('encounters', this.kept());
      this.storingTrouble.value = '';
    } catch (error) {
      this.storingTrouble.value = (error as Error).message;
    }
  }
}
