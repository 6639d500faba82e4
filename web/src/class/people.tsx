// The roster: in and out as CSV, keys for joining, extra time, staff, and taking people out.
import { useState } from 'preact/hooks';
import { download, postJson, putText, remove } from '../lib/api';
import { AskFirst } from './ask_first';
import type { ClassRoom, Member } from './types';

const cell = (text: string): string => `"${text.replaceAll('"', '""')}"`;
const csvOf = (rows: readonly Pick<Member, 'login' | 'name' | 'extra_time_percent'>[]): string =>
  ['login,name,extra_time_percent', ...rows.map((one) =>
    [cell(one.login), cell(one.name), one.extra_time_percent].join(',')
  )].join('\r\n') + '\r\n';

export function People(
  { room, isInstructor, onChanged }: { room: ClassRoom; isInstructor: boolean; onChanged: () => void },
) {
  const [trouble, setTrouble] = useState('');
  const [said, setSaid] = useState('');
  const put = async (csv: string): Promise<boolean> => {
    setTrouble('');
    setSaid('');
    try {
      const made = await putText<{ added: number; changed: number; total: number }>(`classes/${room.id}/roster`,
        'text/csv', csv);
      setSaid(`${made.added} added, ${made.changed} changed; ${made.total} on the roster.`);
      onChanged();
      return true;
    } catch (error) {
      setTrouble((error as Error).message);
      return false;
    }
  };
  const drop = async (path: string, words: string) => {
    setTrouble('');
    try {
      await remove(path);
      setSaid(words);
      onChanged();
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <section class="stack" aria-label="People">
      <p role="status" class="small">{said}</p>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      <div class="row no-print">
        {isInstructor && (
          <label class="file-button">
            Roster from a CSV file<input class="unseen" type="file" accept=".csv,text/csv" onChange={(event) => {
              const file = event.currentTarget.files?.[0];
              event.currentTarget.value = '';
              if (file) void file.text().then(put);
            }} />
          </label>
        )}
        {isInstructor && (
          <button onClick={() => {
            download(`classes/${room.id}/roster`, 'roster.csv').catch((error: Error) => setTrouble(error.message));
          }}>
            Roster as CSV
          </button>
        )}
        {isInstructor && room.members.length > 0 && <button onClick={() => print()}>Print key slips</button>}
      </div>
      {room.join_code && room.members.length > 0 && (
        <p class="no-print">
          Code of the class:{' '}
          <strong class="code-field">{room.join_code}</strong>. With it and their own key, learners reach the drill and
          their own page.
        </p>
      )}
      {isInstructor && <AddLearner onAdd={(login, name) => put(csvOf([{ login, name, extra_time_percent: 0 }]))} />}
      {room.members.length === 0 ?
        (
          <p class="soft">
            Nobody is on the roster. A CSV file has the columns login and name, and extra_time_percent if you like; or
            add people one by one.
          </p>
        )
        : (
          <div class="scroll-x no-print" tabIndex={0} role="region" aria-label="Roster">
            <table>
              <thead>
                <tr>
                  <th scope="col">Name</th>
                  <th scope="col">Login</th>
                  {isInstructor && <th scope="col">Key to join</th>}
                  <th scope="col">Extra time</th>
                  {isInstructor && (
                    <th scope="col">
                      <span class="unseen">Remove</span>
                    </th>
                  )}
                </tr>
              </thead>
              <tbody>
                {room.members.map((one) => (
                  <tr>
                    <th scope="row" class="plain-head">
                      <a href={`#/class/${room.id}/person/${one.person_id}`}>{one.name}</a>
                    </th>
                    <td>{one.login}</td>
                    {isInstructor && (
                      <td>
                        <code>{one.key}</code>
                      </td>
                    )}
                    <td>
                      {isInstructor ?
                        (
                          <label>
                            <span class="unseen">Extra time of {one.name}, percent</span>
                            <select value={String(one.extra_time_percent)} onChange={(event) => {
                              void put(csvOf([{ ...one, extra_time_percent: Number(event.currentTarget.value) }]));
                            }}>
                              {[...new Set([0, 10, 25, 50, 100, one.extra_time_percent])].sort((a, b) => a - b).map((
                                share,
                              ) => <option value={String(share)}>{share === 0 ? 'none' : `+${share} %`}</option>)}
                            </select>
                          </label>
                        ) :
                        `${one.extra_time_percent} %`}
                    </td>
                    {isInstructor && (
                      <td>
                        <AskFirst words="Remove" ask={`Take ${one.name} out of this class? What was done stays stored.`}
                          onYes={() =>
                            drop(`classes/${room.id}/members/${one.person_id}`, `${one.name} is out of the class.`)} />
                      </td>
                    )}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      {isInstructor && (
        <ul class="slips" aria-hidden="true">
          {room.members.map((one) => (
            <li>
              <strong>{one.name}</strong>
              <br />Code of the class: <code>{room.join_code}</code>
              <br />Your key: <code>{one.key}</code>
              <br />
              <span class="small">Phren, {room.title}. Keep it to yourself.</span>
            </li>
          ))}
        </ul>
      )}
      <h2 class="no-print">Staff</h2>
      <ul class="plain-list no-print">
        {room.staff.map((one) => (
          <li class="row">
            <span class="grow">
              {one.name} <span class="soft small">{one.role}{one.login && `, ${one.login}`}</span>
            </span>
            {isInstructor && room.staff.length > 1 && (
              <AskFirst words="Remove" ask={`Take ${one.name} off the staff of this class?`} onYes={() =>
                drop(`classes/${room.id}/staff/${one.person_id}`, `${one.name} is no longer staff here.`)} />
            )}
          </li>
        ))}
      </ul>
      {isInstructor && (
        <AddStaff classId={room.id} onAdded={(words) => {
          setSaid(words);
          onChanged();
        }} />
      )}
    </section>
  );
}

function AddLearner({ onAdd }: { onAdd: (login: string, name: string) => Promise<boolean> }) {
  const [name, setName] = useState('');
  const [login, setLogin] = useState('');
  const add = (event: Event) => {
    event.preventDefault();
    void onAdd(login.trim(), name.trim()).then((isAdded) => {
      if (isAdded) {
        setName('');
        setLogin('');
      }
    });
  };
  return (
    <form class="row no-print" onSubmit={add}>
      <label class="field grow">
        Name<input type="text" required maxLength={80} value={name}
          onInput={(event) => setName(event.currentTarget.value)} />
      </label>
      <label class="field grow">
        Login, short and unique<input type="text" required maxLength={64} autocapitalize="none" value={login}
          onInput={(event) => setLogin(event.currentTarget.value)} />
      </label>
      <button type="submit">Add learner</button>
    </form>
  );
}

function AddStaff({ classId, onAdded }: { classId: string; onAdded: (words: string) => void }) {
  const [login, setLogin] = useState('');
  const [name, setName] = useState('');
  const [password, setPassword] = useState('');
  const [role, setRole] = useState<'examiner' | 'instructor'>('examiner');
  const [trouble, setTrouble] = useState('');
  const add = async (event: Event) => {
    event.preventDefault();
    setTrouble('');
    try {
      await postJson<ClassRoom>(`classes/${classId}/staff`, { login: login.trim(), role,
        ...(name.trim() ? { name: name.trim(), password } : {}) });
      onAdded(`${name.trim() || login} is now ${role} here.`);
      setLogin('');
      setName('');
      setPassword('');
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <details class="no-print">
      <summary>Add an examiner or another instructor</summary>
      <form class="card stack" onSubmit={(event) => {
        void add(event);
      }}>
        <div class="row" role="group" aria-label="As">
          {(['examiner', 'instructor'] as const).map((one) => (
            <button type="button" aria-pressed={role === one} onClick={() => setRole(one)}>{one}</button>
          ))}
        </div>
        <p class="small soft">
          An examiner sees the stations, marks on a tablet and reads results. An instructor can also change the class.
        </p>
        <label class="field">
          Login<input type="text" required maxLength={64} autocapitalize="none" autocomplete="off" value={login}
            onInput={(event) => setLogin(event.currentTarget.value)} />
        </label>
        <p class="small soft">If nobody has this login yet, give also:</p>
        <label class="field">
          Name<input type="text" maxLength={80} autocomplete="off" value={name}
            onInput={(event) => setName(event.currentTarget.value)} />
        </label>
        <label class="field">
          First password, 10 characters or more<input type="password" minLength={10} maxLength={200}
            autocomplete="new-password" value={password} onInput={(event) => setPassword(event.currentTarget.value)} />
        </label>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <div class="row">
          <button type="submit">Add to the staff</button>
        </div>
      </form>
    </details>
  );
}
