#!/usr/bin/env python3
"""Fits how the judges are weighed (model/decision.json) on out-of-fold predictions of each judge alone.

Usage: training/blend.py (event|record) RECORDINGS.csv EVENTS.csv JUDGE.jsonl [JUDGE.jsonl ...]
Each JUDGE.jsonl comes from training/evaluate.sh with that judge's weight 1, the other's 0 and no bias. Prints weights
and biases: log-probabilities times weight plus bias, through a softmax, least cross-entropy with classes weighted
count ** -POWER. Folds are held out in turn for the scores printed.
"""
import csv
import json
import sys

import numpy as np

EVENT = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]
POWER = {"event": 0.32, "record": 0.6}


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


def fit(logs, y, k, power, decay=2e-3):
    weights, bias = np.full(len(logs), 1.0 / len(logs)), np.zeros(k)
    w = (1.0 / np.maximum(np.bincount(y, minlength=k), 1)) ** power
    sample = w[y] / w[y].mean()
    for step in range(3000):
        p = softmax(sum(a * l for a, l in zip(weights, logs)) + bias)
        d = p.copy()
        d[np.arange(len(y)), y] -= 1
        d *= sample[:, None] / len(y)
        g = np.array([(d * l).sum() for l in logs])
        rate = 0.3 if step < 2000 else 0.1
        weights -= rate * 0.2 * g
        bias -= rate * (d.sum(0) + decay * bias)
    return weights, bias


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
        w, b = fit([l[folds != f] for l in logs], y[folds != f], len(names), POWER[kind])
        held[folds == f] = softmax(sum(a * l[folds == f] for a, l in zip(w, logs)) + b)
    poor = 4 if kind == "record" else None
    for name, p in [(f"judge {i + 1} alone", np.exp(l)) for i, l in enumerate(logs)] + [("weighed", held)]:
        g = p.argmax(1)
        top = p.max(1)
        bins = np.minimum((top * 10).astype(int), 9)
        ece = sum(abs(top[bins == b].sum() - (g == y)[bins == b].sum()) for b in range(10)) / len(y)
        print(f"{name}: exact class {score(y, g, poor):.4f}, calibration error {ece:.4f}")
    w, b = fit(logs, y, len(names), POWER[kind])
    print(json.dumps({kind: {"weights": [round(float(v), 4) for v in w], "bias": [round(float(v), 4) for v in b - b.mean()]}}))


if __name__ == "__main__":
    main()
