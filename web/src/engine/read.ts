// The engine's numbers as values (places in src/app/engine/readout.h).
import type { Exports } from './hands';
import { type HeardEvent, type LobeNow, type Now, sounds } from './protocol';

const kSignsLength = 27;

export function readNow(engine: Exports): Now {
  const n = new Float64Array(engine.memory.buffer, engine.phren_state(), engine.phren_state_length()).slice();
  const signs = new Float64Array(engine.memory.buffer, engine.phren_signs(), kSignsLength).slice();
  const lobes: LobeNow[] = [];
  for (let i = 0; i < 5; i++) {
    const at = 15 + i * 8;
    lobes.push({ flow: n[at]!, volumeFraction: n[at + 1]!, radiusRatio: n[at + 2]!, limitation: n[at + 3]!,
      solid: n[at + 4]!, water: n[at + 5]!, secretions: n[at + 6]!, isBlocked: n[at + 7] !== 0 });
  }
  return {
    state: n,
    signs,
    timeS: n[0]!,
    phase: n[1] as 0 | 1 | 2,
    breathCount: n[2]!,
    flow: n[3]!,
    volume: n[4]!,
    effort: n[5]!,
    throat: n[6]!,
    capnogram: n[7]!,
    vitals: { breathsPerMin: n[8]!, spo2: n[9]!, etco2: n[10]!, heartPerMin: n[11]!, systolic: n[12]!,
      diastolic: n[13]!, temperature: n[14]! },
    lobes,
    pleura: [{ gas: n[55]!, fluid: n[56]! }, { gas: n[57]!, fluid: n[58]! }],
  };
}

// The truth events since the last call.
export function drainEvents(engine: Exports): HeardEvent[] {
  const count = engine.phren_drain();
  if (count === 0) return [];
  const n = new Float64Array(engine.memory.buffer, engine.phren_events(), count * 8);
  return Array.from({ length: count }, (_, i) => ({
    sound: sounds[n[i * 8]!]!,
    phase: n[i * 8 + 1]!,
    region: n[i * 8 + 2]!,
    startS: n[i * 8 + 3]!,
    endS: n[i * 8 + 4]!,
    pitchHz: n[i * 8 + 5]!,
    aboveDb: n[i * 8 + 6]!,
    isAudible: n[i * 8 + 7] !== 0,
  }));
}
