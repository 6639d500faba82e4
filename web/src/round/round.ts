// A page's part in a round: what the server said, what this device's engine lives, and what is still to be sent.
import { computed, effect, signal } from '@preact/signals';
import { loadVocabulary, type Vocabulary } from '../bedside/patients';
import { Encounter } from '../bedside/session';
import type { Live } from '../body/body_view';
import { loadAnswers } from '../engine/ask';
import { type Engine, startRoundEngine } from '../engine/engine';
import type { ToEngine } from '../engine/protocol';
import { bodilyDeeds, chestpieceDeeds, type Deed, kStepsPerSecond, type LogEntry } from '../generated/bedside';
import { newId } from '../lib/new_id';
import { Line } from './line';
import type { FromServer, Point, Question, RoundLine, RoundPerson, Tally, Truth, Welcome, Word } from './types';

export const secondsOf = (step: number): number => Math.floor((step * 1000) / kStepsPerSecond + 1e-7) / 1000;

// How the room stands after all that was said in it.
export interface RoomNow {
  isRunning: boolean;
  hasMonitor: boolean;
  hasNames: boolean;
  truth: Truth | null;
  question: (Question & { n: number; step: number; take: number }) | null;
  listen: (Point & { n: number }) | null;
  isDoorOpen: boolean;
  crew: ReadonlySet<string>;
  takes: { take: number; fromS: number }[]; // beside the first
  isOver: boolean;
}

export function roomAfter(lines: readonly RoundLine[]): RoomNow {
  const crew = new Set<string>();
  const now: RoomNow = { isRunning: false, hasMonitor: false, hasNames: false, truth: null, question: null,
    listen: null, isDoorOpen: true, crew, takes: [], isOver: false };
  for (const line of lines) {
    if (line.do === 'go_back') {
      now.takes.push({ take: line.take, fromS: secondsOf(line.step) });
      now.isRunning = false;
    }
    const word = line['room'] as Word | undefined;
    if (!word) continue;
    if (word.clock) now.isRunning = word.clock === 'run';
    now.hasMonitor = word.show?.monitor ?? now.hasMonitor;
    now.hasNames = word.show?.names ?? now.hasNames;
    if (word.truth !== undefined) now.truth = word.truth as Truth | null;
    if (word.ask !== undefined) {
      now.question = word.ask && { ...word.ask, n: line.n, step: line.step, take: line.take };
    }
    if (word.listen !== undefined) now.listen = word.listen && { ...word.listen, n: line.n };
    if (word.door) now.isDoorOpen = word.door === 'open';
    if (word.crew) {
      if (word.crew.is) crew.add(word.crew.person);
      else crew.delete(word.crew.person);
    }
    if (word.end) {
      now.isOver = true;
      now.isRunning = false;
    }
  }
  return now;
}

// Which of the lines the take that is under way has lived.
export function livedBy(lines: readonly RoundLine[]): RoundLine[] {
  let lived: RoundLine[] = [];
  for (const line of lines) {
    if (line.do === 'go_back') lived = lived.filter((one) => one.step < line.step);
    else if (line.do) lived.push(line);
  }
  return lived.sort((a, b) => a.step - b.step || a.n - b.n);
}
export const deedOf = ({ n: _n, take: _take, step: _step, by: _by, ...deed }: RoundLine) => deed as unknown as Deed;

// It is the server that keeps a round; this device need not.
class RoundEncounter extends Encounter {
  override async keep(): Promise<void> {/* the log of the round is the server's */}
}

export const bytesOf = (base64: string): ArrayBuffer => Uint8Array.from(atob(base64), (c) => c.charCodeAt(0)).buffer;
// Marks, looks and words: what leaves the body as it is.
const isWord = (deed: Deed['do']): boolean => !bodilyDeeds.has(deed) && deed !== 'end';

export class Round {
  readonly state = signal<'coming' | 'here' | 'down' | 'over'>('coming');
  readonly overWords = signal('');
  readonly mayComeAgain = signal(false); // as the same person
  readonly trouble = signal('');
  readonly welcome = signal<Welcome | null>(null);
  readonly people = signal<readonly RoundPerson[]>([]);
  readonly count = signal(0);
  readonly tally = signal<Tally | null>(null);
  readonly lines = signal<readonly RoundLine[]>([]);
  readonly ownLines = signal<readonly RoundLine[]>([]); // of oneself; at a desk of everybody
  readonly take = signal(0);
  readonly step = signal(0); // how far the server lets the patient live
  readonly room = computed(() => roomAfter(this.lines.value));
  readonly isCrew = computed(() => this.room.value.crew.has(this.welcome.value?.you.id ?? ''));
  readonly encounter = signal<Encounter | null>(null);
  readonly hasSound = signal(false); // the engine was started by a tap
  readonly isPlaying = signal(false);
  readonly numUnsent = signal(0);
  vocabulary: Vocabulary | null = null;
  live: Live | null = null;
  private readonly line: Line;
  private engine: Engine | null = null;
  private unsent: RoundLine[] = []; // own lines that the server has not kept yet
  private waiting = new Map<string, Deed>(); // deeds for the body that it has not answered
  private own = 0;
  private stops: (() => void)[] = [];

