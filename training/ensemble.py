"""The whole training: three networks of one kind that differ in seed and augmentation, each out of fold and once on everything.

Every network of a fold has seen no recording of that fold's people. What the three say is averaged (training/README.md).

usage: python3 ensemble.py FOLDER SECONDS EPOCHS OUT
"""
import os
import sys
import time

import numpy as np

import pool

FOLDS = range(5)
MEMBERS = {"a": dict(seed=200, strength=0.4), "b": dict(seed=300, strength=0.6, shares=(0.5, 0.2, 0.3)),
           "c": dict(seed=400, strength=0.5, drop=0.25)}


def merge(outs):
    """Predictions of several networks on disjoint recordings as flat arrays."""
    m = {i: v for o in outs for i, v in o.items()}
    order = sorted(m)
    return dict(i=np.array(order), e=np.concatenate([m[k][0] for k in order]).astype(np.float32),
                ne=np.array([len(m[k][0]) for k in order]), r=np.stack([m[k][1] for k in order]),
                f=np.concatenate([m[k][2] for k in order]).astype(np.float16),
                nf=np.array([len(m[k][2]) for k in order]))


def main(folder, seconds, epochs, out):
    begun = time.time()
    p = pool.Pool(folder, begun + seconds, raw=os.environ.get("RAW", "/tmp/a.raw"))

    def got(name, value):
        outs, weights, _ = value
        states = {}
        for n, w in enumerate(weights):
            for key, a in w.items():
                states[f"{name}/{n}/{key}"] = a.astype(np.float16) if a.dtype == np.float32 else a
        np.savez_compressed(f"{out}/oof_{name}.npz", **merge(outs))
        np.savez_compressed(f"{out}/states_{name}.npz", **states)

    groups = []
    for name, kw in MEMBERS.items():
        jobs = [dict(held=[k], predict=[k], keep=True, kw=dict(kw, config="slim", epochs=epochs, seed=kw["seed"] + k))
                for k in FOLDS]
        jobs.append(dict(held=[], predict=[], keep=True, kw=dict(kw, config="slim", epochs=epochs, seed=kw["seed"] + 5)))
        groups.append(dict(name=name, expect=80, jobs=jobs))
    p.run(groups, got)
    print(f"total {time.time() - begun:.0f} s", flush=True)
    p.close()


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), int(sys.argv[3]), sys.argv[4])
