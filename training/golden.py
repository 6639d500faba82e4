#!/usr/bin/env python3
"""Writes model/golden.json: what the training framework computes for made-up sounds, for the C++ to agree with (1e-4).

Usage: golden.py STATES.npz PREFIX CONFIG OUT.json   (for example final.npz final/0 slim ../model/golden.json)
The sounds are made from integers and one sine, so that a test makes them again: x[n] = amplitude * noise * rise + tone,
noise from the generator s = (1664525 s + 1013904223) mod 2^32, rise a triangle of 0.8 s (`sound`). No recording is in the file.
"""
import json
import sys

import numpy as np
import torch

from frontend import FrontEnd
from network import FRAME_MS, Network

CASES = [(1.3, 1), (6.4, 2), (15.36, 3)]  # seconds, seed
EVENTS = [(120, 530), (400, 1270), (0, 60), (1000, 5000)]  # ms


def sound(seconds, seed):
    n = int(round(seconds * 4000))
    state, noise = seed, np.zeros(n)
    for i in range(n):
        state = (1664525 * state + 1013904223) % 2**32
        noise[i] = (state >> 8) / 2**24 - 0.5
    i = np.arange(n)
    rise = np.abs(i % 3200 - 1600) / 1600.0
    t = i / 4000.0
    on = (i % 4000 >= 1200) & (i % 4000 < 2400)
    return 0.02 * noise * rise + on * 0.004 * np.sin(2 * np.pi * (220.0 * t + 8.0 * t * t))


def main():
    states, prefix, config, out = sys.argv[1:]
    saved = np.load(states)
    net = Network(config)
    net.load_state_dict({k[len(prefix) + 1:]: torch.tensor(saved[k]) for k in saved.files if k.startswith(prefix + "/")})
    net.eval()
    front, cases = FrontEnd(), []
    for seconds, seed in CASES:
        x = torch.tensor(sound(seconds, seed), dtype=torch.float32)[None]
        with torch.no_grad():
            planes = front(x)
            g = net(planes)
            frames, record, events = net.frame(g)[0], net.record(g)[0], []
            for start_ms, end_ms in EVENTS:
                start, end = torch.tensor([start_ms / FRAME_MS]), torch.tensor([min(end_ms / FRAME_MS, g.shape[1])])
                start = torch.minimum(start, end - 3).clamp(min=0)
                logits = net.events(g, torch.tensor([0]), start, torch.maximum(end, start + 3))[0]
                events.append(dict(start_ms=start_ms, end_ms=end_ms, logits=[round(float(v), 6) for v in logits]))
        planes = (planes - planes.mean(3, keepdim=True))[0]
        at = planes.shape[2] // 3
        cases.append(dict(seconds=seconds, seed=seed, frame=at, planes=np.round(planes[:, :, at].numpy().astype(float), 6).tolist(),
                          frames=np.round(frames.T.numpy().astype(float), 6).tolist(), events=events,
                          record=np.round(record.numpy().astype(float), 6).tolist()))
    json.dump(dict(source=f"training/golden.py, torch {torch.__version__.split('+')[0]}, float32", cases=cases),
              open(out, "w"), separators=(",", ":"))


if __name__ == "__main__":
    main()
