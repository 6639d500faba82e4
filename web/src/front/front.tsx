// The front page: what this is, a chest that plays, and the doors.
import { useState } from 'preact/hooks';
import { kRoundCodeSigns } from '../generated/bedside';
import { go } from '../lib/route';
import { Hear } from './hear';

function RoomCode() {
  const [code, setCode] = useState('');
  return (
    <form onSubmit={(event) => {
      event.preventDefault();
      const plain = code.replace(/[\s-]/g, '').toUpperCase();
      if (plain.length === kRoundCodeSigns) go('round', plain);
      else if (plain) go('join', plain);
    }}>
      <input type="text" class="code-field" aria-label="Code of the room" autocomplete="off" autocapitalize="characters"
        spellcheck={false} maxLength={12} value={code} onInput={(event) => setCode(event.currentTarget.value)} />
      <button type="submit">Join</button>
    </form>
  );
}

export function FrontPage() {
  return (
    <>
      <div class="front">
        <div>
          <h1>Learn to listen at a chest that breathes, sickens and answers to treatment.</h1>
          <p class="lead">
            Phren is a patient for emergency medical services: put the chestpiece anywhere, and hear what this body
            makes there now.
          </p>
        </div>
        <Hear />
      </div>
      <ul class="doors">
        <li>
          <a class="door" href="#/class">
            <h2>Teach</h2>
            <p>Show a chest to the room, build stations, see what a class confuses.</p>
          </a>
        </li>
        <li>
          <a class="door" href="#/bedside">
            <h2>Learn</h2>
            <p>Meet patients, drill the sounds you mix up, take a station.</p>
          </a>
        </li>
        <li>
          <a class="door" href="#/bench">
            <h2>Look into recordings</h2>
            <p>Bring a recording; see and hear what is in it, and how sure that is.</p>
          </a>
        </li>
        <li>
          <div class="door">
            <h2>I have a code</h2>
            <p>From the wall or the projector.</p>
            <RoomCode />
          </div>
        </li>
      </ul>
      <p class="row">
        <a href="#/build">Build a patient</a>
        <a href="#/show">Show a sound to the room</a>
      </p>
    </>
  );
}
