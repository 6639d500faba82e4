#!/usr/bin/env python3
"""Fits how the judges are weighed for each kind of recording, and how the kind is told from the sound (model/decision.json).

Usage: weigh.py PACKED_FOLDER DEVICE_FOLDER TREES.npz KINDS.npz BREATH.json ADULTS.jsonl OUT_FOLDER
DEVICE_FOLDER holds oof_a.npz, oof_b.npz, oof_c.npz (ensemble.py); TREES.npz `e`: the trees' out-of-fold probabilities of every event of
the children, `a`: of every adult cycle; KINDS.npz from kinds.py; BREATH.json: an object with `breath` and `fast` (breaths.py, trees.py); ADULTS.jsonl: `phren measure --json --events
cycles.csv` of every adult's recording by the networks of its fold, weighed in any way.
Writes OUT_FOLDER/decision.json and, fitted without a fold's people, OUT_FOLDER/0 .. 4/decision.json; prints scores held out by person.

Log-probabilities times weight plus bias, through a softmax, least cross-entropy. Among the children all Normal items together weigh as
much as all adventitious ones and Poor Quality a tenth of that; among adults people weigh by the square root of how often they were
recorded. Needs python3-numpy, python3-scipy.
"""
import json
import os
import sys

import numpy as np
from scipy.optimize import minimize

import data as D
import judges as J

KEYS = ("children", "stethoscope", "other")
VERSION = "2026-12-01"
# How a calibration starts (judges.Chance): from what the judge says, or, for cycles, from no opinion. Least cross-entropy of four on folds
# inside the folds, for four of the five.
PLAIN, PRIORS = (1.0, 1.0, 1.0), {("other", "event"): (0.0, 0.4, 8.0), ("stethoscope", "record"): (1.0, 1.0, 2.0),
                                   ("other", "record"): (1.0, 0.3, 0.2)}


def log_softmax(x):
    x = x - x.max(-1, keepdims=True)
    return x - np.log(np.exp(x).sum(-1, keepdims=True))


def fit(logs, y, w, k, decay):
    right, w = np.eye(k)[y], w / w.sum()

    def loss(t):
        a, b = t[:len(logs)], t[len(logs):]
        p = np.exp(log_softmax(sum(x * l for x, l in zip(a, logs)) + b))
        d = (p - right) * w[:, None]
        value = -(w * np.log(p[np.arange(len(y)), y] + 1e-12)).sum() + decay * ((b ** 2).sum() / 2 + 2 * ((a - 1 / len(logs)) ** 2).sum())
        return value, np.concatenate([[(d * l).sum() + 4 * decay * (x - 1 / len(logs)) for x, l in zip(a, logs)], d.sum(0) + decay * b])

    t = minimize(loss, np.concatenate([np.full(len(logs), 1 / len(logs)), np.zeros(k)]), jac=True, method="L-BFGS-B").x
    return t[:len(logs)], t[len(logs):]


def class_weights(y, k, last, spread, normal):
    n = np.maximum(np.bincount(y, minlength=k), 1).astype(float)
    w = np.zeros(k)
    there = np.bincount(y, minlength=k)[1:last] > 0
    w[1:last] = there * n[1:last] ** -spread
    w[1:last] /= (w[1:last] * n[1:last]).sum()
    w[0], w[last:] = normal / n[0], 0.1 / n[last:]
    return w


