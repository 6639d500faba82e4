#!/usr/bin/env python3
"""Fits the loudness-only breath detector that `phren measure --fast` uses: a linear filter over the level around a
frame, then the best path through gap and breath. Prints its detection score out of fold and the numbers for
model/decision.json.

Usage: training/breaths.py LEVELS.csv RECORDINGS.csv EVENTS.csv
LEVELS.csv: one line a recording, its name and broadband_db of every 20 ms frame (phren_features --levels).
"""
import csv
import json
import sys

import numpy as np

STEP, TAPS = 4, 31  # taps every 80 ms, 1.2 s to each side


def smoothed(x, radius):
    c = np.concatenate([[0.0], np.cumsum(x)])
    n = len(x)
    low, high = np.maximum(np.arange(n) - radius, 0), np.minimum(np.arange(n) + radius + 1, n)
    return (c[high] - c[low]) / (high - low)


def inputs(level):
    """Frames x (TAPS + 2): level around each frame over the recording's range, that range, and one."""
    s = smoothed(level, 2)
    floor, middle, top = np.percentile(s, [8, 50, 92])
    y = np.clip((s - middle) / max(3.0, top - floor), -1.5, 1.5)
    half = TAPS // 2 * STEP
    padded = np.pad(y, half, mode="edge")
    rows = np.stack([padded[k * STEP:k * STEP + len(y)] for k in range(TAPS)], 1)
    return np.concatenate([rows, np.full((len(y), 1), (top - floor) / 10), np.ones((len(y), 1))], 1)


def fit(x, y, decay=30.0):
    w = np.zeros(x.shape[1])
    for _ in range(12):
        p = 1 / (1 + np.exp(-x @ w))
        g = x.T @ (p - y) + decay * w
        h = (x * (p * (1 - p))[:, None]).T @ x + decay * np.eye(len(w))
        w -= np.linalg.solve(h, g)
    return w


def decode(z, cost, shortest):
    gap, inside, back = 0.0, z[0] - cost, np.zeros((len(z), 2), bool)
    for t in range(1, len(z)):
        back[t, 0], back[t, 1] = inside > gap, gap - cost > inside
        gap, inside = max(gap, inside), max(inside, gap - cost) + z[t]
    state, out, end = inside > gap, [], len(z)
    for t in range(len(z) - 1, -1, -1):
        if state:
            if t == 0 or back[t, 1]:
                out.append((t, end))
                state = False
        elif t and back[t, 0]:
            state, end = True, t
    return [(a, b) for a, b in out[::-1] if b - a >= shortest]


def matches(truth, found):
    pairs = sorted(((min(b, d) - max(a, c)) / (max(b, d) - min(a, c)), i, j) for i, (a, b) in enumerate(truth)
                   for j, (c, d) in enumerate(found))[::-1]
    used_i, used_j, n = set(), set(), 0
    for iou, i, j in pairs:
        if iou >= 0.5 and i not in used_i and j not in used_j:
            used_i.add(i), used_j.add(j)
            n += 1
    return n


def main():
    levels, recordings, events = sys.argv[1:4]
    fold = {r["recording"]: int(r["fold"]) for r in csv.DictReader(open(recordings))}
    poor = {r["recording"] for r in csv.DictReader(open(recordings)) if r["record_label"] == "Poor Quality"}
    truth = {}
    for e in csv.DictReader(open(events)):
        truth.setdefault(e["recording"], []).append((int(e["start_ms"]) / 20, int(e["end_ms"]) / 20))
    data = []
    for line in open(levels):
        name, *values = line.rstrip("\n").split(",")
        x = inputs(np.array(values, float))
        y = np.zeros(len(x))
        for a, b in truth.get(name, []):
            y[int(a):int(b)] = 1
        data.append((name, fold[name], x, y))
    logits = {}
    for k in range(5):
        train = [(x[::3], y[::3]) for n, f, x, y in data if f != k and n not in poor]
        w = fit(np.concatenate([x for x, _ in train]), np.concatenate([y for _, y in train]))
        for n, f, x, _ in data:
            if f == k:
                logits[n] = x @ w
    best = (0, 0, 0)
    for cost in (0.5, 1, 2, 4):
        for bias in (0, 0.3, 0.6):
            hit = total = found = 0
            for n, _, _, _ in data[::2]:
                f = decode(logits[n] + bias, cost, 15)
                hit += matches(truth.get(n, []), f)
                total += len(truth.get(n, []))
                found += len(f)
            best = max(best, (2 * hit / (total + found), cost, bias))
    print("out-of-fold F1", best)
    keep = [(x[::3], y[::3]) for n, f, x, y in data if n not in poor]
    w = fit(np.concatenate([x for x, _ in keep]), np.concatenate([y for _, y in keep]))
    w[-1] += best[2]
    print(json.dumps({"breath": {"taps": [round(float(v), 4) for v in w], "cost": best[1]}}))


if __name__ == "__main__":
    main()
