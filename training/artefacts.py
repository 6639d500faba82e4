#!/usr/bin/env python3
"""The artefact test: are the reasons of poor quality named, and are labels of untouched parts kept?

Usage: artefacts.py PHREN DATA_FOLDER FOLDS_FOLDER [--people even|odd] [--every N] [--keep FOLDER]    (folders as for evaluate.sh;
needs numpy, scipy, soundfile)
Into a stretch of a third of every recording of the children one artefact is put, in turn: thumps of the hand, rubbing, speech (a source
of pulses through formants), clipping, another filter, dropouts. Each copy and its original are measured by the models of their fold.

*Named right*: the reason that belongs to the artefact is among the copy's, and no reason of another artefact is there that the original
does not have; another filter has no reason. A reason that the original already has counts as named. *Kept*: an expert's breath that
ends at least 0.2 s before the stretch or starts 0.2 s after it has the same label in both.
The thresholds in src/measurement/quality.cc were set on people with an even number; `--people odd` measures the others.
Prints the seed.
"""
import argparse
import collections
import csv
import json
import os
import subprocess
import sys
import tempfile

import numpy as np
import soundfile
from scipy.signal import butter, lfilter, sosfilt

SEED, BESIDE_MS = 20261201, 200
DUPLICATE = "41279835_14.1_0_p1_2945"
# First and second formant of six vowels (Hz), the third near 2500: Peterson & Barney 1952, from memory.
VOWELS = [(270, 2290), (530, 1840), (660, 1720), (730, 1090), (570, 840), (300, 870)]


def level(x):
    return np.sqrt(np.mean(x ** 2)) + 1e-6


def band(x, rate, low, high):
    return sosfilt(butter(2, [low, min(high, 0.45 * rate)], "bandpass", fs=rate, output="sos"), x)


def sensed(x, rate):
    """What the children's sensor passes: it falls by 24 dB an octave from about 600 Hz."""
    return sosfilt(butter(4, 600, fs=rate, output="sos"), x)


def thumps(x, rate, rms, random):
    """18 to 28 dB over the recording: ordinary recordings have some of up to 20 dB."""
    out = np.zeros(len(x))
    for _ in range(random.integers(3, 7)):
        t = np.arange(int(0.25 * rate)) / rate
        thump = np.exp(-t * random.uniform(15, 55)) * np.sin(2 * np.pi * random.uniform(25, 95) * t) * rms * random.uniform(8, 25)
        at = random.integers(0, max(1, len(x) - len(t)))
        out[at:at + len(t)] += thump[:len(x) - at]
    return x + out


