#!/usr/bin/env python3
"""Fits how the judges are weighed (model/decision.json) on out-of-fold predictions of each judge alone.

Usage: training/blend.py (event|record) RECORDINGS.csv EVENTS.csv JUDGE.jsonl [JUDGE.jsonl ...]
Each JUDGE.jsonl comes from training/evaluate.sh with that judge's weight 1, the other's 0 and no bias. Prints weights
and biases: log-probabilities times weight plus bias, through a softmax, least cross-entropy. Folds are held out in turn for
the scores printed.

The published score is the balance of two shares: Normal items found, adventitious items found. So all Normal items together
weigh as much as all adventitious ones, and Poor Quality, which is in neither, a tenth of that: the label follows the
breath sounds where both would do. The flag `quality` has its own probability.
"""
import csv
import json
import sys

import numpy as np
from scipy.optimize import minimize

EVENT = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]
SPREAD = {"event": 0.0, "record": 0.5}  # how far rare adventitious classes are lifted (0 not, 1 to equal mass)
POOR_SHARE = 0.1


def load(kind, path, names):
    out = {}
    for line in open(path):
        m = json.loads(line)
        if kind == "record":
            out[m["recording"], 0] = [m["record"]["probabilities"][n] for n in names]
        else:
            for i, e in enumerate(m["given_events"]):
                out[m["recording"], i] = [e["probabilities"][n] for n in names]
    return out


def softmax(z):
    p = np.exp(z - z.max(1, keepdims=True))
    return p / p.sum(1, keepdims=True)


def class_weights(y, k, spread):
    n = np.maximum(np.bincount(y, minlength=k), 1).astype(float)
    last = k if k == 7 else 4
    w = np.zeros(k)
    w[1:last] = n[1:last] ** -spread
    w[1:last] /= (w[1:last] * n[1:last]).sum()
    w[0] = 1 / n[0]
    w[last:] = POOR_SHARE / n[last:]
    return w


def fit(logs, y, k, spread, decay=2e-3):
    sample = class_weights(y, k, spread)[y]
    sample /= sample.sum()
    right = np.eye(k)[y]

    def loss(t):
        a, b = t[:len(logs)], t[len(logs):]
        p = softmax(sum(x * l for x, l in zip(a, logs)) + b)
        d = (p - right) * sample[:, None]
        value = -(sample * np.log(p[np.arange(len(y)), y] + 1e-12)).sum() + decay * (b ** 2).sum() / 2
        return value, np.concatenate([[(d * l).sum() for l in logs], d.sum(0) + decay * b])

    start = np.concatenate([np.full(len(logs), 1.0 / len(logs)), np.zeros(k)])
    t = minimize(loss, start, jac=True, method="L-BFGS-B").x
    return t[:len(logs)], t[len(logs):]


def score(y, g, poor=None):
    bad = (y != 0) & (y != poor) if poor else y != 0
    se, sp = (g[bad] == y[bad]).mean(), (g[y == 0] == 0).mean()
    return ((se + sp) / 2 + 2 * se * sp / (se + sp)) / 2


def main():
    kind, recordings, events, *judges = sys.argv[1:]
    names = EVENT if kind == "event" else RECORD
    info = {r["recording"]: r for r in csv.DictReader(open(recordings))}
    truth = {}
    if kind == "record":
        truth = {(r, 0): names.index(v["record_label"]) for r, v in info.items()}
    else:
        for e in csv.DictReader(open(events)):
            i = truth.setdefault(("n", e["recording"]), 0)
            truth["n", e["recording"]] += 1
            truth[e["recording"], i] = names.index(e["event_label"])
    predictions = [load(kind, path, names) for path in judges]
    keys = [key for key in predictions[0] if key in truth]
    y = np.array([truth[key] for key in keys])
    folds = np.array([int(info[key[0]]["fold"]) for key in keys])
    logs = [np.log(np.maximum(1e-6, np.array([p[key] for key in keys]))) for p in predictions]
    held = np.zeros((len(y), len(names)))
    for f in range(5):
        w, b = fit([l[folds != f] for l in logs], y[folds != f], len(names), SPREAD[kind])
        held[folds == f] = softmax(sum(a * l[folds == f] for a, l in zip(w, logs)) + b)
    poor = 4 if kind == "record" else None
    for name, p in [(f"judge {i + 1} alone", np.exp(l)) for i, l in enumerate(logs)] + [("weighed", held)]:
        g = p.argmax(1)
        top = p.max(1)
        bins = np.minimum((top * 10).astype(int), 9)
        ece = sum(abs(top[bins == b].sum() - (g == y)[bins == b].sum()) for b in range(10)) / len(y)
        print(f"{name}: exact class {score(y, g, poor):.4f}, calibration error {ece:.4f}")
    w, b = fit(logs, y, len(names), SPREAD[kind])
    print(json.dumps({kind: {"weights": [round(float(v), 4) for v in w], "bias": [round(float(v), 4) for v in b - b.mean()]}}))


if __name__ == "__main__":
    main()
