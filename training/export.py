#!/usr/bin/env python3
"""Writes trained networks (distil.py's npz files) as weight files for `phren` (training/README.md, section 1), batch norm
folded. Needs numpy only.

Usage: export.py STATES.npz PREFIX OUT.bin [--cost C --bias B] [--version V]
PREFIX names the network inside the file: final/0, slim_soft6/3, ...
"""
import argparse
import json
import zlib

import numpy as np

EVENT_LABELS = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD_LABELS = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]
FRAME_OUTPUTS = ["presence", "onset", "offset", "continuous", "crackle"]
PLANES = ((512, 512, 0), (192, 256, 0), (64, 256, -20), (64, 256, 20))
BANDS, RATE = 64, 4000
DILATIONS, CONTEXT_AFTER = (1, 2, 4, 8, 1), 2
STEM_STRIDE, STRIDES = (2, 1), ((2, 2), (2, 1), (2, 1))  # the "slim" and "thin" configurations
EPSILON = 1e-5


def band_matrix(transform):  # the same as frontend.py
    warp = np.linspace(np.log1p(40.0 / 400.0), np.log1p(1300.0 / 400.0), BANDS + 2)
    edges = 400.0 * np.expm1(warp)
    bin_hz = RATE / transform
    f = np.arange(transform // 2 + 1) * bin_hz
    out = np.zeros((BANDS, f.size))
    for b in range(BANDS):
        centre = edges[b + 1]
        left, right = max(centre - edges[b], bin_hz), max(edges[b + 2] - centre, bin_hz)
        out[b] = np.clip(np.where(f <= centre, 1 - (centre - f) / left, 1 - (f - centre) / right), 0, None)
        out[b] /= out[b].sum()
    return out


class Exporter:
    def __init__(self, states, prefix):
        self.s = {k[len(prefix) + 1:]: states[k].astype(np.float64) for k in states.files if k.startswith(prefix + "/")}
        self.tensors = {}

    def norm(self, name):
        scale = self.s[name + ".weight"] / np.sqrt(self.s[name + ".running_var"] + EPSILON)
        return scale, self.s[name + ".bias"] - self.s[name + ".running_mean"] * scale

    def conv(self, name, stride, relu):
        w = self.s[name + ".0.weight"]
        scale, shift = self.norm(name + ".1")
        self.tensors[name + ".weight"] = w * scale[:, None, None, None]
        self.tensors[name + ".bias"] = shift
        return dict(op="conv", name=name, **{"in": w.shape[1]}, out=w.shape[0], kernel=list(w.shape[2:]),
                    stride=list(stride), groups=1, relu=relu)

    def linear(self, name):
        self.tensors[name + ".weight"], self.tensors[name + ".bias"] = self.s[name + ".weight"], self.s[name + ".bias"]

    def layers(self):
        self.tensors["scale"], self.tensors["shift"] = self.norm("scale")
        out = [dict(op="affine"), self.conv("stem", STEM_STRIDE, True)]
        for n, stride in enumerate(STRIDES):
            name = f"stages.{n}"
            out.append(dict(op="residual", main=[self.conv(name + ".a", stride, True), self.conv(name + ".b", (1, 1), False)],
                            shortcut=[self.conv(name + ".s", stride, False)]))
        self.linear("project")
        width = self.s["project.weight"].shape[0]
        out.append(dict(op="project", name="project", **{"in": self.s["project.weight"].shape[1]}, out=width))
        for n, dilation in enumerate(DILATIONS):
            name = f"temporal.{n}"
            scale, shift = self.norm(name + ".norm")
            self.tensors[name + ".depth.weight"] = self.s[name + ".depth.weight"][:, 0] * scale[:, None]
            self.tensors[name + ".depth.bias"] = shift
            self.tensors[name + ".up.weight"] = self.s[name + ".up.weight"][..., 0]
            self.tensors[name + ".up.bias"] = self.s[name + ".up.bias"]
            scale, shift = self.norm(name + ".norm2")
            self.tensors[name + ".down.weight"] = self.s[name + ".down.weight"][..., 0] * scale[:, None]
            self.tensors[name + ".down.bias"] = shift
            out.append(dict(op="temporal", name=name, width=width, hidden=self.tensors[name + ".up.weight"].shape[0], taps=5,
                            dilation=dilation))
            if n == CONTEXT_AFTER:
                self.linear("context")
                out.append(dict(op="context", name="context", width=width))
        out.append(dict(op="relu"))
        for head in ("frame", "event_attention", "event_value", "event_pooled", "record_attention", "record_value",
                     "record_pooled", "record_peaks"):
            self.linear(head)
        return out


def write(path, states, prefix, cost, bias, version):
    e = Exporter(states, prefix)
    header = dict(version=version, layers=e.layers(), event_labels=EVENT_LABELS, record_labels=RECORD_LABELS,
                  frame_outputs=FRAME_OUTPUTS, frame_ms=40, peak_frames=8,
                  temperature=dict(event=1.0, record=1.0, presence=1.0),
                  decode=dict(cost=cost, bias=bias, share=0.5, shortest_ms=200))
    header["front"] = dict(sample_rate_hz=RATE, hop=80, bands=BANDS, tiny=1e-14, relative_floor=1e-3, planes=[
        dict(window=w, transform=t, offset=o, taper=f"taper{w}", matrix=f"matrix{t}") for w, t, o in PLANES])
    for w in (512, 192, 64):
        e.tensors[f"taper{w}"] = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(w) / w)
    for t in (512, 256):
        e.tensors[f"matrix{t}"] = band_matrix(t)
    header["tensors"], data, at = {}, [], 0
    for name, a in e.tensors.items():
        header["tensors"][name] = dict(shape=list(a.shape), offset=at)
        data.append(np.ascontiguousarray(a, "<f4").tobytes())
        at += a.size
    text = json.dumps(header, separators=(",", ":")).encode()
    text += b" " * (-(16 + len(text)) % 64)
    rest = text + b"".join(data)
    with open(path, "wb") as out:
        out.write(b"PHRENNW1" + np.array([len(text), zlib.crc32(rest)], "<u4").tobytes() + rest)
    print(path, 16 + len(rest), "bytes")


if __name__ == "__main__":
    p = argparse.ArgumentParser()
    p.add_argument("states")
    p.add_argument("prefix")
    p.add_argument("out")
    p.add_argument("--cost", type=float, default=1.0)
    p.add_argument("--bias", type=float, default=0.0)
    p.add_argument("--version", default="2026-11-25")
    a = p.parse_args()
    write(a.out, np.load(a.states), a.prefix, a.cost, a.bias, a.version)
