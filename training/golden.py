#!/usr/bin/env python3
"""Writes model/golden.json: what the training framework computes for made-up sounds, for the C++ to agree with (1e-4).

Usage: golden.py ../model/recording_network.bin ../model/golden.json
The sounds are made from integers and one sine, so that a test makes them again: x[n] = amplitude * noise * rise + tone,
noise from the generator s = (1664525 s + 1013904223) mod 2^32, rise a triangle of 0.8 s (`sound`). No recording is in the file.
"""
import json
import sys

import numpy as np
import torch
import torch.nn.functional as F

from frontend import FrontEnd
from network import FRAME_MS

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


class File:
    """The weight file, read as training/README.md says; layers run in the framework."""
    def __init__(self, path):
        raw = open(path, "rb").read()
        size = int(np.frombuffer(raw, "<u4", 1, 8)[0])
        self.header, self.raw = json.loads(raw[16:16 + size]), raw[16 + size:]

    def tensor(self, name):
        entry = self.header["tensors"][name]
        count = int(np.prod(entry["shape"]))
        if "scale" in entry:
            scale = np.frombuffer(self.raw, "<f4", entry["shape"][0], 4 * entry["scale"])
            rows = np.frombuffer(self.raw, "i1", count, 4 * entry["offset"]).reshape(entry["shape"][0], -1)
            return torch.tensor((rows * scale[:, None]).astype(np.float32).reshape(entry["shape"]))
        return torch.tensor(np.frombuffer(self.raw, "<f4", count, 4 * entry["offset"]).reshape(entry["shape"]).copy())

    def linear(self, name, x):
        return F.linear(x, self.tensor(name + ".weight"), self.tensor(name + ".bias"))

    def conv(self, prefix, layer, x):
        y = F.conv2d(x, self.tensor(prefix + layer["name"] + ".weight"), self.tensor(prefix + layer["name"] + ".bias"),
                     layer["stride"], [k // 2 for k in layer["kernel"]], groups=layer["groups"])
        return F.relu(y) if layer["relu"] else y

    def features(self, prefix, x):
        for layer in self.header["layers"]:
            name = prefix + layer.get("name", "")
            if layer["op"] == "affine":
                x = x * self.tensor(prefix + "scale")[:, None, None] + self.tensor(prefix + "shift")[:, None, None]
            elif layer["op"] == "conv":
                x = self.conv(prefix, layer, x)
            elif layer["op"] == "residual":
                y = x
                for part in layer["main"]:
                    y = self.conv(prefix, part, y)
                x = F.relu(y + (self.conv(prefix, layer["shortcut"][0], x) if layer["shortcut"] else x))
            elif layer["op"] == "project":
                x = F.relu(self.linear(name, x.permute(0, 3, 2, 1).flatten(2))).transpose(1, 2)
            elif layer["op"] == "temporal":
                d = layer["dilation"]
                u = F.conv1d(x, self.tensor(name + ".depth.weight")[:, None], self.tensor(name + ".depth.bias"), padding=2 * d, dilation=d,
                             groups=layer["width"]).transpose(1, 2)
                x = x + self.linear(name + ".down", F.relu(self.linear(name + ".up", u))).transpose(1, 2)
            elif layer["op"] == "context":
                x = x + F.relu(self.linear(name, x.mean(2)))[:, :, None]
            else:
                x = F.relu(x)
        return x.transpose(1, 2)

    def head(self, prefix, name, classes, group, g):
        weight = self.linear(prefix + name + "_attention", g).softmax(0)
        own = slice(group * classes, (group + 1) * classes)
        pooled = self.linear(prefix + name + "_pooled", torch.cat([g.mean(0), g.amax(0)]))
        return (weight * self.linear(prefix + name + "_value", g)[:, own]).sum(0) + pooled[own]


def main():
    path, out = sys.argv[1:]
    file, front, cases = File(path), FrontEnd(), []
    members = file.header["members"]
    mean = lambda f: torch.stack([f(m) for m in members]).mean(0)
    listed = lambda v: np.round(v.numpy().astype(float), 6).tolist()
    for seconds, seed in CASES:
        x = torch.tensor(sound(seconds, seed), dtype=torch.float32)[None]
        with torch.no_grad():
            planes = front(x)
            planes = planes - planes.mean(3, keepdim=True)
            g = {m: file.features(m, planes)[0] for m in members}
            frames = {m: file.linear(m + "frame", g[m]) for m in members}
            events, record = [], []
            for start_ms, end_ms in EVENTS:
                end = min(end_ms / FRAME_MS, len(g[members[0]]))
                start = max(min(start_ms / FRAME_MS, end - 3), 0.0)
                end = max(end, start + 3)
                inside = slice(int(np.ceil(start)), int(np.ceil(end)))
                logits = [listed(mean(lambda m: file.head(m, "event", 7, group, g[m][inside]))) for group in file.header["event_raters"]]
                events.append(dict(start_ms=start_ms, end_ms=end_ms, logits=logits))
            for kind in range(3):
                def one(m):
                    peaks = F.avg_pool1d(frames[m].T[None], min(8, len(frames[m])), 1).amax(2)[0]
                    return file.head(m, "record", 5, kind, g[m]) + file.linear(m + "record_peaks", peaks)[5 * kind:5 * kind + 5]
                record.append(listed(mean(one)))
        at = planes.shape[3] // 3
        cases.append(dict(seconds=seconds, seed=seed, frame=at, planes=np.round(planes[0, :, :, at].numpy().astype(float), 6).tolist(),
                          frames=listed(mean(lambda m: frames[m]).T), events=events, record=record))
    json.dump(dict(source=f"training/golden.py, torch {torch.__version__.split('+')[0]}, float32", cases=cases),
              open(out, "w"), separators=(",", ":"))


if __name__ == "__main__":
    main()
