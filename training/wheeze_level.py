#!/usr/bin/env python3
"""How much louder real wheeze is than the normal breaths of the same recording, above 100 Hz.

Usage: training/wheeze_level.py DATA_FOLDER       (recordings.csv, events.csv, audio/*.flac; needs scipy, soundfile)
For each recording with events that experts label Wheeze and Normal: mean power of either kind, 4th-order Butterworth
high-pass at 100 Hz, all of a kind together. Prints how many recordings, and quartiles of the difference in dB.
The level of Phren's wheeze rests on it (src/acoustics/musical.cc).
"""
import csv
import os
import sys

import numpy as np
import soundfile
from scipy.signal import butter, sosfiltfilt

HIGH_PASS_HZ = 100.0


def mean_power(y, rate, spans):
    parts = [y[int(a * rate / 1000):int(b * rate / 1000)] for a, b in spans]
    return np.mean(np.concatenate(parts) ** 2)


def main():
    folder = sys.argv[1]
    spans = {}
    for e in csv.DictReader(open(os.path.join(folder, "events.csv"))):
        kinds = spans.setdefault(e["recording"], {})
        kinds.setdefault(e["event_label"], []).append((int(e["start_ms"]), int(e["end_ms"])))
    differences = []
    for name, kinds in spans.items():
        if "Wheeze" not in kinds or "Normal" not in kinds:
            continue
        x, rate = soundfile.read(os.path.join(folder, "audio", name + ".flac"), dtype="float64")
        y = sosfiltfilt(butter(4, HIGH_PASS_HZ, "high", fs=rate, output="sos"), x)
        differences.append(10 * np.log10(mean_power(y, rate, kinds["Wheeze"]) / mean_power(y, rate, kinds["Normal"])))
    low, middle, high = np.percentile(differences, [25, 50, 75])
    print(f"{len(differences)} recordings: wheeze above normal {middle:.1f} dB (quartiles {low:.1f} and {high:.1f})")


if __name__ == "__main__":
    main()
