// The projector's screen: one screen of a lesson at a time, steered by keys alone or by a presenter's remote.
import { useEffect, useLayoutEffect, useMemo, useState } from 'preact/hooks';
import { VolumeSlider } from '../audio/volume';
import { go } from '../lib/route';
import { type Comparison, comparisons, type Lesson, type Noted } from './lesson';
import { LivePatient } from './live_patient';
import { play, playing, stop } from './loop';
import { nothingToCompare, PanelsScreen, partsOfCompare, SoundScreen, titleOf } from './screens';
import { makingTrouble, type Part, plainPart, takeOf, want } from './takes';
import { type Shown, soundOf } from './types';

// What is before the audience: the lesson's own screen, or what a key put in front of it for a moment.
type Aside = { kind: 'none' } | { kind: 'twin'; id: string } | { kind: 'compare'; how: Comparison } | { kind: 'all' };
const kNumbered = Object.keys(comparisons) as Comparison[];

function partsOfScreen(shown: Shown, noted: Noted | undefined): Part[] {
  const screen = noted?.screen;
  if (!screen) return [];
  if (screen.kind === 'sound') return [plainPart(shown, soundOf(shown, screen.sound))];
  if (screen.kind === 'row') return screen.sounds.map((id) => plainPart(shown, soundOf(shown, id)));
  if (screen.kind === 'compare') return partsOfCompare(shown, screen.how, screen.sound);
  return [];
}

