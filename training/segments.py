#!/usr/bin/env python3
"""Fits how breaths are found: which stretches between an onset and an offset are one event (src/measurement/segments.h).

Usage: segments.py PACKED_FOLDER DEVICE_FOLDER OUT_FOLDER      (weigh.py's folders; run after it, needs torch)

Three small networks tell of every stretch that starts at a peak of the onset output and ends at one of the offset output how likely it
overlaps an expert's event by half of their union, and whether that one is normal, a crackle or a continuous sound. The stretches
without overlap whose values sum highest are the events. An F1 is greatest when what is found hits with a chance of at least half that
F1: so a stretch is worth its chance less `cost`, and, since continuous sounds count for themselves too, its chance of being one less
`continuous_cost` in so far as it would be called one. Fitted on frames out of fold, itself by the same folds of people; the cost of each
fold is chosen on the other folds. Adds `segments` to OUT_FOLDER/decision.json and OUT_FOLDER/0 .. 4/decision.json; prints scores out of fold.
"""
import json
import os
import sys

import numpy as np
import torch

import data as D
from score import match, path

LEAST_PEAK, SHORTEST, LONGEST, BESIDE, SHORT = -4.0, 4, 100, 6, 4  # logit; frames of 40 ms
TYPICAL = 33.0  # frames, of a recording with fewer than two events on the best path
HIDDEN, EPOCHS, BATCH = 24, 6, 1024
COSTS, CONTINUOUS_COST = (0.3, 0.35, 0.4), 0.17
SEEDS = 3
GROUP = np.array([1, 3, 3, 3, 2, 2, 2])  # event label -> normal, crackle, continuous; 0 is no event
SHOWN = {"any breath": None, "wheeze": (2,), "with crackles": (4, 5, 6)}


def peaks(v):
    before, after = np.r_[v[0], v[:-1]], np.r_[v[1:], v[-1]]
    return np.where((v > LEAST_PEAK) & (v >= before) & (v >= after))[0]


def candidates(z):
    starts = np.unique(np.r_[0, peaks(z[:, 1])])
    ends = np.unique(np.r_[peaks(z[:, 2]) + 1, len(z)])
    a, b = (v.ravel() for v in np.meshgrid(starts, ends, indexing="ij"))
    keep = (b - a >= SHORTEST) & (b - a <= LONGEST)
    return np.stack([a[keep], b[keep]], 1)


def features(z, c, typical):
    """In the order of src/measurement/segments.cc."""
    n, (a, b) = len(z), c.T
    logit = np.clip(z.astype(np.float64), -6, 6)
    chance = 1 / (1 + np.exp(-z.astype(np.float64)))
    sums = [np.concatenate([np.zeros((1, 5)), np.cumsum(v, 0)]) for v in (logit, chance)]
    mean = lambda v, a, b: (sums[v][b] - sums[v][a]) / np.maximum(1, b - a)[:, None]
    kinds = [0, 3, 4]
    before, after = mean(0, np.maximum(0, a - BESIDE), a)[:, kinds], mean(0, b, np.minimum(n, b + BESIDE))[:, kinds]
    before[a == 0], after[b == n] = -6, -6
    short = (sums[0][SHORT:] - sums[0][:-SHORT]) / SHORT
    over = lambda f, v, lo, hi: np.array([f(v[s:e]) if e > s else -6.0 for s, e in zip(lo, hi)])
    last = np.maximum(a + 1, b - SHORT + 1)
    near = lambda o, lo, hi: (sums[1][hi] - sums[1][lo])[:, o]
    length = np.log(b - a)
    usual = np.log(typical)
    whole = [chance[:, 0].mean(), chance[:, 3].mean(), chance[:, 4].mean(), short[:, 3].max(), short[:, 4].max(), usual]
    columns = [length, length ** 2, length - usual, np.abs(length - usual), *mean(1, a, b)[:, kinds].T, *mean(0, a, b).T, *before.T, *after.T,
               *mean(0, a, np.minimum(a + BESIDE, b))[:, kinds].T, *mean(0, np.maximum(b - BESIDE, a), b)[:, kinds].T,
               logit[a, 1], logit[b - 1, 2], over(np.max, logit[:, 1], a + 4, b - 3), over(np.max, logit[:, 2], a + 3, b - 4),
               over(np.min, short[:, 0], a, last), over(np.max, short[:, 3], a, last), over(np.max, short[:, 4], a, last),
               near(1, np.maximum(0, a - 3), np.minimum(n, a + 4)), near(2, np.maximum(0, b - 4), np.minimum(n, b + 3)),
               a == 0, b == n, *(np.full(len(a), v) for v in whole)]
    return np.stack(columns, 1).astype(np.float32)


