"""Linear judges of adults' recordings, calibration of what all judges say, and sets of labels (fitted by weigh.py).

Evidence comes from `phren measure --json` of every adult's recording by the networks of its fold. Whoever is judged was in no fit.
"""
import json

import numpy as np
from scipy.optimize import minimize

FARTHEST = 4.0  # standard deviations, as in src/measurement/decision.cc
RECORD_NAMES = ["breaths_continuous", "breaths_crackle", "breaths_normal", "child_continuous", "child_crackle", "child_normal",
                "adult_continuous", "adult_crackle", "adult_normal", "peak_continuous", "peak_crackle", "ridge_low_best_db",
                "ridge_high_best_db", "band_150_spread_db", "band_300_spread_db", "band_800_spread_db", "crackle_height_mean_db"]
EVENT_NAMES = ["crackle_height_max_db", "crackle_count", "flatness_600_1300_db", "ridge_low_best_db", "ridge_high_best_db",
               "band_400_spread_db"]  # then top_continuous and clip_on
FOUR = np.array([0, 2, 2, 2, 1, 1, 3])  # event label -> normal, crackle, wheeze, both


def log_softmax(x):
    x = x - x.max(-1, keepdims=True)
    return x - np.log(np.exp(x).sum(-1, keepdims=True))


def rounded(v, n=4):
    return np.round(v, n).tolist()


class Linear:
    """Standardised evidence through a softmax over `k` answers (k = 1: log-odds); ridge of strength 1 / c."""
    def __init__(self, x, y, w, k, c):
        self.mean, self.deviation = x.mean(0), x.std(0) + 1e-6
        a, w, n = self.standard(x), w / w.mean(), x.shape[1]
        right = np.eye(max(k, 2))[y.astype(int)]

        def loss(t):
            m = t.reshape(k, -1)
            z = a @ m[:, :n].T + m[:, n]
            p = log_softmax(np.concatenate([0 * z, z], 1) if k == 1 else z)
            d = (np.exp(p) - right)[:, -k:] * w[:, None]
            return (-(w * (right * p).sum(1)).sum() + (m[:, :n] ** 2).sum() / (2 * c),
                    np.concatenate([d.T @ a + m[:, :n] / c, d.sum(0)[:, None]], 1).ravel())

        self.m = minimize(loss, np.zeros(k * (n + 1)), jac=True, method="L-BFGS-B", options=dict(maxiter=500)).x.reshape(k, -1)

    def standard(self, x):
        return np.clip((x - self.mean) / self.deviation, -FARTHEST, FARTHEST)

    def scores(self, x):
        return self.standard(x) @ self.m[:, :-1].T + self.m[:, -1]

    def entry(self, is_flat=False):
        return dict(mean=rounded(self.mean), deviation=rounded(np.maximum(self.deviation, 1e-3)),
                    weights=rounded(self.m[0] if is_flat else self.m))


def shares(people):
    count = dict(zip(*np.unique(people, return_counts=True)))
    return np.array([count[p] for p in people], float)


def even(w, y):
    """Weights that give each answer in y (true or false) half of all."""
    return w * np.where(y, 0.5 / (w * y).sum(), 0.5 / (w * ~y).sum())


class Judged:
    """What a judge says of every item when the item's fold was left out (`held`), and its entry for decision.json."""
    def __init__(self, y, folds, people, k):
        self.y, self.folds, self.people, self.k = y, folds, people, k

    def held_out(self):
        out = np.zeros((len(self.y), self.k))
        for f in range(5):
            t = self.folds == f
            out[t] = self.say(self.without(f), t)
        return out


class RecordJudge(Judged):
    """Two questions, each at its balance: does it hold continuous sounds, does it hold crackles."""
    def __init__(self, x, poor, **rest):
        super().__init__(k=5, **rest)
        self.x, self.poor = x, poor

    def without(self, fold):
        t = self.folds != fold
        w = shares(self.people[t]) ** -0.5
        return [Linear(self.x[t], y[t], even(w, y[t]), 1, 0.01) for y in (np.isin(self.y, (1, 3)), np.isin(self.y, (2, 3)))]

    def say(self, models, t):
        c, d = (1 / (1 + np.exp(-m.scores(self.x[t])[:, 0])) for m in models)
        good = 1 - self.poor[t]
        return np.log(np.stack([good * (1 - c) * (1 - d), good * c * (1 - d), good * (1 - c) * d, good * c * d, self.poor[t]], 1))

    def entry(self, fold):
        a, b = (m.entry() for m in self.without(fold))
        return dict(mean=a["mean"], deviation=a["deviation"], weights=[a["weights"][0], b["weights"][0]])


