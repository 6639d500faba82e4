#!/usr/bin/env python3
"""The numbers by which the kind of a recording is told (src/measurement/sound_kind.h), of every seventh child's recording and all adults'.

Usage: kinds.py CHILDREN_FOLDER ADULTS_FOLDER KINDS.npz      (needs scipy, soundfile)
"""
import csv
import sys

import numpy as np
import soundfile
from scipy.signal import get_window, resample_poly

EDGES = [3, 4, 5, 6, 8, 10, 12, 15, 19, 24, 30, 37, 45, 54, 64, 74, 84]  # bins of 15.625 Hz


def statistics(path):
    x, rate = soundfile.read(path, dtype="float32")
    if rate != 4000:
        x = resample_poly(x, 4000, rate)
    frames = (len(x) + 79) // 80
    padded = np.concatenate([np.zeros(96, np.float32), x, np.zeros(400, np.float32)])
    window = get_window("hann", 192, fftbins=True).astype(np.float32)
    pieces = np.lib.stride_tricks.sliding_window_view(padded, 192)[::80][:frames] * window
    power = np.abs(np.fft.rfft(pieces, 256)) ** 2 / (window ** 2).sum()
    db = np.stack([10 * np.log10(power[:, a:b].mean(1) + 1e-14) for a, b in zip(EDGES[:-1], EDGES[1:])], 1)
    mean = db.mean(0)
    return np.concatenate([mean - mean.mean(), db.std(0)])


def main():
    children, adults, out = sys.argv[1:]
    names, kinds, rows = [], [], []
    for n, r in enumerate(csv.DictReader(open(f"{children}/recordings.csv"))):
        if n % 7 == 0:
            names.append(r["recording"]), kinds.append(0)
            rows.append(statistics(f"{children}/audio/{r['recording']}.flac"))
    for r in csv.DictReader(open(f"{adults}/recordings.csv")):
        names.append(r["recording"]), kinds.append(1 if r["set"] == "K" else 2)
        rows.append(statistics(f"{adults}/audio/{r['recording']}.flac"))
    np.savez(out, n=np.array(names), k=np.array(kinds), x=np.stack(rows))


if __name__ == "__main__":
    main()
