// What stands on the projector: one sound with its reason, sounds in a row, one sound two ways.
import { AirwayNow } from './airway_now';
import { type Comparison, comparisons } from './lesson';
import { playing } from './loop';
import { Picture, topOf } from './picture';
import { type Part, partsOf, plainPart, takeOf } from './takes';
import { type Shown, type ShowSound, soundOf, sourceWords } from './types';

export function SoundScreen(
  { shown, sound, onLookAlike }: { shown: Shown; sound: ShowSound; onLookAlike: () => void },
) {
  const take = takeOf(plainPart(shown, sound));
  const twin = soundOf(shown, sound.look_alike);
  return (
    <div class="show-sound">
      <div class="show-words">
        <p>{sound.listen}</p>
        <p>
          <strong>Why</strong> {sound.mechanism} <span class="soft">{sourceWords(sound.source, sound.status)}</span>
        </p>
        <p>
          <strong>Where</strong> {sound.where}
        </p>
        <p>
          <strong>Means</strong> {sound.means}
        </p>
        <p>
          <strong>Taken for</strong> <button class="plain" onClick={onLookAlike}>{twin.name}</button>. {sound.apart}
          {' '}
          <span class="soft">{sourceWords(sound.words_source, sound.words_status)}</span>
        </p>
      </div>
      <div class="show-pictures">
        <Picture take={take} label={sound.name} sound={sound.sound} top_dbfs={topOf([take])} />
        <AirwayNow take={take} />
      </div>
    </div>
  );
}

export function partsOfCompare(shown: Shown, how: Comparison, id: string): Part[] {
  return partsOf(shown, soundOf(shown, id), how);
}

export function PanelsScreen({ parts, chosen, onChoose, isAll = false }: {
  parts: readonly Part[];
  chosen: number;
  onChoose: (index: number) => void;
  isAll?: boolean;
}) {
  const now = playing.value;
  const top = topOf(parts.map((one) => takeOf(one)));
  return (
    <ul class={`show-panels${isAll ? ' show-all' : ''}`} data-count={parts.length}>
      {parts.map((part, i) => {
        const take = takeOf(part);
        const words = part.label || part.sound.name;
        return (
          <li>
            <button aria-pressed={i === chosen} onClick={() => onChoose(i)}>
              <span>{words}{take && now === take ? ' ♪' : ''}</span>
              <Picture take={take} label={words} sound={part.sound.sound} isSmall={isAll}
                top_dbfs={isAll ? topOf([take]) : top} />
            </button>
          </li>
        );
      })}
    </ul>
  );
}

export const titleOf = (shown: Shown, how: Comparison, id: string): string =>
  `${soundOf(shown, id).name}: ${comparisons[how]}`;
export const nothingToCompare = (how: Comparison): string =>
  how === 'treatment'
    ? 'No treatment changes this sound within the hour.'
    : how === 'clothing'
    ? 'A tap is not heard through cloth with a stethoscope.'
    : 'This sound has no matching place to compare with.';
