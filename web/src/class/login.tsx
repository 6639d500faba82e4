// Coming in: with an account, or to a station by its code. A single user on this machine sees neither.
import { useState } from 'preact/hooks';
import { go } from '../lib/route';
import { join, logIn, session } from '../lib/session';
import { useSubmit } from '../lib/use_submit';

export function Login({ forWhat }: { forWhat: string }) {
  const [login, setLogin] = useState('');
  const [password, setPassword] = useState('');
  const { trouble, isBusy, onSubmit } = useSubmit(async () => {
    await logIn(login, password);
  });
  return (
    <div class="narrow stack">
      <h1>Log in</h1>
      <p>{forWhat}</p>
      {session.value?.has_accounts === false && (
        <p class="notice">
          There is no account yet. At the machine where the server runs, open the address that it printed for you; for
          others, make an account there first.
        </p>
      )}
      <form class="card stack" onSubmit={onSubmit}>
        <label class="field">
          Login<input type="text" name="login" autocomplete="username" autocapitalize="none" required value={login}
            onInput={(event) => setLogin(event.currentTarget.value)} />
        </label>
        <label class="field">
          Password<input type="password" name="password" autocomplete="current-password" required value={password}
            onInput={(event) => setPassword(event.currentTarget.value)} />
        </label>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <div class="main-action">
          <button class="main" type="submit" disabled={isBusy}>Log in</button>
        </div>
      </form>
      <p>
        You have a code and a key? <a href="#/join">Join</a>
      </p>
    </div>
  );
}

// `onStaff`: where staff may come too, who log in instead.
export function JoinPage({ code: given, onStaff }: { code: string; onStaff?: () => void }) {
  const [code, setCode] = useState(given);
  const [way, setWay] = useState<'key' | 'name'>('key');
  const [who, setWho] = useState('');
  const { trouble, isBusy, onSubmit } = useSubmit(async () => {
    const joined = await join(code, way === 'key' ? { key: who } : { name: who.trim() });
    if (joined.station_id) go('station');
    else go('class');
  });
  return (
    <div class="narrow stack">
      <h1>Join</h1>
      <form class="card stack" onSubmit={onSubmit}>
        <label class="field">
          Code of the station or the class, as on the wall
          <input type="text" class="code-field" autocomplete="off" autocapitalize="characters" spellcheck={false}
            required maxLength={12} value={code} onInput={(event) => setCode(event.currentTarget.value)} />
        </label>
        <div class="row" role="group" aria-label="Who you are">
          <button type="button" aria-pressed={way === 'key'} onClick={() => {
            setWay('key');
            setWho('');
          }}>
            I have a key
          </button>
          <button type="button" aria-pressed={way === 'name'} onClick={() => {
            setWay('name');
            setWho('');
          }}>
            I have no key
          </button>
        </div>
        {way === 'key'
          ? (
            <label class="field">
              Your own key, 8 letters and digits<input type="text" class="code-field" autocomplete="off"
                autocapitalize="characters" spellcheck={false} required maxLength={16} value={who}
                onInput={(event) => setWho(event.currentTarget.value)} />
            </label>
          )
          : (
            <label class="field">
              Your name<input type="text" autocomplete="name" required maxLength={80} value={who}
                onInput={(event) => setWho(event.currentTarget.value)} />
            </label>
          )}
        {way === 'name' && (
          <p class="small soft">Only for stations that are open to anybody. Your instructor sees the name.</p>
        )}
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <div class="main-action">
          <button class="main" type="submit" disabled={isBusy}>Join</button>
        </div>
      </form>
      <p class="small soft">Have earphones ready. Nothing starts before you say so.</p>
      {onStaff && (
        <p>
          <button class="plain" onClick={onStaff}>Staff: log in</button>
        </p>
      )}
    </div>
  );
}
