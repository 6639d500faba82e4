// Who did what in this class, and what was refused.
import { useEffect, useState } from 'preact/hooks';
import { getJson } from '../lib/api';
import { localTime } from '../lib/when';

interface Entry {
  at_ms: number;
  actor: string;
  event: string;
  subject: string;
  about: string;
  detail: string;
}

const events: Record<string, string> = {
  class_created: 'made the class',
  staff_set: 'took onto the staff',
  staff_removed: 'took off the staff',
  roster_merged: 'took in a roster',
  member_removed: 'took out of the class',
  person_added: 'made an account',
  person_removed: 'deleted a person',
  password_set: 'set a password',
  password_changed: 'changed the password',
  login: 'logged in',
  login_refused: 'gave a wrong login or password',
  login_blocked: 'blocked after too many tries',
  joined: 'joined',
  session_expired: 'session ran out',
  station_created: 'made a station',
  station_changed: 'changed the plan',
  station_draft: 'put back to prepare',
  station_open: 'opened',
  station_closed: 'closed',
  station_released: 'released the results',
  exported: 'took out a file',
  examiner_marked: 'marked',
  drill_set: 'set what the class practises',
  late_actions: 'sent steps late',
  claim_contradicted: 'page and replay disagree',
  odd_log: 'did what hands hardly do',
  mark_set: 'gave a mark',
  angoff_set: 'judged the pass mark',
  keys_read: 'read the keys',
  roster_read: 'took out the roll',
  log_read: 'read a log',
  mark_read: 'read a mark',
  debrief_read: 'read a debrief',
  encounter_begun: 'began',
  encounter_ended: 'ended',
  logout: 'logged out',
  ended_by_server: 'ended for the learner',
  refused: 'was refused',
};
const eventInWords = (event: string) => events[event] ?? event.replaceAll('_', ' ');

export function Audit({ classId }: { classId: string }) {
  const [entries, setEntries] = useState<Entry[] | null>(null);
  const [word, setWord] = useState('');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<{ entries: Entry[] }>(`classes/${classId}/audit`).then((answer) => setEntries(answer.entries),
      (error: Error) => setTrouble(error.message));
  }, [classId]);
  if (!entries) return <p role="status">{trouble || 'One moment …'}</p>;
  const shown = entries.filter((one) =>
    !word ||
    [one.actor, eventInWords(one.event), one.about, one.detail].some((text) =>
      text.toLowerCase().includes(word.toLowerCase())
    )
  );
  return (
    <section class="stack" aria-label="Activity">
      <p>Newest first, at most 1000. Nothing here can be changed from these pages.</p>
      <label class="field">
        Only lines with<input type="text" value={word} onInput={(event) => setWord(event.currentTarget.value)} />
      </label>
      <div class="scroll-x" tabIndex={0} role="region" aria-label="Log">
        <table class="figures">
          <thead>
            <tr>
              <th scope="col">When</th>
              <th scope="col">Who</th>
              <th scope="col">What</th>
              <th scope="col">On what</th>
            </tr>
          </thead>
          <tbody>
            {shown.map((one) => (
              <tr>
                <td>{localTime(one.at_ms)}</td>
                <td>{one.actor || 'nobody logged in'}</td>
                <td>{eventInWords(one.event)}</td>
                <td>{one.about}{one.detail && <span class="soft">{' '}{one.detail}</span>}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}
