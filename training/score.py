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


def path(frame, cost=1.0, bias=0.3, share=0.5, crackle_bias=0.5, continuous_bias=1.0, shortest=4):
    """Events from frame logits [T, 5] (presence, onset, offset, continuous, crackle): the best path of training/README.md,
    section 5. Returns [(start, end)] in frames, end exclusive."""
    n, z = len(frame), frame.astype(float)
    chance = 1 / (1 + np.exp(-z))
    on, off = share * np.clip(z[:, 1], -6, 6) - cost, share * np.clip(z[:, 2], -6, 6) - cost
    any_, tone, crackle = np.clip(chance[:, 0], 1e-4, 1 - 1e-4), np.maximum(1e-4, chance[:, 3]), np.maximum(1e-4, chance[:, 4])
    scores = np.stack([np.log(1 - any_), np.log(np.maximum(0.03, any_ - tone - crackle)) + bias, np.log(crackle) + crackle_bias,
                       np.log(tone) + continuous_bias], 1)
    is_event, other = np.array([0, 1, 1, 1]), 1 - np.eye(4)
    best, back = scores[0] + is_event * on[0], np.zeros((n, 4), int)
    for t in range(1, n):
        ways = best[:, None] + other * (is_event[:, None] * off[t - 1] + is_event * on[t])
        back[t], best = ways.argmax(0), ways.max(0) + scores[t]
    state, out, end = int((best + is_event * off[n - 1]).argmax()), [], n
    for t in range(n - 1, -1, -1):
        before = back[t][state] if t else 0
        if t and before == state:
            continue
        if state and end - t >= shortest:
            out.append((t, end))
        state, end = before, t
    return out[::-1]


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
