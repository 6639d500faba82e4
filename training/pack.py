#!/usr/bin/env python3
"""Packs all recordings as one 4 kHz file (a.flac, len.npy) beside the labels, for a training machine.

Usage: pack.py DATA_FOLDER OUT_FOLDER      (needs scipy, soundfile and the flac program)
"""
import csv
import os
import shutil
import subprocess
import sys

import numpy as np
import soundfile
from scipy.signal import resample_poly


def main():
    source, out = sys.argv[1:]
    os.makedirs(out, exist_ok=True)
    pieces = []
    for r in csv.DictReader(open(os.path.join(source, "recordings.csv"))):
        x, rate = soundfile.read(os.path.join(source, "audio", r["recording"] + ".flac"), dtype="float64")
        if rate != 8000:
            sys.exit(f"{r['recording']}: {rate} Hz, must be 8000 Hz")
        y = resample_poly(x, 1, 2, window=("kaiser", 8.0))
        pieces.append(np.clip(np.round(y * 32768), -32768, 32767).astype("<i2"))
    np.save(os.path.join(out, "len.npy"), np.array([len(p) for p in pieces]))
    subprocess.run(["flac", "-s", "-8", "-f", "--force-raw-format", "--endian=little", "--channels=1", "--bps=16",
                    "--sample-rate=4000", "--sign=signed", "-o", os.path.join(out, "a.flac"), "-"],
                   input=np.concatenate(pieces).tobytes(), check=True)
    shutil.copy(shutil.which("flac"), os.path.join(out, "flacbin"))
    for name in ("recordings.csv", "events.csv"):
        shutil.copy(os.path.join(source, name), out)


if __name__ == "__main__":
    main()