  constructor(private readonly token: string) {
    this.line = new Line(() => ({ token: this.token, have: this.lines.peek().length }), (message) => this.hear(message),
      (isUp) => {
        if (this.state.peek() !== 'over') this.state.value = isUp ? 'here' : 'down';
      });
  }
  close(): void {
    this.line.close();
    this.engine?.close();
    this.engine = null;
    for (const stop of this.stops) stop();
  }

  // ---- what the server says ----

  private hear(message: FromServer): void {
    if ('beat' in message) this.beat(...message.beat);
    else if ('lines' in message) this.hearLines(message.lines);
    else if ('own' in message) this.hearOwn(message.own);
    else if ('ack' in message) this.acknowledge(message.ack);
    else if ('welcome' in message) this.greet(message.welcome);
    else if ('people' in message) this.people.value = message.people;
    else if ('count' in message) this.count.value = message.count;
    else if ('tally' in message) this.tally.value = message.tally;
    else if ('refused' in message) {
      this.trouble.value = message.refused.words;
      this.waiting.delete(message.refused.id);
    } else if ('trouble' in message) this.trouble.value = message.trouble;
    else if ('live_again' in message) this.engine?.send({ do: 'live_again' });
    else if ('over' in message) {
      this.mayComeAgain.value = message.over.why === 'full';
      this.end(message.over.words);
    }
  }
  private end(words: string): void {
    this.state.value = 'over';
    this.overWords.value = words;
    this.line.close();
  }
  private greet(welcome: Welcome): void {
    const isFirst = this.welcome.peek() === null;
    this.welcome.value = welcome;
    if (welcome.people) this.people.value = welcome.people;
    if (isFirst) {
      this.own = welcome.own;
      void this.prepare(welcome).catch((error: Error) => {
        this.trouble.value = error.message;
      });
    } else {
      this.acknowledge(welcome.kept);
      this.sendOwn();
      for (const [id, deed] of this.waiting) this.line.send({ do: { id, ...deed } });
    }
  }
  private async prepare(welcome: Welcome): Promise<void> {
    const words = await loadVocabulary();
    this.vocabulary = words;
    await loadAnswers(words.sites);
    const prepared = { id: `station round ${welcome.round.id}`, ...welcome.patient, title: welcome.round.title,
      conditions: [], teaching_points: [] };
    const encounter = new RoundEncounter(newId(), prepared, Number(welcome.seed), words.sites, words.kinds);
    this.encounter.value = encounter;
    encounter.connect((message) => this.do(message));
    this.witnessAll();
    this.stops.push(effect(() => this.keepWords(encounter.log.value)));
  }
  private hearLines(lines: readonly RoundLine[]): void {
    const have = this.lines.peek().length;
    const fresh = lines.filter((line) => line.n > have).sort((a, b) => a.n - b.n);
    if (fresh.length === 0) return;
    if (fresh[0]!.n !== have + 1) {
      this.line.send({ missing: have + 1 });
      return;
    }
    this.lines.value = [...this.lines.peek(), ...fresh];
    this.engine?.send({ do: 'lines', lines: fresh });
    for (const line of fresh) {
      this.waiting.delete(String(line['id'] ?? ''));
      if (line.do === 'go_back') this.witnessAll();
      else if (line.do) this.witness(line);
    }
  }
  private witness(line: RoundLine): void {
    const encounter = this.encounter.peek();
    if (!encounter) return;
    const id = String(line['id'] ?? `s${line.n}`);
    if (line.by === this.welcome.peek()?.you.id) encounter.stamp(id, secondsOf(line.step));
    const { id: _id, ...deed } = deedOf(line) as Deed & { id?: string };
    if (deed.do !== 'steer' && deed.do !== 'befall') encounter.witness(deed as Deed, secondsOf(line.step), id);
  }
  private witnessAll(): void {
    this.encounter.peek()?.beginAgain();
    for (const line of livedBy(this.lines.peek())) this.witness(line);
  }
  private hearOwn(lines: readonly RoundLine[]): void {
    // What this page itself wrote stands in its list already; all of it comes again when the line was down.
    const key = (line: RoundLine) => `${line.by} ${line.n}`;
    const known = new Set(this.ownLines.peek().map(key));
    const fresh = lines.filter((line) => !known.has(key(line)));
    if (fresh.length > 0) this.ownLines.value = [...this.ownLines.peek(), ...fresh];
  }
  private beat(take: number, step: number, last: number, _isRunning: number): void {
    this.take.value = take;
    this.step.value = step;
    if (last > this.lines.peek().length) this.line.send({ missing: this.lines.peek().length + 1 });
    this.engine?.send({ do: 'beat', take, step, last });
  }