def answer(c, truth):
    """Of each stretch: 0, or the group of the event that it overlaps by half of their union."""
    best, out = np.zeros(len(c)), np.zeros(len(c), int)
    for start_ms, end_ms, label in truth:
        s, e = start_ms / 40, end_ms / 40
        share = (np.minimum(c[:, 1], e) - np.maximum(c[:, 0], s)) / (np.maximum(c[:, 1], e) - np.minimum(c[:, 0], s))
        mine = (share >= 0.5) & (share > best)
        best[mine], out[mine] = share[mine], GROUP[int(label)]
    return out


def choose(c, value):
    """The stretches without overlap whose values sum highest."""
    n = int(c[:, 1].max(initial=0))
    best, taken, order, j = np.zeros(n + 1), np.full(n + 1, -1), np.argsort(c[:, 1], kind="stable"), 0
    for t in range(1, n + 1):
        best[t] = best[t - 1]
        while j < len(order) and c[order[j], 1] == t:
            if best[c[order[j], 0]] + value[order[j]] > best[t]:
                best[t], taken[t] = best[c[order[j], 0]] + value[order[j]], order[j]
            j += 1
    out, t = [], n
    while t > 0:
        if taken[t] >= 0:
            out.append(taken[t])
            t = c[taken[t], 0]
        else:
            t -= 1
    return out[::-1]


def value(p, cost):
    some = np.maximum(1e-9, 1 - p[:, 0])
    return some - cost + p[:, 3] * (1 - CONTINUOUS_COST / some)


class Judges:
    """Their logits are averaged."""
    def __init__(self, x, y, seed):
        self.mean, self.deviation = x.mean(0), x.std(0) + 1e-3
        self.nets = [self.fit(x, y, 10 * n + seed) for n in range(SEEDS)]

    def fit(self, x, y, seed):
        device = "cuda" if torch.cuda.is_available() else "cpu"
        torch.manual_seed(seed)
        net = torch.nn.Sequential(torch.nn.Linear(x.shape[1], HIDDEN), torch.nn.ReLU(), torch.nn.Linear(HIDDEN, HIDDEN), torch.nn.ReLU(),
                                       torch.nn.Linear(HIDDEN, 4)).to(device)
        a, y = torch.tensor(self.standard(x), device=device), torch.tensor(y, device=device)
        steps = EPOCHS * len(x) // BATCH
        optimiser = torch.optim.Adam(net.parameters(), 2e-3, weight_decay=1e-5)
        rate = torch.optim.lr_scheduler.OneCycleLR(optimiser, 5e-3, total_steps=steps + 1)
        for _ in range(steps):
            i = torch.randint(0, len(x), (BATCH,), device=device)
            loss = torch.nn.functional.cross_entropy(net(a[i]), y[i])
            optimiser.zero_grad()
            loss.backward()
            optimiser.step()
            rate.step()
        return net.to("cpu")

    def standard(self, x):
        return np.clip((x - self.mean) / self.deviation, -4, 4)

    def chances(self, x):
        with torch.no_grad():
            x = torch.tensor(self.standard(x))
            return torch.softmax(sum(net(x) for net in self.nets) / len(self.nets), 1).numpy()

    def entry(self, cost):
        rounded = lambda v: np.round(np.asarray(v, float), 4).tolist()
        rows = lambda layer: rounded(np.concatenate([layer.weight.detach().numpy(), layer.bias.detach().numpy()[:, None]], 1))
        return dict(mean=rounded(self.mean), deviation=rounded(self.deviation), judges=[[rows(net[k]) for k in (0, 2, 4)] for net in self.nets],
                    cost=cost, continuous_cost=CONTINUOUS_COST)


