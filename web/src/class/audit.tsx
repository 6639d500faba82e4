// Who did what in this class, and what was refused.
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';

interface Entry { at_ms: number; actor: string; event: string; subject: string; detail: string }

export function Audit({ classId }: { classId: string }) {
  const [entries, setEntries] = useState<Entry[] | null>(null);
  const [word, setWord] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => { getJson<{ entries: Entry[] }>(`classes/${classId}/audit`).then((answer) => setEntries(answer.entries), (error: Error) => setTrouble(error.message)); }, [classId]);
  if (!entries) return <p role="status">{trouble || 'One moment …'}</p>;
  const shown = entries.filter((one) => !word || [one.actor, one.event, one.subject, one.detail].some((text) => text.toLowerCase().includes(word.toLowerCase())));
  return <section class="stack" aria-label="Who did what">
    <p>Newest first, at most 1000. Nothing here can be changed from these pages.</p>
    <label class="field">Only lines with<input type="text" value={word} onInput={(event) => setWord(event.currentTarget.value)} /></label>
    <div class="scroll-x" tabIndex={0} role="region" aria-label="Log"><table class="figures"><thead><tr><th scope="col">When</th><th scope="col">Who</th><th scope="col">What</th><th scope="col">On what</th></tr></thead>
      <tbody>{shown.map((one) => <tr><td>{new Date(one.at_ms).toISOString().slice(0, 19).replace('T', ' ')}</td><td>{one.actor || 'nobody logged in'}</td><td>{one.event}</td><td>{one.subject}{one.detail && <span class="soft"> {one.detail}</span>}</td></tr>)}</tbody></table></div>
  </section>;
}