class EventJudge(Judged):
    """Breath cycles: measured crackles and tones, the network's frames, and the microphone. All ill cycles together weigh as much
    as all normal ones."""
    def __init__(self, x, network, clip, **rest):
        super().__init__(k=7, **rest)
        self.x, self.network, self.clip = x, np.exp(np.maximum(network, np.log(1e-6))), clip

    def evidence(self, fold, t):
        return np.concatenate([self.x[t], self.clip(fold)[t][:, None]], 1)

    def without(self, fold):
        t = self.folds != fold
        y = FOUR[self.y[t]]
        w = even(shares(self.people[t]) ** -0.5, y == 0)
        return fold, Linear(self.evidence(fold, t), y, w, 4, 0.03)

    def say(self, model, t):
        fold, m = model
        p = np.exp(log_softmax(m.scores(self.evidence(fold, t))))
        own = np.stack([self.network[t][:, FOUR == a].sum(1) for a in range(4)], 1)[:, FOUR]
        return np.log(p[:, FOUR] * self.network[t] / own)

    def entry(self, fold):
        return self.without(fold)[1].entry()


class ClipOn:
    """Probability of a microphone that clips on, told from the recording's floor. `of(fold)`: of every recording, fitted without that
    fold and, for the people it was fitted to, each time without the person."""
    def __init__(self, x, y, folds, people):
        self.x, self.y, self.folds, self.people, self.known = x, y, folds, people, {}

    def fit(self, t):
        return Linear(self.x[t], self.y[t], even(1 / shares(self.people[t]), self.y[t]), 1, 0.1)

    def of(self, fold):
        if fold not in self.known:
            p = np.zeros(len(self.y))
            mine = self.folds != fold
            p[~mine] = self.fit(mine).scores(self.x[~mine])[:, 0] if (~mine).any() else 0
            for person in np.unique(self.people[mine]):
                t = self.people == person
                p[t] = self.fit(mine & ~t).scores(self.x[t])[:, 0]
            self.known[fold] = 1 / (1 + np.exp(-p))
        return self.known[fold]

    def entry(self, fold):
        return self.fit(self.folds != fold).entry(is_flat=True)


class Chance:
    """From what a judge says to what happened: one scale and a bias for each label, drawn towards `prior` (where the scale starts, how far
    it and the biases may go) as far as there are few people. `least`: the probability from which on a label is in the set, so that it
    holds the truth for `cover` of people (an item of a person with n items counts 1 / n), each left out of the quantile in turn."""
    def __init__(self, logs, y, people, prior=(1.0, 1.0, 1.0), cover=0.9):
        logs = np.maximum(logs, np.log(1e-6))
        n, k = logs.shape
        right, (start, free, bias_free) = np.eye(k)[y], prior
        w = shares(people) ** -0.5
        w /= w.sum()
        num_people = 1 / sum(w[people == p].sum() ** 2 for p in np.unique(people))  # as if all had as many items

        def loss(t):
            p = log_softmax(t[0] * logs + t[1:])
            d = (np.exp(p) - right) * w[:, None] * num_people
            return (-(right * p * w[:, None]).sum() * num_people + ((t[0] - start) / free) ** 2 / 2 + ((t[1:] / bias_free) ** 2).sum() / 2,
                    np.concatenate([[(d * logs).sum() + (t[0] - start) / free ** 2], d.sum(0) + t[1:] / bias_free ** 2]))

        self.t = minimize(loss, np.r_[1.0, np.zeros(k)], jac=True, method="L-BFGS-B").x
        self.least = least_covering(self.apply(logs)[np.arange(n), y], people, cover)

    def apply(self, logs):
        return np.exp(log_softmax(self.t[0] * np.maximum(logs, np.log(1e-6)) + self.t[1:]))

    def entry(self):
        return dict(scale=round(float(self.t[0]), 4), bias=rounded(self.t[1:] - self.t[1:].mean()), least_in_set=round(self.least, 5))


