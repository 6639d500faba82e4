// A phone in the round: the patient that all share, one's own chestpiece, what is asked, and what one says.
import { useState } from 'preact/hooks';
import { Volume } from '../audio/volume';
import { heardAtChest } from '../bedside/groups';
import { Marking, MarkList } from '../bedside/marking';
import { Treat } from '../bedside/treat';
import { inWords } from '../chest/landmarks';
import { Field, LineState, RoundMonitor } from './field';
import { OwnDebrief } from './own_debrief';
import type { Round } from './round';
import { TruthShown } from './truth';

export function Listener({ round }: { round: Round }) {
  const encounter = round.encounter.value, room = round.room.value;
  const [isDebrief, setDebrief] = useState(false);
  if (!encounter) {
    return (
      <div class="stack">
        <h1>Round</h1>
        <LineState round={round} />
        <p role="status">Coming in …</p>
      </div>
    );
  }
  if (!round.hasSound.value) {
    return (
      <div class="narrow stack">
        <h1>{encounter.prepared.title}</h1>
        <LineState round={round} />
        <p class="story">{encounter.prepared.story}</p>
        <p>Earphones in, volume low. Everybody in the room hears this same patient.</p>
        <div class="row">
          <button class="main" onClick={() => {
            void round.start();
          }}>
            Listen
          </button>
        </div>
      </div>
    );
  }
  if (isDebrief && room.truth) return <OwnDebrief round={round} truth={room.truth} of={round.welcome.value!.you.id} />;
  return (
    <>
      {room.isOver && (
        <div class="notice row" role="status">
          <span class="grow">The round is over. Thank you.</span>
          {room.truth && <button class="main" onClick={() => setDebrief(true)}>Your debrief</button>}
        </div>
      )}
      <div class="two">
        <Field round={round} encounter={encounter} mayMove={round.isCrew.value} />
        <section class="stack">
          <LineState round={round} />
          {!room.isOver && !room.isRunning && <p role="status">The patient stands still: wait for the desk.</p>}
          {room.listen && (
            <p class="card">
              Listen here: <strong>{inWords(room.listen)}</strong>{' '}
              <button onClick={() => encounter.move(room.listen!)}>Go there</button>
            </p>
          )}
          {room.question && <QuestionCard key={room.question.n} round={round} />}
          {room.hasMonitor && <RoundMonitor encounter={encounter} />}
          {room.truth && <TruthShown round={round} truth={room.truth} />}
          <Marking encounter={encounter} kinds={heardAtChest(encounter.kinds)} question="What do you hear here?"
            rest="sounds" />
          <MarkList encounter={encounter} />
          {round.isCrew.value && (
            <details>
              <summary>Treat: you are crew</summary>
              <Treat encounter={encounter} treatments={round.vocabulary!.treatments} onStart={() => round.start()} />
            </details>
          )}
          <Volume />
          <p class="small soft">
            {round.count.value} in the round
            {!('serviceWorker' in navigator) &&
              ' · This page came without encryption: it works, with a little more delay, ' +
                'and not offline.'}
          </p>
        </section>
      </div>
    </>
  );
}

function QuestionCard({ round }: { round: Round }) {
  const question = round.room.value.question!;
  const me = round.welcome.value!.you.id;
  const said = round.ownLines.value.filter((line) => line.by === me)
    .map((line) => line['answer'] as { question: number; value: string } | undefined)
    .filter((one) => one?.question === question.n).pop()?.value;
  return (
    <fieldset class="card stack">
      <legend>{question.words}</legend>
      {question.options.length > 0
        ? (
          <div class="choices">
            {question.options.map((one) => (
              <button aria-pressed={said === one} onClick={() => round.answer(question.n, one)}>{one}</button>
            ))}
          </div>
        )
        : (
          <form class="row" onSubmit={(event) => {
            event.preventDefault();
            const field = event.currentTarget.elements.namedItem('words') as HTMLInputElement;
            if (field.value.trim()) round.answer(question.n, field.value.trim());
          }}>
            <input class="grow" type="text" name="words" maxLength={200} aria-label="Your answer" />
            <button type="submit">Answer</button>
          </form>
        )}
      {said && <p class="small soft" role="status">You said: {said}</p>}
    </fieldset>
  );
}