class Part:
    """One weighing: its judges' log-probabilities, truth, people."""
    def __init__(self, logs, y, folds, people, k, last, spread, normal=1.0, decay=2e-3, by_person=0.0, silent=0):
        count = dict(zip(*np.unique(people, return_counts=True)))
        self.each = np.array([count[p] ** -by_person for p in people])
        self.__dict__.update(logs=logs, y=y, folds=folds, k=k, last=last, spread=spread, normal=normal, decay=decay, silent=silent)

    def without(self, fold):
        t = self.folds != fold
        w = class_weights(self.y[t], self.k, self.last, self.spread, self.normal)[self.y[t]] * self.each[t]
        return fit([l[t] for l in self.logs], self.y[t], w, self.k, self.decay)

    def entry(self, fold):
        a, b = self.without(fold)
        return dict(weights=[round(float(v), 4) for v in a] + [0.0] * self.silent, bias=[round(float(v), 4) for v in b - b.mean()])

    def held_out(self):
        out = np.zeros((len(self.y), self.k))
        for f in range(5):
            a, b = self.without(f)
            t = self.folds == f
            out[t] = log_softmax(sum(w * l[t] for w, l in zip(a, self.logs)) + b)
        return out


def kind_model(path, fold_of, fold):
    z = np.load(path)
    x, k = z["x"], z["k"]
    keep = np.array([fold_of.get(n, -1) != fold for n in z["n"]])
    mean, deviation = x[keep].mean(0), x[keep].std(0) + 1e-3
    s = np.clip((x - mean) / deviation, -6, 6)
    n = np.bincount(k[keep], minlength=3)
    logs = np.concatenate([s, np.ones((len(s), 1))], 1)
    w = (1.0 / n)[k[keep]] / 3
    right = np.eye(3)[k[keep]]

    def loss(t):
        m = t.reshape(3, -1)
        p = np.exp(log_softmax(logs[keep] @ m.T))
        return (-(w * np.log(p[np.arange(keep.sum()), k[keep]] + 1e-12)).sum() + 0.003 * (m[:, :-1] ** 2).sum(),
                (((p - right) * w[:, None]).T @ logs[keep] + 0.006 * m * np.r_[np.ones(m.shape[1] - 1), 0]).ravel())

    m = minimize(loss, np.zeros(3 * logs.shape[1]), jac=True, method="L-BFGS-B").x.reshape(3, -1)
    centre = np.stack([s[keep & (k == c)].mean(0) for c in range(3)])
    spread = np.stack([np.maximum(s[keep & (k == c)].std(0), 0.3) for c in range(3)])
    away = np.min([np.sqrt((((s - centre[c]) / spread[c]) ** 2).mean(1)) for c in range(3)], 0)
    p = np.exp(log_softmax(logs @ m.T))
    rounded = lambda v: np.round(v, 4).tolist()
    return dict(mean=rounded(mean), deviation=rounded(deviation), weights=rounded(m), centre=rounded(centre), spread=rounded(spread),
                farthest=round(float(np.quantile(away[keep], 0.99)), 3)), p, k, ~keep, away


def both(y, g, bad=None):
    """Sensitivity (the right label) and specificity."""
    bad = y > 0 if bad is None else bad
    return (g[bad] == y[bad]).mean(), (g[y == 0] == 0).mean()


def score(y, g, bad=None):
    se, sp = both(y, g, bad)
    return ((se + sp) / 2 + 2 * se * sp / max(se + sp, 1e-9)) / 2


def heard(y, g):
    """Normal called Normal, wheeze heard, crackles heard."""
    return [(g[y == 0] == 0).mean(), *(np.isin(g[np.isin(y, s)], s).mean() for s in ((1, 3), (2, 3)))]


