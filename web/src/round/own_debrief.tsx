// A debrief on a phone or on the wall, once the round is over and what it was has been shown: everything it needs came
// with the round, so nothing is asked of the server.
import { useMemo } from 'preact/hooks';
import { Debrief } from '../bedside/debrief';
import { ask } from '../engine/ask';
import { KeptRound, logOf, worstOf } from './debrief';
import { bytesOf, type Round } from './round';
import type { Truth } from './types';

// `of`: whose chestpiece is heard again.
export function OwnDebrief({ round, truth, of }: { round: Round; truth: Truth; of: string }) {
  const encounter = useMemo(() => {
    const live = round.encounter.peek()!;
    const text = ask('round_log', { shared: round.lines.peek(),
      own: round.ownLines.peek().filter((line) => line.by === of).sort((a, b) => a.n - b.n), take: round.take.peek(),
      end_step: round.step.peek(), id: live.id, case_id: live.prepared.id, seed: String(live.seed),
      started_at: live.startedAt });
    const log = logOf(text ?? '');
    const made = new KeptRound(live.id, { ...live.prepared, conditions: worstOf(truth.conditions, log),
      teaching_points: truth.teaching_points }, live.seed, live.sites, live.kinds, live.startedAt);
    made.takeUp(log);
    return made;
  }, [round, truth, of]);
  return (
    <Debrief key={of} encounter={encounter} treatments={round.vocabulary!.treatments}
      packet={bytesOf(round.welcome.value!.packet)} />
  );
}
