#!/usr/bin/env python3
"""Packs all recordings as one 3 kHz file (a.flac, len.npy) beside the labels, for a training machine.

Usage: pack.py CHILDREN_FOLDER ADULTS_FOLDER OUT_FOLDER      (needs scipy, soundfile and the flac program)
Children's levels are doubled, adults' recordings brought to one level, so that 16 bits are enough (the front end takes levels away).
"""
import csv
import os
import shutil
import subprocess
import sys

import numpy as np
import soundfile
from scipy.signal import resample_poly


def packed(folder, name, is_child):
    x, rate = soundfile.read(os.path.join(folder, "audio", name + ".flac"), dtype="float64")
    if rate not in (4000, 8000):
        sys.exit(f"{name}: {rate} Hz, must be 4000 or 8000 Hz")
    y = resample_poly(x, 3, rate // 1000, window=("kaiser", 9.0))
    if is_child:
        y = y * 65536
    else:
        y = y - y.mean()
        y = y / np.sqrt(np.mean(y ** 2) + 1e-12) * 500
    return np.clip(np.round(y), -32768, 32767).astype("<i2")


def main():
    children, adults, out = sys.argv[1:]
    os.makedirs(out, exist_ok=True)
    pieces = []
    for folder, prefix, more in ((children, "c_", "events"), (adults, "a_", "cycles")):
        for r in csv.DictReader(open(os.path.join(folder, "recordings.csv"))):
            pieces.append(packed(folder, r["recording"], prefix == "c_"))
        for name in ("recordings", more):
            shutil.copy(os.path.join(folder, name + ".csv"), os.path.join(out, prefix + name + ".csv"))
    np.save(os.path.join(out, "len.npy"), np.array([len(p) for p in pieces]))
    subprocess.run(["flac", "-s", "-8", "-f", "--force-raw-format", "--endian=little", "--channels=1", "--bps=16",
                    "--sample-rate=8000", "--sign=signed", "-o", os.path.join(out, "a.flac"), "-"],
                   input=np.concatenate(pieces).tobytes(), check=True)
    program = shutil.which("flac")
    shutil.copy(program, os.path.join(out, "flacbin"))
    for line in subprocess.run(["ldd", program], capture_output=True, text=True, check=True).stdout.splitlines():
        if "FLAC" in line or "ogg" in line:
            shutil.copy(line.split()[2], out)


if __name__ == "__main__":
    main()
