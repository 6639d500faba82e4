// The ways into a round: "#/round" to open one, "#/round/CODE" to come in, "#/round/desk/ID", "#/round/debrief/ID", and
// for the projector "#/round/hall/CODE", or "#/round/hall/ID" for who opened the round.
import { useEffect, useState } from 'preact/hooks';
import { Login } from '../class/login';
import { fetchModule } from '../engine/engine';
import { postJson } from '../lib/api';
import { go, route } from '../lib/route';
import { session } from '../lib/session';
import { useSubmit } from '../lib/use_submit';
import { RoundDebrief } from './debrief';
import { Desk } from './desk';
import { Hall } from './hall';
import { Listener } from './listener';
import { OpenRound } from './open';
import { Round } from './round';
import { forgetToken, keepToken, tokenFor } from './tokens';
import type { CameIn, RoundRole } from './types';

const staffWords = 'Whoever teaches opens rounds; a listener needs only the code.';

export function RoundPlace() {
  const [, first = '', second = ''] = route.value;
  const isStaffPlace = first === '' || first === 'desk' || first === 'debrief';
  if (isStaffPlace && session.value && !session.value.person) return <Login forWhat={staffWords} />;
  if (first === '' && session.value?.person?.role === 'learner') return <TypeCode />;
  if (first === '') return <OpenRound />;
  if (first === 'debrief') return <RoundDebrief key={second} id={second} />;
  if (first === 'desk') return <ByItself key={second} id={second} role="desk" />;
  if (first === 'hall') return <ByItself key={second} id={second} role="projector" />;
  return <AsListener key={first} code={first.toUpperCase()} />;
}

// Who does not teach has nothing to open here.
function TypeCode() {
  const [code, setCode] = useState('');
  return (
    <div class="narrow stack">
      <h1>Come into the round</h1>
      <form class="card stack" onSubmit={(event) => {
        event.preventDefault();
        const plain = code.replace(/[\s-]/g, '').toUpperCase();
        if (plain) go('round', plain);
      }}>
        <label class="field">
          Code of the round<input type="text" class="code-field" autocomplete="off" autocapitalize="characters"
            spellcheck={false} maxLength={12} value={code} onInput={(event) => setCode(event.currentTarget.value)} />
        </label>
        <div class="row">
          <button class="main" type="submit">Come in</button>
        </div>
      </form>
    </div>
  );
}

const kMostCodeSigns = 12; // an id is longer

// Nothing is asked: whoever opened the round has its id; a projector may come by the code as well.
function ByItself({ id, role }: { id: string; role: 'desk' | 'projector' }) {
  const [token, setToken] = useState(tokenFor(id, role));
  const [trouble, setTrouble] = useState('');
  const isCode = id.length <= kMostCodeSigns;
  useEffect(() => {
    if (token || !session.value) return;
    const coming = isCode
      ? postJson<CameIn>('rounds/join', { code: id, role })
      : postJson<CameIn>(`rounds/${id}/${role}`, {});
    coming.then((came) => {
      keepToken(came);
      setToken(came.token);
    }, (error: Error) => setTrouble(error.message));
  }, [token, session.value]);
  if (trouble) {
    return (
      <div class="stack">
        <h1>Round</h1>
        <p class="notice" role="alert">{trouble}</p>
      </div>
    );
  }
  return token ? <In token={token} role={role} onUnknown={() => forgetToken(id, role)} /> : <h1>Round</h1>;
}

function AsListener({ code }: { code: string }) {
  const [token, setToken] = useState(tokenFor(code, 'listener'));
  const [name, setName] = useState('');
  const { trouble, isBusy, onSubmit } = useSubmit(async () => {
    const came = await postJson<CameIn>('rounds/join', { code, name: name.trim() });
    keepToken(came);
    setToken(came.token);
  });
  useEffect(() => {
    void fetchModule().catch(() => {/* told when it is needed */});
  }, []);
  if (token) return <In token={token} role="listener" onUnknown={() => forgetToken(code, 'listener')} />;
  return (
    <div class="narrow stack">
      <h1>Come into the round</h1>
      <form class="card stack" onSubmit={onSubmit}>
        <p class="join-code">
          <span class="small soft">Code</span> <strong class="figures">{code}</strong>
        </p>
        <label class="field">
          Your name, if you like<input type="text" autocomplete="name" maxLength={50} value={name}
            onInput={(event) => setName(event.currentTarget.value)} />
        </label>
        {trouble && <p class="notice" role="alert">{trouble}</p>}
        <div class="row">
          <button class="main" type="submit" disabled={isBusy}>Come in</button>
        </div>
      </form>
    </div>
  );
}

const views = { desk: Desk, listener: Listener, projector: Hall };

function In({ token, role, onUnknown }: { token: string; role: RoundRole; onUnknown: () => void }) {
  const [round, setRound] = useState<Round | null>(null);
  useEffect(() => {
    const made = new Round(token);
    setRound(made);
    return () => made.close();
  }, [token]);
  if (!round) return <h1>Round</h1>;
  if (round.state.value === 'over') {
    return (
      <div class="stack">
        <h1>Round</h1>
        <p class="notice" role="alert">{round.overWords.value}</p>
        <div class="row">
          <button onClick={() => {
            if (!round.mayComeAgain.value) onUnknown();
            location.reload();
          }}>
            Load again
          </button>
        </div>
      </div>
    );
  }
  const View = views[role];
  return <View round={round} />;
}
