"""The published scores, event detection on frames, and calibration."""
import numpy as np


def _score(se, sp):
    mean = (se + sp) / 2
    harmonic = 2 * se * sp / (se + sp) if se + sp > 0 else 0.0
    return dict(SE=se, SP=sp, Score=(mean + harmonic) / 2)


def event_scores(truth, guess):
    """Tasks 1-1 and 1-2; class 0 is Normal."""
    truth, guess = np.asarray(truth), np.asarray(guess)
    bad = truth != 0
    sp = float((guess[~bad] == 0).mean())
    return {"1-1": _score(float((guess[bad] != 0).mean()), sp), "1-2": _score(float((guess[bad] == truth[bad]).mean()), sp)}


def record_scores(truth, guess):
    """Tasks 2-1 and 2-2; 0 Normal, 1-3 adventitious, 4 Poor Quality (in neither SE nor SP)."""
    truth, guess = np.asarray(truth), np.asarray(guess)
    bad = (truth > 0) & (truth < 4)
    sp = float((guess[truth == 0] == 0).mean())
    se1 = float(((guess[bad] > 0) & (guess[bad] < 4)).mean())
    return {"2-1": _score(se1, sp), "2-2": _score(float((guess[bad] == truth[bad]).mean()), sp)}


def calibration_error(prob, truth, bins=15):
    """Expected calibration error of the top label, equal-width bins."""
    top, right = prob.max(1), prob.argmax(1) == truth
    which = np.minimum((top * bins).astype(int), bins - 1)
    return float(sum(abs(top[which == b].mean() - right[which == b].mean()) * (which == b).mean()
                     for b in range(bins) if (which == b).any()))


def decode(frame, cost=1.0, bias=0.0):
    """Breath events from frame logits [T, 5] (presence, onset, offset, ...): best path through gap and event.

    Entering an event at frame t costs `cost` less the onset logit's share; leaving likewise. Returns [(start, end)]
    in frames, end exclusive.
    """
    presence = frame[:, 0] + bias
    on, off = np.clip(frame[:, 1], -6, 6) * 0.5 - cost, np.clip(frame[:, 2], -6, 6) * 0.5 - cost
    T = len(presence)
    gap, inside = 0.0, on[0] + presence[0]
    back = np.zeros((T, 2), np.int8)  # 0 from gap, 1 from event, 2 (event only) from event through a new start
    for t in range(1, T):
        stay, leave = gap, inside + off[t - 1]
        enter, go_on, again = gap + on[t], inside, inside + off[t - 1] + on[t]
        back[t, 0] = int(leave > stay)
        best = max(enter, go_on, again)
        back[t, 1] = 1 if go_on == best else (0 if enter == best else 2)
        gap, inside = max(stay, leave), best + presence[t]
    state = int(inside + off[T - 1] > gap)
    found, end = [], T
    for t in range(T - 1, -1, -1):
        if state == 0:
            if t and back[t, 0] == 1:
                state, end = 1, t
        else:
            if t == 0:
                found.append((0, end))
            elif back[t, 1] == 0:
                found.append((t, end))
                state = 0
            elif back[t, 1] == 2:
                found.append((t, end))
                end = t
    return found[::-1]


def match(truth, found, least=0.5):
    """Greedy one-to-one matches by intersection over union. Returns pairs (i, j)."""
    pairs = []
    for i, (a, b) in enumerate(truth):
        for j, (c, d) in enumerate(found):
            inter = min(b, d) - max(a, c)
            if inter > 0:
                iou = inter / (max(b, d) - min(a, c))
                if iou >= least:
                    pairs.append((iou, i, j))
    used_i, used_j, out = set(), set(), []
    for _, i, j in sorted(pairs, reverse=True):
        if i not in used_i and j not in used_j:
            used_i.add(i), used_j.add(j), out.append((i, j))
    return out
