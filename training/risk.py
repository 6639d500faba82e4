#!/usr/bin/env python3
"""Draws wrong labels against coverage, and the surest false verdicts, from what the whole program said out of fold.

Usage: risk.py CHILDREN.jsonl ADULTS.jsonl CHILDREN_FOLDER ADULTS_FOLDER OUT_FOLDER
The lines are of `phren measure --json --events` by the models of each fold (evaluate.sh; README.md says how for adults).
Writes OUT_FOLDER/risk_coverage.svg and false_verdicts.svg (labels, times and probabilities; nothing of the sound), and prints the
figures behind them. Needs numpy.
"""
import csv
import sys

import numpy as np

import judges as J
from data import CYCLE_LABELS, DUPLICATES
from network import EVENT_LABELS, RECORD_LABELS

INK, PALE = "#1d2b36", "#9aa7b1"
STYLES = {"children's breaths": "#0b6e4f", "children's recordings": "#1f6fb2", "stethoscope": "#b25d00", "cycles": "#8a2f7d"}
FILLS = {"Normal": "#d5dde3", "Rhonchi": "#b25d00", "Wheeze": "#1f6fb2", "Stridor": "#8a2f7d", "Coarse Crackle": "#7a5c00",
         "Fine Crackle": "#0b6e4f", "Wheeze+Crackle": "#b3261e"}
# As the model card calls them; places of the stethoscope's set: anterior or posterior, left or right, upper, middle or lower.
DEVICES = {"AKGC417L": "clip-on microphone", "Litt3200": "electronic stethoscope, first make", "LittC2SE": "acoustic stethoscope with a microphone",
           "Meditron": "electronic stethoscope, second make"}
PLACES = {"A": "anterior", "P": "posterior", "L": "left", "R": "right"}
HEIGHTS = {"U": "upper", "M": "middle", "L": "lower"}


def place_words(site):
    parts = site.split()
    return " ".join([PLACES[p] for p in parts[:2]] + [HEIGHTS[p] for p in parts[2:3]]) if len(parts) == 3 and parts[2] in HEIGHTS else site


def table(path):
    return list(csv.DictReader(open(path)))


class Items:
    """What was labelled: how sure, whether wrong, and where it is."""
    def __init__(self):
        self.sure, self.wrong, self.what = [], [], []

    def add(self, said, true, what):
        self.sure.append(said["probabilities"][said["label"]])
        self.wrong.append(said["label"] != true)
        self.what.append((*what, said, true))

    def curve(self):
        """Share of wrong labels among the surest items, at every coverage from 20 % on."""
        wrong = np.array(self.wrong)[np.argsort(-np.array(self.sure), kind="stable")]
        n = np.arange(1, len(wrong) + 1)
        keep = n >= max(10, len(n) // 5)
        return n[keep] / len(n), (np.cumsum(wrong) / n)[keep]

    def at(self, coverage):
        wrong = np.array(self.wrong)[np.argsort(-np.array(self.sure), kind="stable")]
        return wrong[:int(round(coverage * len(wrong)))].mean()


def four(label):
    return J.FOUR[EVENT_LABELS.index(label)]


def gather(children, adults, children_folder, adults_folder):
    kinds = {name: Items() for name in STYLES}
    events = {}
    for e in table(f"{children_folder}/events.csv"):
        events.setdefault(e["recording"], []).append((int(e["start_ms"]), int(e["end_ms"]), e["event_label"]))
    for r in table(f"{children_folder}/recordings.csv"):
        m, who = children.get(r["recording"]), f"child of {float(r['age_years']):.0f} years, {r['site']}"
        if m is None or r["recording"] in DUPLICATES:
            continue
        kinds["children's recordings"].add(m["record"], r["record_label"], (who, m))
        for e, (start, end, true) in zip(m["given_events"], events.get(r["recording"], [])):
            kinds["children's breaths"].add(e, true, (f"{who}, {start / 1000:.1f} to {end / 1000:.1f} s", m))
    cycles = {}
    for c in table(f"{adults_folder}/cycles.csv"):
        cycles.setdefault(c["recording"], []).append((int(c["start_ms"]), int(c["end_ms"]), CYCLE_LABELS[c["crackle"], c["wheeze"]]))
    for r in table(f"{adults_folder}/recordings.csv"):
        m, age = adults[r["recording"]], f"{float(r['age_years']):.0f} years" if r["age_years"] not in ("", "NA") else "age unknown"
        if r["set"] == "K" and r["record_label"] in RECORD_LABELS:
            kinds["stethoscope"].add(m["record"], r["record_label"], (f"{age}, {place_words(r['site'])}", m))
        for e, (start, end, true) in zip(m["given_events"], cycles.get(r["recording"], [])):
            # Four classes: what an expert calls a wheeze may be called a rhonchus.
            same = true if four(true) != four(e["label"]) else e["label"]
            kinds["cycles"].add(e, same, (f"{age}, {DEVICES[r['device']]}, {start / 1000:.1f} to {end / 1000:.1f} s", m))
    return kinds


def text(x, y, words, size=13, anchor="start", fill=INK):
    words = str(words).replace("&", "&amp;").replace("<", "&lt;")
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="{fill}">{words}</text>'


def page(width, height, title, parts):
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" role="img">\n<title>{title}</title>\n'
            f'<rect width="{width}" height="{height}" fill="white"/>\n' + "\n".join(parts) + "\n</svg>\n")