export function Stage({ shown, lesson, start }: { shown: Shown; lesson: Lesson; start: number }) {
  const [at, setAt] = useState(start); // 0: the title
  const [panel, setPanel] = useState(0);
  const [aside, setAside] = useState<Aside>({ kind: 'none' });
  const [isBlank, setBlank] = useState(false);
  const [isHelp, setHelp] = useState(false);
  const [isSilent, setSilent] = useState(true); // until the first key: browsers let nothing sound before
  const noted = lesson.screens[at - 1];
  const screen = noted?.screen;
  const base = screen && screen.kind !== 'patient'
    ? (screen.kind === 'row' ? screen.sounds[panel] : screen.sound)
    : undefined;
  const shownSound = aside.kind === 'twin' ? aside.id : base;
  const all = useMemo(() => shown.sounds.map((one) => plainPart(shown, one)), [shown]);
  const parts: Part[] = useMemo(() =>
    aside.kind === 'all'
      ? all
      : aside.kind === 'twin'
      ? [plainPart(shown, soundOf(shown, aside.id))]
      : aside.kind === 'compare'
      ? (base ? partsOfCompare(shown, aside.how, base) : [])
      : partsOfScreen(shown, noted), [shown, noted, aside, base, all]);
  const part = parts[Math.min(panel, parts.length - 1)];
  const take = part ? takeOf(part) : undefined;

  // What is here first, then the look-alike, then what comes next.
  useEffect(() => {
    const here = partsOfScreen(shown, noted);
    const twin = shownSound ? [plainPart(shown, soundOf(shown, soundOf(shown, shownSound).look_alike))] : [];
    const ahead = lesson.screens.slice(at, at + 3).flatMap((one) => partsOfScreen(shown, one));
    const behind = lesson.screens.slice(Math.max(0, at - 2), Math.max(0, at - 1)).flatMap((one) =>
      partsOfScreen(shown, one)
    );
    want([...parts, ...here, ...ahead.slice(0, 1), ...twin, ...ahead.slice(1), ...behind]);
  }, [at, aside, parts]);
  // Before the picture is painted: on a slow machine that takes longer than an ear waits.
  useLayoutEffect(() => {
    if (isSilent || isBlank || !take) {
      if (!take || isSilent || isBlank) stop();
      return;
    }
    play(take);
  }, [take, isSilent, isBlank]);
  useEffect(() => () => stop(), []);
  useEffect(() => {
    history.replaceState(null, '', `#/show/${encodeURIComponent(lesson.id)}/${at}`);
  }, [at]);

  const to = (index: number, fromEnd = false) => {
    if (index < 0 || index > lesson.screens.length) return;
    setAside({ kind: 'none' });
    setAt(index);
    const next = lesson.screens[index - 1];
    setPanel(fromEnd ? Math.max(0, partsOfScreen(shown, next).length - 1) : 0);
  };
  const step = (by: 1 | -1) => {
    setSilent(false);
    setBlank(false);
    if (aside.kind !== 'none' && aside.kind !== 'compare') return to(at + by);
    const next = panel + by;
    if (parts.length > 1 && next >= 0 && next < parts.length) setPanel(next);
    else to(at + by, by < 0);
  };
  const lookAlike = () => {
    setSilent(false);
    setPanel(0);
    if (aside.kind === 'twin') setAside({ kind: 'none' });
    else if (base) setAside({ kind: 'twin', id: soundOf(shown, base).look_alike });
  };
  const compare = (how: Comparison) => {
    setSilent(false);
    setPanel(0);
    setAside(aside.kind === 'compare' && aside.how === how ? { kind: 'none' } : { kind: 'compare', how });
  };
  const showAll = () => {
    setSilent(false);
    setPanel(Math.max(0, shown.sounds.findIndex((one) => one.id === base)));
    setAside(aside.kind === 'all' ? { kind: 'none' } : { kind: 'all' });
  };
  const leave = () => {
    if (document.fullscreenElement) void document.exitFullscreen();
    go('show');
  };
  // At once, so that the next key finds this screen and not the one before.
  useLayoutEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const target = event.target as HTMLElement;
      if (target.closest('input,select,textarea') || event.ctrlKey || event.metaKey || event.altKey) return;
      const isMoving = aside.kind === 'all';
      const columns = isMoving ? columnsOf() : 1;
      const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
      const deeds: Record<string, () => void> = {
        PageDown: () => step(1),
        PageUp: () => step(-1),
        f: () => step(1),
        b: () => step(-1),
        ArrowRight: () => isMoving ? setPanel(Math.min(parts.length - 1, panel + 1)) : step(1),
        ArrowLeft: () => isMoving ? setPanel(Math.max(0, panel - 1)) : step(-1),
        ArrowDown: () => isMoving ? setPanel(Math.min(parts.length - 1, panel + columns)) : lookAlike(),
        ArrowUp: () => isMoving ? setPanel(Math.max(0, panel - columns)) : setAside({ kind: 'none' }),
        l: lookAlike,
        a: showAll,
        '.': () => setBlank(!isBlank),
        '?': () => setHelp(!isHelp),
        h: () => setHelp(!isHelp),
        ' ': () => setSilent(!isSilent),
        Enter: () => {
          if (isMoving) openChosen();
          else if (document.fullscreenElement) void document.exitFullscreen();
          else void document.documentElement.requestFullscreen?.().catch(() => {/* stays as it is */});
        },
        F5: () => void document.documentElement.requestFullscreen?.().catch(() => {/* stays as it is */}),
        Escape: () => isHelp ? setHelp(false) : aside.kind !== 'none' ? setAside({ kind: 'none' }) : leave(),
        Home: () => to(0),
        End: () => to(lesson.screens.length),
      };
      kNumbered.forEach((how, i) => deeds[String(i + 1)] = () => base && compare(how));
      const deed = deeds[key];
      if (!deed || (screen?.kind === 'patient' && aside.kind === 'none' && /^[0-9]$|^Arrow(Up|Down)$/.test(key))) {
        return;
      }
      event.preventDefault();
      deed();
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
  const openChosen = () => {
    const id = parts[panel]?.sound.id;
    if (!id) return;
    const found = lesson.screens.findIndex((one) => one.screen.kind === 'sound' && one.screen.sound === id);
    if (found >= 0) to(found + 1);
    else setAside({ kind: 'twin', id });
    setPanel(0);
  };

  const isSound = shownSound && (aside.kind === 'twin' || (aside.kind === 'none' && screen?.kind === 'sound'));
  const title = aside.kind === 'all'
    ? 'All sounds, same axes'
    : aside.kind === 'compare' && base
    ? titleOf(shown, aside.how, base)
    : isSound
    ? soundOf(shown, shownSound).name
    : screen?.kind === 'compare'
    ? titleOf(shown, screen.how, screen.sound)
    : screen?.kind === 'row'
    ? 'In a row, same axes'
    : lesson.title;
  const how = aside.kind === 'compare' ? aside.how : screen?.kind === 'compare' ? screen.how : null;
  // What is done stands on the screen with whose word counts.
  const treated = parts.find((one) => one.isTreated)?.sound.treatment?.id;
  const protocol = shown.treatments.find((one) => one.id === treated)?.protocol;
  return (
    <div class="show" role="region" aria-label="Projector">
      <header class="show-head">
        <h1 aria-live="polite">{title}</h1>
        <span class="soft figures">{at > 0 && `${at} / ${lesson.screens.length}`}</span>
      </header>
      {makingTrouble.value && <p class="notice" role="alert">{makingTrouble.value}</p>}
      {protocol && <p class="soft">{protocol}</p>}
      <div class="show-body">
        {at === 0 && aside.kind === 'none'
          ? (
            <div class="show-title">
              <p class="show-name">{lesson.screens.length} {lesson.screens.length === 1 ? 'screen' : 'screens'}</p>
              <p class="soft">→ or the remote’s next key begins.</p>
            </div>
          )
          : isSound
          ? <SoundScreen key={shownSound} shown={shown} sound={soundOf(shown, shownSound)} onLookAlike={lookAlike} />
          : aside.kind === 'none' && screen?.kind === 'patient'
          ? <LivePatient key={screen.id} id={screen.id} shown={shown} isQuiet={isBlank || isSilent} />
          : parts.length === 0 && how
          ? <p class="show-name">{nothingToCompare(how)}</p>
          : (
            <PanelsScreen parts={parts} chosen={panel} isAll={aside.kind === 'all'} onChoose={(index) => {
              setSilent(false);
              setPanel(index);
            }} />
          )}
      </div>
      <nav class="show-foot" aria-label="Steer">
        <button onClick={() => step(-1)} disabled={at === 0}>Back</button>
        {base && <button aria-pressed={aside.kind === 'twin'} onClick={lookAlike}>Look-alike</button>}
        {base && (
          <select aria-label="Compare" value={aside.kind === 'compare' ? aside.how : ''} onChange={(event) => {
            const value = event.currentTarget.value as Comparison | '';
            if (value) compare(value);
            else setAside({ kind: 'none' });
            event.currentTarget.blur();
          }}>
            <option value="">Compare</option>
            {kNumbered.map((one) => <option value={one}>{comparisons[one]}</option>)}
          </select>
        )}
        <button aria-pressed={aside.kind === 'all'} onClick={showAll}>All</button>
        <button aria-pressed={!isSilent && playing.value !== null} onClick={() => setSilent(!isSilent)}>
          {isSilent || !playing.value ? 'Play' : 'Silence'}
        </button>
        <span class="show-volume">
          <VolumeSlider />
        </span>
        <button class="show-keys" onClick={() => setHelp(!isHelp)} aria-pressed={isHelp}>Keys</button>
        <button onClick={leave}>Leave</button>
        <button class="main" onClick={() => step(1)}
          disabled={at === lesson.screens.length && panel >= parts.length - 1}
        >
          Next
        </button>
      </nav>
      {isHelp && <Help note={noted?.note ?? ''} onClose={() => setHelp(false)} />}
      {isBlank && <div class="show-blank" role="status" aria-label="Blank" onClick={() => setBlank(false)} />}
    </div>
  );
}

