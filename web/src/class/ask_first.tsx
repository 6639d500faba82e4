// A button for what cannot be undone: it asks before it does it.
import { useEffect, useRef, useState } from 'preact/hooks';

export function AskFirst(
  { words, ask, typed, no = 'Keep', isPlain = false, onYes }: { words: string; ask: string; typed?: string; no?: string;
    isPlain?: boolean; onYes: () => Promise<void> | void },
) {
  const [isAsking, setAsking] = useState(false);
  const [said, setSaid] = useState('');
  const back = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (isAsking) back.current?.focus();
  }, [isAsking]);
  if (!isAsking) return <button class={isPlain ? 'plain' : ''} onClick={() => setAsking(true)}>{words}</button>;
  const isReady = typed === undefined || said.trim() === typed;
  return (
    <span class="ask row" role="alertdialog" aria-label={ask}>
      <span>{ask}</span>
      {typed !== undefined && (
        <label class="field">
          Type “{typed}” to be sure<input type="text" value={said} onInput={(event) =>
            setSaid(event.currentTarget.value)} />
        </label>
      )}
      <button disabled={!isReady} onClick={() => {
        setAsking(false);
        void onYes();
      }}>
        {words}
      </button>
      <button ref={back} onClick={() => setAsking(false)}>{no}</button>
    </span>
  );
}