def risk_page(kinds):
    left, top, width, height, most = 60, 20, 560, 320, 0.65
    x, y = (lambda v: left + (v - 0.2) / 0.8 * width), (lambda v: top + height * (1 - v / most))
    parts = []
    for v in np.arange(0, most, 0.1):
        parts += [f'<path d="M{left} {y(v):.1f}h{width}" stroke="{PALE}" stroke-width="0.5"/>', text(left - 8, y(v) + 4, f"{100 * v:.0f} %", 12, "end")]
    for v in (0.2, 0.4, 0.6, 0.8, 1.0):
        parts += [f'<path d="M{x(v):.1f} {top}v{height}" stroke="{PALE}" stroke-width="0.5"/>', text(x(v), top + height + 18, f"{100 * v:.0f} %", 12, "middle")]
    parts.append(text(left + width / 2, top + height + 38, "coverage: the surest labels first", 13, "middle"))
    parts.append(text(left, top - 6, "wrong labels", 13))
    for name, items in kinds.items():
        coverage, risk = items.curve()
        step = max(1, len(coverage) // 200)
        places = [*range(0, len(coverage) - 1, step), len(coverage) - 1]
        line = " ".join(f"{x(coverage[i]):.1f},{y(risk[i]):.1f}" for i in places)
        parts.append(f'<polyline points="{line}" fill="none" stroke="{STYLES[name]}" stroke-width="2"/>')
        parts.append(text(left + width + 8, y(risk[-1]) + 4, name, 13, fill=STYLES[name]))
    return page(800, top + height + 50, "Wrong labels against coverage, out of fold", parts)


def strip(y, spans, length_ms, given=None):
    """What was found along the recording; a line under the breath that an expert gave."""
    left, width = 20, 760
    parts = [f'<rect x="{left}" y="{y}" width="{width}" height="14" fill="none" stroke="{PALE}"/>']
    place = lambda v: left + width * min(v, length_ms) / length_ms
    for start, end, label in spans:
        parts.append(f'<rect x="{place(start):.1f}" y="{y}" width="{max(1, place(end) - place(start)):.1f}" height="14" fill="{FILLS[label]}"/>')
    if given:
        parts.append(f'<path d="M{place(given[0]):.1f} {y + 18}H{place(given[1]):.1f}" stroke="{INK}" stroke-width="3"/>')
    return parts


def false_page(kinds):
    parts, y = [], 24
    for k, (label, fill) in enumerate(FILLS.items()):
        parts += [f'<rect x="{20 + 108 * k}" y="8" width="12" height="12" fill="{fill}"/>', text(36 + 108 * k, 18, label, 11)]
    for name, items in kinds.items():
        y += 28
        parts.append(text(20, y, name, 14, fill=STYLES[name]))
        print(name)
        order, people = np.argsort(-np.array(items.sure)), set()
        for i in order:
            who, m, said, true = items.what[i]
            if not items.wrong[i] or m["recording"] in people or len(people) == 3:
                continue
            people.add(m["recording"])
            words = f"{who}: said {said['label']} ({100 * items.sure[i]:.0f} %), expert {true}"
            print("  ", words, "| found", [(e["start_ms"], e["end_ms"], e["label"]) for e in m["events"]][:8], "| quality", m["quality"]["reasons"],
                  "| can tell", m["verdict"]["can_tell"], {k: v for k, v in m["evidence"].items() if k.startswith(("peak", "crackle", "ridge", "breaths"))},
                  {k: said[k] for k in ("crackles", "tonal_share", "wheeze_hz") if k in said})
            parts.append(text(20, y + 20, words, 12))
            given = (said["start_ms"], said["end_ms"]) if "start_ms" in said else None
            parts += strip(y + 26, [(e["start_ms"], e["end_ms"], e["label"]) for e in m["events"]], 1000 * m["duration_s"], given)
            y += 46
    return page(800, y + 20, "The surest false verdicts of each kind, and what Phren found in these recordings", parts)


def main(children, adults, children_folder, adults_folder, out):
    kinds = gather(J.read_lines(children), J.read_lines(adults), children_folder, adults_folder)
    for name, items in kinds.items():
        print(f"{name}: {len(items.sure)} labels; wrong at 100, 90, 80, 60, 40 % coverage", [round(items.at(c), 3) for c in (1, 0.9, 0.8, 0.6, 0.4)])
    open(f"{out}/risk_coverage.svg", "w").write(risk_page(kinds))
    open(f"{out}/false_verdicts.svg", "w").write(false_page(kinds))


if __name__ == "__main__":
    main(*sys.argv[1:])