// How many tiles stand side by side just now.
function columnsOf(): number {
  const tiles = [...document.querySelectorAll<HTMLElement>('.show-all > li')];
  const top = tiles[0]?.offsetTop;
  return Math.max(1, tiles.filter((one) => one.offsetTop === top).length);
}

function Help({ note, onClose }: { note: string; onClose: () => void }) {
  return (
    <div class="show-help" role="dialog" aria-label="Keys">
      {note && (
        <p>
          <strong>Your note</strong> {note}
        </p>
      )}
      <dl>
        <dt>→ PageDown F</dt>
        <dd>next</dd>
        <dt>← PageUp B</dt>
        <dd>back</dd>
        <dt>↓ or L</dt>
        <dd>look-alike, and back</dd>
        {kNumbered.map((one, i) => (
          <>
            <dt>{i + 1}</dt>
            <dd>{comparisons[one]}</dd>
          </>
        ))}
        <dt>A</dt>
        <dd>all sounds; arrows and Enter choose</dd>
        <dt>Space</dt>
        <dd>sound on and off</dd>
        <dt>. (full stop)</dt>
        <dd>blank and silent</dd>
        <dt>Enter</dt>
        <dd>full screen</dd>
        <dt>Esc</dt>
        <dd>leave</dd>
      </dl>
      <button class="main" onClick={onClose}>Close</button>
    </div>
  );
}
