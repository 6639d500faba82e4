#!/usr/bin/env python3
"""Other microphones, rates and levels: the whole program out of fold on changed copies of every fourth recording.

Usage: training/shift.py PHREN DATA_FOLDER FOLDS_FOLDER       (FOLDS_FOLDER as for evaluate.sh; needs scipy, soundfile)
Prints a line for each change: the four scores and, for the kept labels, how often they agree with the unchanged copy.
"""
import csv
import json
import os
import subprocess
import sys
import tempfile

import numpy as np
import soundfile
from scipy.signal import firwin2, lfilter, resample_poly

from score import event_scores, record_scores

EVENT = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]


def response(x, rate, points_db):
    f, g = zip(*points_db)
    taps = firwin2(401, [0, *(v / (rate / 2) for v in f), 1], [10 ** (v / 20) for v in (g[0], *g, g[-1])])
    return lfilter(taps, 1, np.concatenate([x, np.zeros(200)]))[200:]


def noisy(x, db, random):
    return x + random.standard_normal(len(x)) * np.sqrt(np.mean(x ** 2)) * 10 ** (-db / 20)


CHANGES = {  # name -> (samples, rate, file subtype) from samples at 8 kHz
    "unchanged": lambda x, r: (x, 8000, "PCM_16"),
    "16 kHz": lambda x, r: (resample_poly(x, 2, 1), 16000, "PCM_16"),
    "44.1 kHz": lambda x, r: (resample_poly(x, 441, 80), 44100, "PCM_16"),
    "48 kHz": lambda x, r: (resample_poly(x, 6, 1), 48000, "PCM_16"),
    "gain +20 dB": lambda x, r: (x * 10, 8000, "FLOAT"),
    "gain -20 dB": lambda x, r: (x / 10, 8000, "PCM_16"),
    "dark microphone (-12 dB from 200 to 800 Hz)": lambda x, r: (
        response(x, 8000, [(50, 0), (200, 0), (800, -12), (2000, -12)]), 8000, "PCM_16"),
    "bright microphone (-10 dB under 100 Hz, +6 dB at 500 Hz)": lambda x, r: (
        response(x, 8000, [(50, -10), (100, -10), (300, 3), (500, 6), (2000, 6)]), 8000, "FLOAT"),
    "white noise 30 dB under the recording": lambda x, r: (noisy(x, 30, r), 8000, "PCM_16"),
    "white noise 20 dB under the recording": lambda x, r: (noisy(x, 20, r), 8000, "PCM_16"),
}


def main():
    phren, data, folds = sys.argv[1:]
    recordings = list(csv.DictReader(open(os.path.join(data, "recordings.csv"))))[::4]
    recordings = [r for r in recordings if r["recording"] != "41279835_14.1_0_p1_2945"]
    truth = {}
    for e in csv.DictReader(open(os.path.join(data, "events.csv"))):
        truth.setdefault(e["recording"], []).append(EVENT.index(e["event_label"]))
    first = None
    for name, change in CHANGES.items():
        random = np.random.default_rng(7)
        said = {}
        for fold in range(5):
            with tempfile.TemporaryDirectory() as folder:
                files = []
                for r in (r for r in recordings if int(r["fold"]) == fold):
                    x, _ = soundfile.read(os.path.join(data, "audio", r["recording"] + ".flac"), dtype="float64")
                    y, rate, subtype = change(x, random)
                    files.append(os.path.join(folder, r["recording"] + ".wav"))
                    soundfile.write(files[-1], y, rate, subtype)
                out = subprocess.run([phren, "measure", "--json", "--events", os.path.join(data, "events.csv"), *files],
                                     env=dict(os.environ, PHREN_MODEL=os.path.join(folds, str(fold))),
                                     capture_output=True, text=True, check=True).stdout
                for line in out.splitlines():
                    m = json.loads(line)
                    said[m["recording"]] = (RECORD.index(m["record"]["label"]), [EVENT.index(e["label"]) for e in m["given_events"]])
        y = np.concatenate([truth.get(r["recording"], []) for r in recordings]).astype(int)
        g = np.concatenate([said[r["recording"]][1] for r in recordings]).astype(int)
        ry, rg = (np.array(v) for v in ([RECORD.index(r["record_label"]) for r in recordings], [said[r["recording"]][0] for r in recordings]))
        s = {**event_scores(y, g), **record_scores(ry, rg)}
        first = first or (g, rg)
        print(f"| {name} | " + " | ".join(f"{v['Score']:.3f}" for v in s.values())
              + f" | {np.mean(g == first[0]):.3f} | {np.mean(rg == first[1]):.3f} |", flush=True)


if __name__ == "__main__":
    main()
