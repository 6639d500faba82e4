"""The whole training: teachers, students out of fold, the final network.

Teachers are held to the same rule as everything else. For every pair of folds {j, k} teachers train on the other three;
what they say about fold j teaches the student that is tested on fold k, so nothing of fold k reaches that student, not even
through a teacher. The final network, trained on all folds, is taught about fold k by all teachers that never saw k.

usage: python3 distil.py FOLDER SECONDS EPOCHS OUT
"""
import itertools
import os
import sys
import time

import numpy as np
import torch

import data as D
import pool
from train import softmax

FOLDS = range(5)
LONGEST = 384  # frames of 40 ms


def merge(outs):
    """Predictions of several networks on disjoint recordings as flat arrays."""
    m = {i: v for o in outs for i, v in o.items()}
    order = sorted(m)
    return dict(i=np.array(order), e=np.concatenate([m[k][0] for k in order]).astype(np.float32),
                ne=np.array([len(m[k][0]) for k in order]), r=np.stack([m[k][1] for k in order]),
                f=np.concatenate([m[k][2] for k in order]).astype(np.float16),
                nf=np.array([len(m[k][2]) for k in order]))


def soft_targets(path, count, sources):
    """sources: {recording: [(event logits, record logits, frame logits), ...]}; mean of the probabilities."""
    event, record = np.full((count, D.SLOTS, 7), 1 / 7, np.float16), np.full((count, 5), 0.2, np.float16)
    frame = np.zeros((count, LONGEST, 5), np.float16)
    for i, said in sources.items():
        e = np.mean([softmax(s[0]) for s in said], 0)
        event[i, :len(e)] = e
        record[i] = np.mean([softmax(s[1]) for s in said], 0)
        f = np.mean([1 / (1 + np.exp(-s[2])) for s in said], 0)[:LONGEST]
        frame[i, :len(f)] = f
    np.savez(path, event=event, record=record, frame=frame)


def main(folder, seconds, epochs, out):
    begun, cpu = time.time(), not torch.cuda.is_available()
    recordings, _ = D.read_labels(folder)
    folds = np.array([int(r["fold"]) for r in recordings])
    p = pool.Pool(folder, begun + seconds, raw=os.environ.get("RAW", "/tmp/a.raw"))
    pairs = list(itertools.combinations(FOLDS, 2))
    if cpu:
        pairs = pairs[:1]
    teachers = ["teacher", "separable", "thin"][:1 if cpu else 3]
    groups = [dict(name="pairs " + c, expect=60, jobs=[dict(held=pair, predict=pair, kw=dict(config=c, epochs=epochs, seed=n + 10))
                                                      for n, pair in enumerate(pairs)]) for c in teachers]
    said = {}  # (recording, other held fold) -> [predictions]
    for _, (outs, _, _) in p.run(groups).items():
        for pair, o in zip(pairs, outs):
            for i, v in o.items():
                other = pair[1] if folds[i] == pair[0] else pair[0]
                said.setdefault((i, other), []).append(v)
    for k in FOLDS:
        soft_targets(f"/tmp/soft{k}.npz", len(folds), {i: v for (i, other), v in said.items() if other == k})
    everything = {}
    for (i, other), v in said.items():
        everything.setdefault(i, []).extend(v)
    soft_targets("/tmp/soft_all.npz", len(folds), everything)
    print(f"teachers done at {time.time() - begun:.0f} s", flush=True)

    plans = {"slim_soft6": dict(config="slim", soft_weight=0.6), "slim_hard": dict(config="slim"),
             "slim_soft8": dict(config="slim", soft_weight=0.85), "sep_soft6": dict(config="separable", soft_weight=0.6),
             "slim_long": dict(config="slim", soft_weight=0.7, epochs=int(1.7 * epochs)),
             "thin_soft6": dict(config="thin", soft_weight=0.6)}
    students = []
    for name, kw in plans.items():
        jobs = [dict(held=[k], predict=[k], soft=None if "hard" in name else f"/tmp/soft{k}.npz", keep=True,
                     kw={"epochs": epochs, "seed": k, **kw}) for k in list(FOLDS)[:1 if cpu else 5]]
        students.append(dict(name=name, expect=60, jobs=jobs))
    final = [dict(held=[], predict=[], soft="/tmp/soft_all.npz", keep=True, kw=dict(config=c, epochs=epochs, seed=s, soft_weight=w))
             for c, w, s in (("slim", 0.6, 1), ("slim", 0.6, 2), ("slim", 0.85, 3), ("separable", 0.6, 1), ("thin", 0.6, 1))]
    final.append(dict(final[0], kw=dict(config="slim", epochs=int(1.7 * epochs), seed=1, soft_weight=0.7)))
    students.insert(2, dict(name="final", expect=60, jobs=final))
    if cpu:
        students = students[:1] + students[2:3]
    kept, states, frames = {}, {}, {}

    def got(name, value):
        outs, weights, _ = value
        for n, w in enumerate(weights):
            if w is not None:
                for key, a in w.items():
                    states[f"{name}/{n}/{key}"] = a
        if name != "final":
            m = merge(outs)
            kept.update({f"{name}|{k}": m[k] for k in ("i", "e", "ne", "r", "nf")})
            frames[name] = m["f"]
            np.savez_compressed(f"{out}/frames_{name}.npz", f=m["f"]) if name in ("slim_soft6", "slim_soft8", "sep_soft6", "slim_long") else None
        np.savez_compressed(f"{out}/oof3.npz", **kept)
        if name == "final":
            np.savez(f"{out}/final.npz", **{k: v for k, v in states.items() if k.startswith("final/")})
        slim = {k: v for k, v in states.items() if k.startswith(("slim_soft6", "slim_soft8"))}
        np.savez(f"{out}/students.npz", **slim)

    p.run(students, got)
    print(f"total {time.time() - begun:.0f} s", flush=True)
    p.close()


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), int(sys.argv[3]), sys.argv[4])