def adult_judges(path, names, index, of_event, kind, people, folds, label, truth, network, record):
    """The judges of both adults' sets (judges.py) and whether a microphone clips on."""
    lines = J.read_lines(path)
    record_x = lambda t: np.array([[lines[names[i]]["evidence"][k] for k in J.RECORD_NAMES] for i in index[t]])
    on = lambda t: dict(y=label[index[t]], folds=folds[index[t]], people=people[index[t]])
    k, i = (kind[index] == 1) & (label[index] >= 0), kind[index] == 2
    poor = np.exp(record[:, 4])
    judges = {("stethoscope", "record"): J.RecordJudge(record_x(k), poor[k], **on(k)),
              ("other", "record"): J.RecordJudge(record_x(i), poor[i], **on(i))}
    mine = index[i]
    clip = J.ClipOn(np.array([lines[names[n]]["evidence"]["floor_db"] for n in mine]),
                    np.array([names[n].endswith("AKGC417L") for n in mine]), folds[mine], people[mine])
    x = []
    for n in mine:
        given = sorted(lines[names[n]]["given_events"], key=lambda e: e["start_ms"])
        x += [[e["features"][f] for f in J.EVENT_NAMES] + [e["top_continuous"]] for e in given]
    x = np.array(x)
    x[:, 1] = np.log(x[:, 1] + 0.5)
    t = kind[of_event] == 2
    row = {n: r for r, n in enumerate(mine)}
    rows = np.array([row[n] for n in of_event[t]])
    judges["other", "event"] = J.EventJudge(x, network[t], lambda fold: clip.of(fold)[rows], y=truth[t], folds=folds[of_event[t]],
                                            people=people[of_event[t]])
    return judges, clip


def interval(f, people, rng, times=400):
    """95 % of what `f` (of item numbers) gives when people are drawn anew."""
    items = {p: np.where(people == p)[0] for p in np.unique(people)}
    names = list(items)
    with np.errstate(all="ignore"):
        drawn = [f(np.concatenate([items[names[k]] for k in rng.integers(0, len(names), len(names))])) for _ in range(times)]
    return "({:.3f} to {:.3f})".format(*np.nanquantile(drawn, [0.025, 0.975]))


