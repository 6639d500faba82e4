// One play: hear, answer, and only then see. The answer comes first, always.
import { useEffect, useRef, useState } from 'preact/hooks';
import { stop } from '../bench/player';
import { playSound, SoundButtons, SoundPicture } from './sounds';
import { namedSounds, type Play, reasonInWords, spansOf } from './source';
import type { Answered, Choice, DrillSound } from './types';
import { useSpace } from './use_space';

export function PlayView({ play, showsPictures, onAnswer, onNext }: {
  play: Play;
  showsPictures: boolean;
  onAnswer: (answered: string, thoughtS: number) => Promise<Answered>;
  onNext: () => void;
}) {
  const { item, sounds } = play;
  const [chosen, setChosen] = useState('');
  const [given, setGiven] = useState<Answered | null>(null);
  const [trouble, setTrouble] = useState('');
  const [isSending, setSending] = useState(false);
  const heardAtMs = useRef(0);
  const hasOneGain = item.has_one_gain;
  const noteHeard = () => {
    heardAtMs.current ||= performance.now();
  };
  useEffect(() => () => stop(), []);
  useSpace(() => {
    noteHeard();
    playSound(sounds[0]!, sounds, hasOneGain);
  });

  const answer = async (id: string) => {
    setChosen(id);
    setSending(true);
    setTrouble('');
    try {
      const made = await onAnswer(id, heardAtMs.current ? (performance.now() - heardAtMs.current) / 1000 : 0);
      stop();
      setGiven(made);
    } catch (error) {
      setTrouble((error as Error).message);
    } finally {
      setSending(false);
    }
  };
  const isLocked = given !== null || isSending;
  return (
    <div class="two">
      <section class="stack" aria-label="Listen">
        <SoundButtons sounds={sounds} hasOneGain={hasOneGain} onPlayed={noteHeard} />
        {!given && (
          <p class="small soft">Play it as often as you like; then answer. Headphones tell more than a loudspeaker.</p>
        )}
        {given && (
          <Feedback play={play} given={given} choices={item.choices} showsPictures={showsPictures} onNext={onNext} />
        )}
      </section>
      <fieldset class="stack">
        <legend>{item.question}</legend>
        <div class="choices">
          {item.choices.map((choice) => {
            const isRight = given?.truth === choice.id || given?.accepted.includes(choice.id),
              isMine = chosen === choice.id;
            return (
              <button aria-pressed={isMine} aria-disabled={isLocked} class={given && isRight ? 'right' : ''}
                onClick={() => {
                  if (!isLocked) void answer(choice.id);
                }}
              >
                {given && isRight && <span class="tick" aria-hidden="true">✓</span>}
                {given && isMine && !isRight && <span class="tick" aria-hidden="true">✗</span>}
                {choice.label}
                {given && isRight && (
                  <span class="unseen">{given.truth === choice.id ? ', this is it' : ', right as well'}</span>
                )}
                {given && isMine && !isRight && <span class="unseen">, your answer</span>}
              </button>
            );
          })}
        </div>
        {trouble && (
          <p class="notice" role="alert">
            {trouble}{' '}
            <button class="plain" onClick={() => {
              void answer(chosen);
            }}>
              Send the answer again
            </button>
          </p>
        )}
      </fieldset>
    </div>
  );
}

function headline(given: Answered, choices: readonly Choice[]): string {
  const said = choices.find((one) => one.id === given.answered)?.label ?? '';
  if (given.is_right && given.answered !== given.truth) {
    return `Right: ${said} can be heard; the most prominent is ${given.truth_label}.`;
  }
  if (given.is_right) return `Right: ${given.truth_label}.`;
  if (given.is_family_right && given.skill.mode === 'lobe') {
    return `Nearly: the right side, but it was the ${given.truth_label}, not the ${said}.`;
  }
  if (given.is_family_right) return `Nearly: the right family, but it was ${given.truth_label}, not ${said}.`;
  return `Not this time. It was ${given.truth_label}; you said ${said}.`;
}

function Feedback(
  { play, given, choices, showsPictures, onNext }: { play: Play; given: Answered; choices: readonly Choice[];
    showsPictures: boolean; onNext: () => void },
) {
  const next = useRef<HTMLButtonElement>(null);
  const [named, setNamed] = useState<readonly DrillSound[]>([]);
  useEffect(() => next.current?.focus({ preventScroll: true }), []);
  useEffect(() => {
    namedSounds(play, given).then(setNamed, () => {/* the answer stands without it */});
  }, [given]);
  const beside = [...play.sounds, ...named];
  return (
    <div class="stack">
      <p class="caption" role="status">{headline(given, choices)}</p>
      {named.length > 0 && (
        <SoundButtons sounds={named} hasOneGain={play.item.has_one_gain} beside={beside} onPlayed={() => {}} />
      )}
      {given.explanation && <p>{given.explanation}</p>}
      {reasonInWords(given.reason) && <p class="small soft">{reasonInWords(given.reason)}</p>}
      <div class="main-action at-foot">
        <button class="main" ref={next} onClick={onNext}>Next</button>
      </div>
      {showsPictures &&
        play.sounds.map((sound, i) => (
          <SoundPicture key={sound.recording.id} beside={play.item.has_one_gain ? beside : [sound]}
            sound={{ ...sound, truth: spansOf(given.truth_events[i] ?? []) }} />
        ))}
      {showsPictures &&
        named.map((sound) => (
          <SoundPicture key={sound.recording.id} beside={play.item.has_one_gain ? beside : [sound]} sound={sound} />
        ))}
    </div>
  );
}
