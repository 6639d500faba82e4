// The room is asked; answers come in with what each had under the ear.
import { useState } from 'preact/hooks';
import { heardAtChest } from '../bedside/groups';
import { clock } from '../bedside/marking';
import { inWords } from '../chest/landmarks';
import { type Round, secondsOf } from './round';
import { nameOf, placeBefore } from './where';

const sides = ['Right', 'Left', 'Both', 'Neither'];

export function AskTheRoom({ round }: { round: Round }) {
  const [words, setWords] = useState('');
  const sounds = heardAtChest(round.encounter.value!.kinds).map((kind) => kind.label).slice(0, 12);
  const ask = (text: string, options: string[]) => round.say({ ask: { words: text, options } });
  const question = round.room.value.question;
  return (
    <section class="stack" aria-label="Ask the room">
      <h2>Ask the room</h2>
      <div class="row">
        <button onClick={() => ask('What do you hear?', sounds)}>What do you hear?</button>
        <button onClick={() => ask('Which side?', sides)}>Which side?</button>
        <button onClick={() => ask('What now?', [])}>What now?</button>
        {question && <button class="plain" onClick={() => round.say({ ask: null })}>Take the question away</button>}
      </div>
      <form class="row" onSubmit={(event) => {
        event.preventDefault();
        if (words.trim()) ask(words.trim(), []);
        setWords('');
      }}>
        <input class="grow" type="text" maxLength={200} aria-label="Another question" value={words}
          onInput={(event) => setWords(event.currentTarget.value)} />
        <button type="submit">Ask</button>
      </form>
      {question && <Answers round={round} />}
    </section>
  );
}

// How many said what, of how many: told by the server, the same at the desk and on the wall.
export function Counts({ round }: { round: Round }) {
  const question = round.room.value.question!;
  const tally = round.tally.value?.question === question.n ? round.tally.value : null;
  const here = round.people.value.filter((one) => one.role === 'listener' && one.is_here).length;
  const most = Math.max(1, ...(tally?.counts.map((one) => one.count) ?? []));
  return (
    <>
      <p>
        <strong>{question.words}</strong> {tally?.given ?? 0} of {here} have answered
      </p>
      <ul class="plain-list">
        {tally?.counts.map(({ value, count }) => (
          <li class="said" style={{ '--share': count / most }}>
            <strong class="figures">{count}</strong> {value}
          </li>
        ))}
      </ul>
    </>
  );
}

// Who said what last, with what was under the ear.
function Answers({ round }: { round: Round }) {
  const question = round.room.value.question!;
  const last = new Map<string, { by: string; value: string; step: number }>();
  for (const line of round.ownLines.value) {
    const answer = line['answer'] as { question: number; value: string } | undefined;
    if (answer?.question === question.n) {
      last.set(line.by, { by: line.by, value: String(answer.value), step: line.step });
    }
  }
  return (
    <div class="stack" role="status" aria-label="Answers">
      <Counts round={round} />
      <ul class="plain-list small">
        {[...last.values()].map((one) => {
          const place = placeBefore(round, one.by, one.step);
          return (
            <li>
              {nameOf(round, one.by)}: {one.value}{' '}
              <span class="soft">
                {place
                  ? `at the ${inWords(place.point)} for ${clock(secondsOf(one.step) - place.sinceS)}`
                  : 'not listening'}
              </span>
            </li>
          );
        })}
      </ul>
    </div>
  );
}