def main(packed, device, trees_path, kinds_path, breath_path, adults_path, out):
    recordings, events = D.read_labels(packed)
    names = [r[0] for r in recordings]
    people, folds, kind, label = (np.array([r[k] for r in recordings]) for k in (1, 2, 3, 4))
    said = [np.load(f"{device}/oof_{m}.npz") for m in "abc"]
    index = said[0]["i"]
    of_event = np.repeat(index, said[0]["ne"])
    network = log_softmax(np.mean([s["e"] for s in said], 0))
    record = np.log(np.mean([np.exp(log_softmax(s["r"])) for s in said], 0))
    truth = np.concatenate([[e[2] for e in sorted(events.get(names[i], []))] for i in index if events.get(names[i])]).astype(int)
    dropped = np.array([n in D.DUPLICATES for n in names])
    z = np.load(trees_path)
    trees = np.zeros_like(network)
    trees[kind[of_event] == 0], trees[kind[of_event] == 2] = np.log(np.maximum(z["e"], 1e-6)), np.log(np.maximum(z["a"], 1e-6))
    least = lambda l: np.maximum(l, np.log(1e-6))
    c, i = (kind[of_event] == 0) & ~dropped[of_event], kind[of_event] == 2
    rc, rk, ri = (kind[index] == 0) & ~dropped[index], (kind[index] == 1) & (label[index] >= 0), kind[index] == 2
    of = lambda t: dict(folds=folds[of_event[t]], people=people[of_event[t]])
    on = lambda t: dict(folds=folds[index[t]], people=people[index[t]])
    parts = {
        ("children", "event"): Part([least(network[c]), trees[c]], truth[c], k=7, last=7, spread=0.0, **of(c)),
        ("other", "event"): Part([least(network[i]), trees[i]], truth[i], k=7, last=7, spread=0.0, normal=0.8, decay=0.02, by_person=0.5, **of(i)),
        ("children", "record"): Part([least(record[rc])], label[index[rc]], k=5, last=4, spread=0.5, silent=1, **on(rc)),
        ("stethoscope", "record"): Part([least(record[rk])], label[index[rk]], k=5, last=4, spread=1.0, normal=0.6, decay=5e-3, silent=1, **on(rk)),
        ("other", "record"): Part([least(record[ri])], label[index[ri]], k=5, last=4, spread=0.5, normal=0.6, decay=0.02, by_person=0.5, silent=1, **on(ri)),
    }
    judges, clip = adult_judges(adults_path, names, index, of_event, kind, people, folds, label, truth, network, record)
    said = {key: p.held_out() for key, p in {**parts, **judges}.items()}
    who = {key: people[of_event[t]] if key[1] == "event" else people[index[t]]
           for key, t in ((("children", "event"), c), (("other", "event"), i), (("children", "record"), rc),
                          (("stethoscope", "record"), rk), (("other", "record"), ri))}
    held = {key: s.argmax(1) for key, s in said.items()}
    rng = np.random.default_rng(1)
    y, g = parts["children", "event"].y, held["children", "event"]
    def show(name, key, f):
        y, g = parts[key].y, held[key]
        print(f"{name} {f(y, g):.4f}", interval(lambda t: f(y[t], g[t]), who[key], rng), flush=True)

    merged = lambda v: np.where(v == 0, 0, np.where(v == 4, 2, 1))
    ill = lambda y: (y > 0) & (y < 4)
    four = J.FOUR
    show("children 1-1", ("children", "event"), lambda y, g: score(y > 0, g > 0))
    show("children 1-2", ("children", "event"), score)
    show("children 2-1", ("children", "record"), lambda y, g: score(merged(y), merged(g), ill(y)))
    show("children 2-2", ("children", "record"), lambda y, g: score(y, g, ill(y)))
    show("cycles", ("other", "event"), lambda y, g: np.mean(both(four[y], four[g])))
    show("stethoscope", ("stethoscope", "record"), lambda y, g: np.mean(heard(y, g)))
    show("recordings of the cycles' set", ("other", "record"), lambda y, g: np.mean(heard(y, g)))
    for key in (("stethoscope", "record"), ("other", "record")):
        y, g = parts[key].y, held[key]
        print(key[0], "normal as Normal, wheeze heard, crackles heard", np.round(heard(y, g), 3), f"exact {np.mean(y == g):.3f}")
    y, g = four[parts["other", "event"].y], four[held["other", "event"]]
    sets = np.array([names[n].split("-")[-1] for n in of_event[i]])
    for name in ["all", *np.unique(sets)]:
        t = np.full(len(y), True) if name == "all" else sets == name
        print("cycles", name, t.sum(), len(set(who["other", "event"][t])), np.round(both(y[t], g[t]), 3))
    for key, s in said.items():
        print(*key)
        J.held_out_chance(s, parts[key].y, parts[key].folds, who[key], rng, PRIORS.get(key, PLAIN))
    fixed = json.load(open(breath_path))
    fold_of = dict(zip(names, folds))
    right, known = [], []
    for fold in (0, 1, 2, 3, 4, -2):
        model, p, k, t, away = kind_model(kinds_path, fold_of, fold)
        right += list(p[t].argmax(1) == k[t])
        known += list(away[t] <= model["farthest"])
        entries = {key: {**{part: parts[key, part].entry(fold) for part in ("event", "record") if (key, part) in parts}, **fixed["fast"]}
                   for key in KEYS}
        entries["stethoscope"]["event"] = entries["other"]["event"]
        for (key, part), judge in judges.items():
            entries[key][part + "_judge"] = judge.entry(fold)
        for (key, part), s in said.items():
            t = parts[key, part].folds != fold
            entries[key][part + "_chance"] = J.Chance(s[t], parts[key, part].y[t], who[key, part][t], PRIORS.get((key, part), PLAIN)).entry()
        entries["stethoscope"]["event_chance"] = dict(scale=1, bias=[0] * 7, least_in_set=0)
        folder = out if fold == -2 else os.path.join(out, str(fold))
        os.makedirs(folder, exist_ok=True)
        text = json.dumps(dict(version=VERSION, kinds=entries, kind_model=model, clip_on=clip.entry(fold), breath=fixed["breath"]))
        open(os.path.join(folder, "decision.json"), "w").write(text.replace('"kind', '\n "kind').replace('"breath', '\n "breath') + "\n")
    print(f"kind told right, people held out: {np.mean(right):.4f}; held to be of a known kind {np.mean(known):.4f}")


if __name__ == "__main__":
    main(*sys.argv[1:])
