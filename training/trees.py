#!/usr/bin/env python3
"""Trains the boosted trees on the features that phren_features writes, and scores them out of fold.

Usage: phren_features AUDIO_DIR RECORDINGS.csv EVENTS.csv > features.csv
       training/trees.py features.csv RECORDINGS.csv EVENTS.csv --out model [--oof DIR] [--folds DIR]

Patients are never split between folds (column `fold` of RECORDINGS.csv). Needs python3-xgboost and python3-numpy
(Debian). Takes about a minute on two cores.
"""
import argparse
import csv
import json
import pathlib

import numpy as np
import xgboost

EVENT_LABELS = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
DUPLICATES = {"41279835_14.1_0_p1_2945"}  # also among the official test recordings: never used

SETTINGS = dict(max_depth=4, eta=0.12, subsample=0.8, colsample_bytree=0.3,
                min_child_weight=3, reg_lambda=2.0, tree_method="hist", max_bin=64, nthread=2)


def score(truth, guess, poor=None):
    """The published metric: micro sensitivity over adventitious items with exact class, specificity over Normal."""
    truth, guess = np.asarray(truth), np.asarray(guess)
    normal = truth == 0
    ill = ~normal if poor is None else ~normal & (truth != poor)
    se, sp = (guess[ill] == truth[ill]).mean(), (guess[normal] == 0).mean()
    return dict(SE=se, SP=sp, score=((se + sp) / 2 + (2 * se * sp / (se + sp) if se + sp else 0.0)) / 2)


def train(x, y, classes, seed, rounds, power):
    counts = np.bincount(y, minlength=classes)
    weight = (1.0 / np.maximum(counts, 1)) ** power
    data = xgboost.DMatrix(x, label=y, weight=weight[y] / weight[y].mean())
    kind = dict(objective="multi:softprob", num_class=classes) if classes > 2 else dict(objective="binary:logistic")
    return xgboost.train(dict(SETTINGS, seed=seed, **kind), data, rounds)


def save(model, folder, kind):
    path = pathlib.Path(folder) / {"event": "trees_events.ubj", "record": "trees_poor.ubj"}[kind]
    path.parent.mkdir(parents=True, exist_ok=True)
    model.save_model(path)
    return path


def out_of_fold(x, y, folds, classes, seeds, rounds, power, keep=None):
    p = np.zeros((len(y), classes))
    for fold in range(5):
        held = folds == fold
        for seed in range(seeds):
            model = train(x[~held], y[~held], classes, seed, rounds, power)
            if keep and seed == 0:
                keep(fold, model)
            q = model.predict(xgboost.DMatrix(x[held]))
            p[held] += (q if q.ndim == 2 else np.stack([1 - q, q], 1)) / seeds
    return p


def load(args):
    recordings = {r["recording"]: r for r in csv.DictReader(open(args.recordings))}
    labels = {}
    for e in csv.DictReader(open(args.events)):
        labels[e["recording"], float(e["start_ms"]), float(e["end_ms"])] = EVENT_LABELS.index(e["event_label"])
    with open(args.features) as file:
        heading = file.readline().rstrip("\n").split(",")
        rows = [line.rstrip("\n").split(",") for line in file]
    sets = {}
    for kind in ("event", "record"):  # records are only told apart as poor or not
        chosen = [r for r in rows if r[1] == kind and r[0] not in DUPLICATES]
        names = [r[0] for r in chosen]
        x = np.array([[float(v) for v in r[4:]] for r in chosen], np.float32)
        if kind == "event":
            y = np.array([labels[r[0], float(r[2]), float(r[3])] for r in chosen])
        else:
            y = np.array([int(recordings[n]["record_label"] == "Poor Quality") for n in names])
        folds = np.array([int(recordings[n]["fold"]) for n in names])
        sets[kind] = (chosen, x, y, folds)
    return heading[4:], sets


def report(kind, y, p):
    guess = p.argmax(1)
    if kind == "event":
        out = {"1-1": score(y > 0, guess > 0), "1-2": score(y, guess)}
    else:
        ece = np.mean([abs(p[part, 1].mean() - y[part].mean()) for part in np.array_split(np.argsort(p[:, 1]), 10)])
        out = {"poor quality": dict(recall=guess[y == 1].mean(), precision=y[guess == 1].mean(), ece=ece)}
    print(kind, json.dumps({t: {k: round(float(v), 4) for k, v in s.items()} for t, s in out.items()}))


def main():
    parser = argparse.ArgumentParser()
    for name in ("features", "recordings", "events"):
        parser.add_argument(name)
    parser.add_argument("--out")
    parser.add_argument("--oof", help="folder for the out-of-fold probabilities as CSV")
    parser.add_argument("--folds", help="folder for the model of each fold, FOLDS/0 .. FOLDS/4")
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--rounds", type=int, default=100)
    parser.add_argument("--power", type=float, default=1.0, help="event class weights are count ** -power")
    args = parser.parse_args()
    names, sets = load(args)
    for kind, (rows, x, y, folds) in sets.items():
        classes, power = (len(EVENT_LABELS), args.power) if kind == "event" else (2, 0.0)
        keep = (lambda fold, model: save(model, f"{args.folds}/{fold}", kind)) if args.folds else None
        p = out_of_fold(x, y, folds, classes, args.seeds, args.rounds, power, keep)
        report(kind, y, p)
        if args.oof:
            with open(pathlib.Path(args.oof) / {"event": "trees_events.csv", "record": "trees_poor.csv"}[kind], "w") as out:
                for row, q in zip(rows, p):
                    out.write(",".join(row[:4] + [f"{v:.6f}" for v in q]) + "\n")
        if args.out:
            model = train(x, y, classes, 0, args.rounds, power)
            model.feature_names = names
            path = save(model, args.out, kind)
            print(path, path.stat().st_size, "bytes")


if __name__ == "__main__":
    main()
