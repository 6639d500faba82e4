// Two look-alike sounds, one above the other, switched by one key and brought to the same level.
import { useEffect, useState } from 'preact/hooks';
import { Picture } from './picture';
import { play, playing, stop } from './player';
import { type Recording, rms } from './recording';
import { shelf } from './shelf';
import { usePlayhead } from './use_playhead';

export function Compare() {
  const list = shelf.value;
  const [ids, setIds] = useState<[string, string]>([list[0]!.id, list[1]!.id]);
  const [isMatched, setMatched] = useState(true);
  const pair = ids.map((id, i) => list.find((one) => one.id === id) ?? list[i]!) as [Recording, Recording];
  const level = Math.min(...pair.map((one) => rms(one.samples)));
  const toggle = (i: 0 | 1) => {
    const was = playing.value?.id;
    if (was === pair[i].id) stop();
    else play(pair[i], null, isMatched ? level : null);
  };
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if ((event.target as HTMLElement).closest('input,select,textarea') || event.ctrlKey || event.metaKey ||
        event.altKey) return;
      if (event.key === 'a' || event.key === 'b') {
        event.preventDefault();
        toggle(event.key === 'a' ? 0 : 1);
      }
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
  useEffect(() => stop, []);
  return (
    <section class="stack" aria-label="Compare two recordings">
      <h2>Compare two</h2>
      <label class="check">
        <input type="checkbox" checked={isMatched} onChange={(event) => setMatched(event.currentTarget.checked)} />{' '}
        Same level for both, so that the louder does not win
      </label>
      {([0, 1] as const).map((i) => (
        <One which={i} recording={pair[i]} onToggle={() => toggle(i)}
          onChoose={(id) => setIds(i === 0 ? [id, ids[1]] : [ids[0], id])} />
      ))}
      <p class="soft small">
        Keys: <kbd>a</kbd> and <kbd>b</kbd> play and stop.
      </p>
    </section>
  );
}

function One(
  { which, recording, onToggle, onChoose }: { which: 0 | 1; recording: Recording; onToggle: () => void;
    onChoose: (id: string) => void },
) {
  const at = usePlayhead(recording.id);
  const letter = which === 0 ? 'A' : 'B';
  return (
    <div class="stack">
      <div class="row">
        <button class="main" onClick={onToggle}>{playing.value?.id === recording.id ? 'Stop' : 'Play'} {letter}</button>
        <label class="grow">
          {letter}{' '}
          <select value={recording.id} onChange={(event) => onChoose(event.currentTarget.value)}>
            {shelf.value.map((one) => <option value={one.id}>{one.name}</option>)}
          </select>
        </label>
      </div>
      <Picture recording={recording} spans={[]} selection={null} playheadS={at} />
    </div>
  );
}