def rubbing(x, rate, rms, random):
    """Strokes of noise that crumbles: its height changes every few milliseconds."""
    out = np.zeros(len(x))
    for _ in range(random.integers(3, 6)):
        n = int(random.uniform(0.2, 0.7) * rate)
        n = min(n, len(x))
        grains = np.repeat(random.gamma(0.5, 2.0, n // (rate // 200) + 1), rate // 200)[:n]
        stroke = sensed(band(random.standard_normal(n) * grains, rate, 80, 1500), rate) * np.hanning(n) ** 0.5
        at = random.integers(0, len(x) - n + 1)
        out[at:at + n] += stroke / level(stroke) * rms * 10 ** (random.uniform(6, 14) / 20)
    return x + out


def speech(x, rate, rms, random):
    out, at, base = np.zeros(len(x)), 0, random.uniform(90, 240)
    while at < len(x) - rate // 10:
        n = int(random.uniform(0.12, 0.3) * rate)
        t = np.arange(n) / rate
        pitch = base * (1 + random.uniform(-0.15, 0.15) + random.uniform(-0.2, 0.1) * t / t[-1])
        phase = np.cumsum(pitch) / rate
        source = lfilter([1, -1], [1, -0.99], np.diff(np.floor(phase), prepend=0.0))
        source = lfilter([1.0], [1, -0.95], source) + 0.02 * random.standard_normal(n)
        for f, width in zip((*VOWELS[random.integers(len(VOWELS))], 2500), (80, 100, 150)):
            if f < 0.45 * rate:
                r = np.exp(-np.pi * width / rate)
                source = lfilter([1 - r], [1, -2 * r * np.cos(2 * np.pi * f / rate), r * r], source)
        syllable = source / level(source) * np.minimum(1, np.minimum(t, t[::-1]) / 0.02) * random.uniform(0.5, 1)
        out[at:at + n] += syllable[:len(x) - at]
        at += n + int(random.choice([0.02, 0.05, 0.25], p=[0.5, 0.3, 0.2]) * rate)
    return x + sensed(out, rate) * rms * 10 ** (random.uniform(3, 12) / 20)


def clipping(x, rate, rms, random):
    return np.clip(x / np.quantile(np.abs(x), 1 - random.uniform(0.01, 0.08)), -1, 1)


def another_filter(x, rate, rms, random):
    corner, kind = [(150, "highpass"), (300, "lowpass"), (250, "highpass"), (450, "lowpass")][random.integers(4)]
    return sosfilt(butter(2, corner, kind, fs=rate, output="sos"), x)


def dropouts(x, rate, rms, random):
    x = x.copy()
    for _ in range(random.integers(3, 9)):
        n = int(random.uniform(0.03, 0.3) * rate)
        at = random.integers(1, max(2, len(x) - n - 1))
        x[at:at + n] = 0.0 if random.random() < 0.5 else x[at - 1]
    return x


ARTEFACTS = {"thumps": (thumps, "contact"), "rubbing": (rubbing, "contact"), "speech": (speech, "speech"), "clipping": (clipping, "clipping"),
             "another filter": (another_filter, None), "dropouts": (dropouts, "gaps")}
NAMED = {reason for _, reason in ARTEFACTS.values() if reason}


def changed(x, rate, name, random):
    """The copy, and where it was changed (ms)."""
    n = len(x) // 3
    at = int(random.integers(0, len(x) - n))
    y = x.copy()
    y[at:at + n] = ARTEFACTS[name][0](x[at:at + n], rate, level(x), random)
    return np.clip(y, -1, 1), (1000 * at / rate, 1000 * (at + n) / rate)


def measured(phren, models, events, files):
    out = subprocess.run([phren, "measure", "--json", "--events", events, *files], env=dict(os.environ, PHREN_MODEL=models),
                         stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True).stdout
    return {m["recording"]: m for m in map(json.loads, out.splitlines())}


def main():
    parser = argparse.ArgumentParser()
    for name in ("phren", "data", "folds"):
        parser.add_argument(name)
    parser.add_argument("--people", choices=("even", "odd"))
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--keep", help="keeps the copies here")
    args = parser.parse_args()
    print("seed", SEED)
    recordings = [r for r in csv.DictReader(open(f"{args.data}/recordings.csv")) if r["recording"] != DUPLICATE]
    recordings = [(n, r) for n, r in enumerate(recordings)
                  if args.people is None or int(r["patient"]) % 2 == (args.people == "odd")][::args.every]
    names = list(ARTEFACTS)
    right, wrong, kept = collections.defaultdict(list), collections.Counter(), collections.defaultdict(list)
    first, by_people = collections.Counter(), {0: [], 1: []}
    events = f"{args.data}/events.csv"
    for fold in range(5):
        mine = [(n, r) for n, r in recordings if int(r["fold"]) == fold]
        with tempfile.TemporaryDirectory() as temporary:
            folder, where = args.keep or temporary, {}
            files = {"original": [], "copy": []}
            for n, r in mine:
                source = f"{args.data}/audio/{r['recording']}.flac"
                x, rate = soundfile.read(source, dtype="float64")
                y, where[r["recording"]] = changed(x, rate, names[n % len(names)], np.random.default_rng([SEED, n]))
                files["original"].append(source), files["copy"].append(f"{folder}/{r['recording']}.wav")
                soundfile.write(files["copy"][-1], y, rate, "PCM_16")
            said = {k: measured(args.phren, f"{args.folds}/{fold}", events, v) for k, v in files.items()}
        for n, r in mine:
            name, (start, end) = names[n % len(names)], where[r["recording"]]
            a, b = (said[k][r["recording"]] for k in ("original", "copy"))
            before, after, reason = set(a["quality"]["reasons"]), set(b["quality"]["reasons"]), ARTEFACTS[name][1]
            first.update(before)
            new = (after - before) & NAMED - {reason}
            right[name].append((reason is None or reason in after) and not new)
            by_people[int(r["patient"]) % 2].append(right[name][-1])
            if reason is not None and reason not in after:
                wrong[name, "not named"] += 1
            wrong.update((name, "called " + w) for w in new)
            for e, f in zip(a["given_events"], b["given_events"]):
                if e["end_ms"] < start - BESIDE_MS or e["start_ms"] > end + BESIDE_MS:
                    kept[name].append(e["label"] == f["label"])
    total = lambda v: np.concatenate([v[k] for k in names if len(v[k])])
    for name in names:
        print(f"{name}: named right {np.mean(right[name]):.3f} of {len(right[name])}; labels kept {np.mean(kept[name]):.3f} of {len(kept[name])};",
              ", ".join(f"{what} {count}" for (of, what), count in wrong.most_common() if of == name))
    print(f"all: named right {np.mean(total(right)):.3f} of {len(total(right))}; labels kept {np.mean(total(kept)):.3f} of {len(total(kept))}")
    print("named right by people's number:", ", ".join(f"{w} {np.mean(v):.3f} of {len(v)}" for w, v in zip(("even", "odd"), by_people.values()) if v))
    print("reasons of the originals", {k: round(v / len(recordings), 3) for k, v in first.most_common()})


if __name__ == "__main__":
    sys.exit(main())