class Hits:
    """Counted by recording: matches, true and found, of every shown class (by the stretch's own most likely group)."""
    def __init__(self, recordings, cost):
        self.counts = {name: np.array([self.count(r, r["found", cost], labels) for r in recordings]) for name, labels in SHOWN.items()}

    @staticmethod
    def count(r, found, labels):
        true = [(s / 40, e / 40) for s, e, label in r["truth"] if labels is None or label in labels]
        group = None if labels is None else GROUP[labels[0]]
        said = [tuple(r["c"][i]) for i in found if group is None or 1 + r["p"][i, 1:].argmax() == group]
        return len(match(true, said)), len(true), len(said)

    def f1(self, name, of):
        hits, true, found = self.counts[name][of].sum(0)
        return 2 * hits / max(1, true + found)


def main(packed, device, out):
    labels, events = D.read_labels(packed)
    said = [np.load(f"{device}/oof_{m}.npz") for m in "abc"]
    frames = np.mean([s["f"].astype(np.float32) for s in said], 0)
    starts = np.r_[0, np.cumsum(said[0]["nf"])]
    recordings = []
    for n, i in enumerate(said[0]["i"]):
        if labels[i][3] == 0 and labels[i][0] not in D.DUPLICATES:
            z = frames[starts[n]:starts[n + 1]]
            lengths = [b - a for a, b in path(z)]
            c = candidates(z)
            recordings.append(dict(fold=labels[i][2], truth=sorted(events.get(labels[i][0], [])), c=c,
                                   x=features(z, c, np.median(lengths) if len(lengths) > 1 else TYPICAL)))
    folds = np.array([r["fold"] for r in recordings])
    x, y = np.concatenate([r["x"] for r in recordings]), np.concatenate([answer(r["c"], r["truth"]) for r in recordings])
    own = np.repeat(folds, [len(r["c"]) for r in recordings])
    print(f"{len(x)} stretches of {len(recordings)} recordings", flush=True)
    judges = [Judges(x[own != k], y[own != k], k) for k in range(5)]
    for r in recordings:
        r["p"] = judges[r["fold"]].chances(r["x"])
        for cost in COSTS:
            r["found", cost] = choose(r["c"], value(r["p"], cost))
    hits = {cost: Hits(recordings, cost) for cost in COSTS}
    for cost in COSTS:
        print(f"cost {cost}:", ", ".join(f"{name} {hits[cost].f1(name, folds >= 0):.4f}" for name in SHOWN))
    # The mean over what is asked for, of people who are not in the fold.
    best = lambda of: max(COSTS, key=lambda cost: sum(hits[cost].f1(name, of) for name in SHOWN))
    chosen = [best(folds != k) for k in range(5)]
    for r in recordings:
        r["found", 0] = r["found", chosen[r["fold"]]]
    nested = Hits(recordings, 0)
    print("cost of each fold", chosen, "gives", ", ".join(f"{name} {nested.f1(name, folds >= 0):.4f}" for name in SHOWN))
    whole = Judges(x, y, 5)
    for folder, entry in [(str(k), judges[k].entry(chosen[k])) for k in range(5)] + [(".", whole.entry(best(folds >= 0)))]:
        name = os.path.join(out, folder, "decision.json")
        text = open(name).read()
        decision = json.loads(text)
        decision["segments"] = entry
        text = json.dumps(decision)
        for part in ('"kinds"', '"kind_model"', '"clip_on"', '"breath"', '"segments"'):
            text = text.replace(part, "\n " + part)
        open(name, "w").write(text + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
