// "Real or computed?": one's own recordings and rendered chests in random order, brought to one band, length and
// level, so that neither the device nor the loudness gives the answer away.
import { useState } from 'preact/hooks';
import { kMostAnswers, shareInterval } from '../generated/bedside';
import { getBytes, getJson } from '../lib/api';
import { newId } from '../lib/new_id';
import { play, stop } from './player';
import { decode, lengthS, type Recording } from './recording';

const kSeconds = 8;
const kRate_hz = 8000;
const kLow_hz = 60, kHigh_hz = 1000;
const kMost = kMostAnswers / 2; // of each
const kLeast = 3;
const kLevel = 0.06;

interface Piece {
  recording: Recording;
  isReal: boolean;
}

const isOwn = (one: Recording) => !one.truth && !one.source.startsWith('specimen') && lengthS(one) >= kSeconds / 2;

// Bodies of another seed each time, as on a patient.
async function computed(count: number): Promise<Recording[]> {
  const { specimens } = await getJson<{ specimens: { id: string; site_id: string }[] }>('specimens');
  const chests = specimens.filter((one) => !/percussion|voice|cough|heart|grunting|gurgling/.test(one.id));
  const out: Recording[] = [];
  while (out.length < count) { // one after another: the server makes only a few at a time
    const { id } = chests[Math.floor(Math.random() * chests.length)]!;
    const seed = 1 + Math.floor(Math.random() * 999998);
    const bytes = await getBytes(`specimens/${encodeURIComponent(id)}/sound?realness=patient&seed=${seed}`);
    out.push(await decode(new Blob([bytes], { type: 'audio/wav' }), id));
  }
  return out;
}

async function alike(one: Recording): Promise<Recording> {
  const seconds = Math.min(kSeconds, lengthS(one));
  const fromS = Math.random() * Math.max(0, lengthS(one) - seconds);
  const context = new OfflineAudioContext(1, Math.floor(seconds * kRate_hz), kRate_hz);
  const buffer = context.createBuffer(1, one.samples.length, one.rateHz);
  buffer.copyToChannel(one.samples, 0);
  const node = context.createBufferSource();
  node.buffer = buffer;
  let end: AudioNode = node;
  for (const [type, hz] of [['highpass', kLow_hz], ['highpass', kLow_hz], ['lowpass', kHigh_hz], ['lowpass', kHigh_hz],
    ['lowpass', kHigh_hz]] as const)
  {
    const filter = context.createBiquadFilter();
    filter.type = type;
    filter.frequency.value = hz;
    end.connect(filter);
    end = filter;
  }
  end.connect(context.destination);
  node.start(0, fromS);
  const made = await context.startRendering();
  return { ...one, id: newId(), rateHz: kRate_hz, samples: made.getChannelData(0).slice() };
}

function shuffled<T>(list: T[]): T[] {
  const out = [...list];
  for (let i = out.length - 1; i > 0; i--) {
    const j = Math.floor(Math.random() * (i + 1));
    [out[i], out[j]] = [out[j]!, out[i]!];
  }
  return out;
}

const percent = (share: number) => `${Math.round(100 * share)} %`;

function verdict(answers: readonly boolean[]): string {
  const right = answers.filter(Boolean).length;
  const [low, high] = shareInterval[answers.length]![right]!;
  const told = low > 0.5
    ? 'You could tell them apart.'
    : high < 0.5
    ? 'You took them for each other more often than guessing would.'
    : 'That is no better than guessing, as far as so few can show.';
  return `${right} of ${answers.length} right (${percent(right / answers.length)}; 95 % interval ${percent(low)} to ${
    percent(high)
  }; guessing gives 50 %). ${told}`;
}

export function Blind(
  { recordings, onTrouble }: { recordings: readonly Recording[]; onTrouble: (words: string) => void },
) {
  const own = recordings.filter(isOwn);
  const [pieces, setPieces] = useState<Piece[]>([]);
  const [answers, setAnswers] = useState<boolean[]>([]);
  const [isMaking, setMaking] = useState(false);
  const begin = async () => {
    setMaking(true);
    setAnswers([]);
    try {
      const real = await Promise.all(shuffled(own).slice(0, kMost).map(alike));
      const made = await Promise.all((await computed(real.length)).map(alike));
      setPieces(
        shuffled([...real.map((recording) => ({ recording, isReal: true })),
          ...made.map((recording) => ({ recording, isReal: false }))]),
      );
    } catch (error) {
      onTrouble((error as Error).message);
    } finally {
      setMaking(false);
    }
  };
  const now = pieces[answers.length];
  const answer = (isReal: boolean) => {
    stop();
    setAnswers([...answers, isReal === now!.isReal]);
  };
  if (own.length < kLeast) {
    return (
      <section class="card" aria-label="Real or computed">
        <p>Open at least {kLeast} recordings of your own, 4 s or longer, to be mixed with computed ones.</p>
      </section>
    );
  }
  return (
    <section class="card stack" aria-label="Real or computed">
      <h2>Real or computed?</h2>
      <p class="small">
        Your own recordings and as many computed chests in random order, all in the band of {kLow_hz} to {kHigh_hz}{' '}
        Hz, of one level, {kSeconds} s at most. You hear after the last one how many you could tell.
      </p>
      {!now && (
        <button class="main" disabled={isMaking} onClick={() => {
          void begin();
        }}>
          {isMaking ? 'Making the sounds…' : pieces.length > 0 ? 'Once more' : 'Begin'}
        </button>
      )}
      {now && (
        <div class="row">
          <strong class="figures">{answers.length + 1} of {pieces.length}</strong>
          <button onClick={() => play(now.recording, null, kLevel)}>Play</button>
          <button onClick={() => answer(true)}>Real</button>
          <button onClick={() => answer(false)}>Computed</button>
        </div>
      )}
      {!now && answers.length > 0 && <p role="status">{verdict(answers)}</p>}
    </section>
  );
}