def least_covering(p, people, cover):
    """The quantile of `p` (people weigh alike) whose level, had each person been left out of it in turn, would have let `cover` of them
    reach it. A level of 1 - cover taken as it is covers too few of few people, one that counts the person to come as a miss too many."""
    order = np.argsort(p)
    p, w, who = p[order], (1 / shares(people))[order], np.unique(people[order], return_inverse=True)[1]
    num = who.max() + 1
    rest = np.cumsum(w[None] * (who[None] != np.arange(num)[:, None]), 1) / (num - 1)
    place = lambda level, sums: p[np.minimum(np.searchsorted(sums, level), len(p) - 1)]

    def reached(level):
        least = np.array([place(level, sums) for sums in rest])
        return (w * (p >= least[who])).sum() / num

    low, high = 0.0, 2 * (1 - cover)
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if reached(middle) > cover else (low, middle)
    return float(place(low, np.cumsum(w) / num))


def error_between_people(p, y, people, label=None):
    """Root mean square gap between probability and truth, 15 equal bins, of which chance and a person's own way are taken out: the
    squared gap of a bin is the mean product of the gaps of two different people, which is right on average however much the items of
    one person resemble each other (it can be negative; 0 is given for that)."""
    label = p.argmax(1) if label is None else label
    top = p[np.arange(len(p)), label]
    b, who = np.minimum((top * 15).astype(int), 14), np.unique(people, return_inverse=True)[1]
    gaps, counts = np.zeros((15, who.max() + 1)), np.zeros((15, who.max() + 1))
    np.add.at(gaps, (b, who), top - (label == y))
    np.add.at(counts, (b, who), 1)
    pairs = counts.sum(1) ** 2 - (counts ** 2).sum(1)
    squares = np.where(pairs > 0, (gaps.sum(1) ** 2 - (gaps ** 2).sum(1)) / np.maximum(pairs, 1), 0)
    return max(0.0, (squares * counts.sum(1)).sum() / counts[pairs > 0].sum()) ** 0.5


def calibration_error(p, y, label=None):
    """Of the probability of the label, 15 equal bins."""
    label = p.argmax(1) if label is None else label
    top, right = p[np.arange(len(p)), label], label == y
    b = np.minimum((top * 15).astype(int), 14)
    return sum(abs(top[b == k].sum() - right[b == k].sum()) for k in range(15)) / len(p)


def held_out_chance(logs, y, folds, people, rng, prior):
    """Prints calibration, sets and risk of labels, all fitted without the person."""
    p, least = np.zeros_like(logs), np.zeros(len(y))
    for f in range(5):
        t = folds != f
        c = Chance(logs[t], y[t], people[t], prior)
        p[~t], least[~t] = c.apply(logs[~t]), c.least
    n = np.arange(len(y))
    label = logs.argmax(1)
    inside = p >= least[:, None]
    w, size, sure = 1 / shares(people), inside.sum(1), p[n, label]
    drawn = lambda: np.array([rng.choice(p.shape[1], p=q / q.sum()) for q in p])
    perfect = np.mean([calibration_error(p, drawn()) for _ in range(5)])
    mean = lambda v: (w * v).sum() / w.sum()
    wrong = (label != y)[np.argsort(-sure, kind="stable")]
    risk = [wrong[:int(round(s * len(y)))].mean() for s in (1, 0.9, 0.8, 0.6, 0.4)]
    print(f"  calibration error {calibration_error(p, y):.3f} (of perfect ones as many: {perfect:.3f}); as weighed "
          f"{calibration_error(np.exp(log_softmax(logs)), y):.3f}; of the label's own probability {calibration_error(p, y, label):.3f}")
    print(f"  between people {error_between_people(p, y, people):.3f}, of perfect ones as many "
          f"{np.mean([error_between_people(p, drawn(), people) for _ in range(20)]):.3f}")
    print(f"  sets: truth inside for {mean(inside[n, y]):.3f} of people; {size.mean():.2f} labels; none "
          f"{np.mean(size == 0):.3f}, one {np.mean(size == 1):.3f}, more than two {np.mean(size > 2):.3f}")
    print("  wrong labels at 100, 90, 80, 60, 40 % coverage", np.round(risk, 3))


def read_lines(path):
    return {m["recording"]: m for m in map(json.loads, open(path))}
