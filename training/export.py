#!/usr/bin/env python3
"""Writes trained networks as one weight file (training/README.md, section 1).

Usage: export.py STATES_A.npz [STATES_B.npz ...] --network N --out OUT.bin [--cost C --bias B] [--version V]
STATES come from ensemble.py, one file for each member; N is the network inside: 0..4 of a fold, 5 trained on all.
"""
import argparse
import json
import zlib

import numpy as np

EVENT_LABELS = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD_LABELS = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]
FRAME_OUTPUTS = ["presence", "onset", "offset", "continuous", "crackle"]
PLANES = ((512, 512, 0), (192, 256, 0), (64, 256, -20), (64, 256, 20))
EVENT_RATERS = [0, 1, 1]  # network.py
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
        for head in ("frame", "event_attention", "record_attention"):
            self.linear(head)
        for head in ("event_value", "event_pooled", "record_value", "record_pooled", "record_peaks"):  # shared and own
            for part in (".weight", ".bias"):
                shared, own = self.s[head + part], self.s[head + "_own" + part]
                self.tensors[head + part] = np.concatenate([shared] * (len(own) // len(shared))) + own
        return out


def write(path, files, network, cost, bias, crackle_bias, continuous_bias, version):
    tensors, members, layers = {}, [], None
    for states in files:
        name = states.files[0].split("/")[0]
        e = Exporter(states, f"{name}/{network}")
        layers = e.layers()
        members.append(f"{name}/")
        tensors.update({f"{name}/{k}": v for k, v in e.tensors.items()})
    header = dict(version=version, members=members, layers=layers, event_labels=EVENT_LABELS, record_labels=RECORD_LABELS,
                  event_raters=EVENT_RATERS, frame_outputs=FRAME_OUTPUTS, frame_ms=40, peak_frames=8,
                  temperature=dict(event=1.0, record=1.0, presence=1.0),
                  decode=dict(cost=cost, bias=bias, share=0.5, shortest_ms=160, crackle_bias=crackle_bias, continuous_bias=continuous_bias))
    header["front"] = dict(sample_rate_hz=RATE, hop=80, bands=BANDS, tiny=1e-14, relative_floor=1e-3, planes=[
        dict(window=w, transform=t, offset=o, taper=f"taper{w}", matrix=f"matrix{t}") for w, t, o in PLANES])
    for w in (512, 192, 64):
        tensors[f"taper{w}"] = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(w) / w)
    for t in (512, 256):
        tensors[f"matrix{t}"] = band_matrix(t)
    header["tensors"], data, at = {}, [], 0

    def put(a, kind):
        nonlocal at
        raw = np.ascontiguousarray(a, kind).tobytes()
        raw += bytes(-len(raw) % 4)
        data.append(raw)
        at += len(raw) // 4
        return at - len(raw) // 4

    for name, a in tensors.items():
        if a.ndim > 1 and "/" in name:  # signed bytes, a factor for each row
            rows = a.reshape(len(a), -1)
            scale = np.maximum(np.abs(rows).max(1), 1e-12).astype(np.float32) / 127
            header["tensors"][name] = dict(shape=list(a.shape), offset=put(np.round(rows / scale[:, None]), "i1"), scale=put(scale, "<f4"))
        else:
            header["tensors"][name] = dict(shape=list(a.shape), offset=put(a, "<f4"))
    text = json.dumps(header, separators=(",", ":")).encode()
    text += b" " * (-(16 + len(text)) % 64)
    rest = text + b"".join(data)
    with open(path, "wb") as out:
        out.write(b"PHRENNW1" + np.array([len(text), zlib.crc32(rest)], "<u4").tobytes() + rest)
    print(path, 16 + len(rest), "bytes,", len(zlib.compress(rest, 9)), "compressed")


if __name__ == "__main__":
    p = argparse.ArgumentParser()
    p.add_argument("states", nargs="+")
    p.add_argument("--network", type=int, default=5)
    p.add_argument("--out", required=True)
    p.add_argument("--cost", type=float, default=1.0)
    p.add_argument("--bias", type=float, default=0.3)
    p.add_argument("--crackle-bias", type=float, default=0.5)
    p.add_argument("--continuous-bias", type=float, default=1.0)
    p.add_argument("--version", default="2026-11-30")
    a = p.parse_args()
    write(a.out, [np.load(f) for f in a.states], a.network, a.cost, a.bias, a.crackle_bias, a.continuous_bias, a.version)