  // ---- sound: from a tap on ----

  async start(): Promise<boolean> {
    const welcome = this.welcome.peek(), words = this.vocabulary;
    if (this.engine) return true;
    if (!welcome || !words || !this.encounter.peek()) return false;
    try {
      this.engine = await startRoundEngine({ packet: bytesOf(welcome.packet), seed: Number(welcome.seed),
        sites: words.sites }, {
        onNow: (now, block, seen) => {
          this.live = { seen, volume: now.volume };
          this.encounter.peek()!.now.value = now;
          this.onBlock?.(now, block);
        },
        onEvents: () => {/* the truth is not for this page */},
        onFindings: (findings, finding) => this.encounter.peek()!.answer(finding, findings),
        onFailed: (words) => {
          this.trouble.value = words;
        },
        onRound: (message) => {
          if (message.say === 'own') this.stampOwn(message.entry, message.take, message.step);
          else if (message.say === 'taken_up') this.takenUp(message.take, message.step);
          else if (message.say === 'sum') {
            this.line.send({ sum: { take: message.take, step: message.step, sum: message.sum } });
          } else if (message.say === 'playing') this.isPlaying.value = message.isPlaying;
        },
      });
      this.engine.send({ do: 'lines', lines: this.lines.peek() });
      this.engine.send({ do: 'beat', take: this.take.peek(), step: this.step.peek(), last: this.lines.peek().length });
      this.engine.send({ do: 'catch_up' });
      this.hasSound.value = true;
      return true;
    } catch (error) {
      this.trouble.value = (error as Error).message;
      return false;
    }
  }
  onBlock: ((now: import('../generated/bedside').Now, block: Float32Array | null) => void) | null = null;

  // ---- what this page does ----

  // As the encounter asks its engine.
  private do(message: ToEngine): void {
    if (message.do === 'deed' && !chestpieceDeeds.has(message.entry.do)) {
      const { id, t: _t, ...deed } = message.entry;
      this.waiting.set(id, deed as Deed);
      this.line.send({ do: { id, ...(deed as Deed) } });
    } else if (message.do === 'deed' || message.do === 'look') {
      void this.start().then((isThere) => {
        if (isThere) this.engine!.send(message);
      });
    }
  }
  deed(deed: Deed): void {
    const id = newId();
    this.waiting.set(id, deed);
    this.line.send({ do: { id, ...deed } });
  }
  say(word: Word): void {
    if (!this.line.send({ room: word })) this.trouble.value = 'The line is down: this was not done. Try again.';
  }
  private stampOwn(entry: LogEntry, take: number, step: number): void {
    this.encounter.peek()!.stamp(entry.id, entry.t);
    const { id: _id, t: _t, ...deed } = entry;
    this.write(take, step, deed);
  }
  private takenUp(take: number, step: number): void {
    this.write(take, step, { do: 'take_up' });
    this.encounter.peek()?.putAgain();
  }
  answer(question: number, value: string): void {
    this.write(this.take.peek(), this.step.peek(), { answer: { question, value } });
  }
  // Marks and words of the encounter go to the server as they are written.
  private numSeen = 0;
  private keepWords(log: readonly LogEntry[]): void {
    if (log.length < this.numSeen) this.numSeen = 0; // begun again
    const fresh = log.slice(this.numSeen).filter((one) => isWord(one.do));
    this.numSeen = log.length;
    for (const { id: _id, t: _t, ...deed } of fresh) this.write(this.take.peek(), this.step.peek(), deed);
  }
  private write(take: number, step: number, what: object): void {
    const line: RoundLine = { n: ++this.own, take, step, by: this.welcome.peek()!.you.id, ...what };
    this.ownLines.value = [...this.ownLines.peek(), line];
    this.unsent.push(line);
    this.numUnsent.value = this.unsent.length;
    if (this.state.peek() === 'here') this.line.send({ own: [line] });
  }
  private acknowledge(n: number): void {
    this.unsent = this.unsent.filter((line) => line.n > n);
    this.numUnsent.value = this.unsent.length;
  }
  private sendOwn(): void {
    for (let from = 0; from < this.unsent.length; from += 100) {
      this.line.send({ own: this.unsent.slice(from, from + 100) });
    }
  }
}
