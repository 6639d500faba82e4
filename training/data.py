"""Recordings, labels and augmentation. Everything lives on the device; a batch is made without loops over events."""
import csv
import os
import subprocess

import numpy as np
import torch
import torch.nn.functional as F

from network import EVENT_LABELS, EVENT_RATERS, RECORD_LABELS

RATE = 4000
SLOTS = 64  # events per recording at most
DUPLICATES = {"41279835_14.1_0_p1_2945"}  # the same sound is among the kept-back recordings


CYCLE_LABELS = {("0", "0"): "Normal", ("0", "1"): "Wheeze", ("1", "0"): "Fine Crackle", ("1", "1"): "Wheeze+Crackle"}


def adult_folds(recordings):
    """Five folds by person, each with its share of every set, device and label."""
    people = {}
    for r in recordings:
        people.setdefault(r["person"], []).append(r)
    key = lambda p: (people[p][0]["set"], people[p][0]["record_label"], people[p][0]["device"], p)
    return {p: n % 5 for n, p in enumerate(sorted(people, key=key))}


def read_labels(folder):
    """All recordings as (name, person, fold, kind, record label or -1), and the events of each."""
    recordings, events = [], {}
    for r in csv.DictReader(open(os.path.join(folder, "c_recordings.csv"))):
        recordings.append((r["recording"], r["patient"], int(r["fold"]), 0, RECORD_LABELS.index(r["record_label"])))
    for e in csv.DictReader(open(os.path.join(folder, "c_events.csv"))):
        events.setdefault(e["recording"], []).append(
            (int(e["start_ms"]), int(e["end_ms"]), EVENT_LABELS.index(e["event_label"])))
    adults = list(csv.DictReader(open(os.path.join(folder, "a_recordings.csv"))))
    folds = adult_folds(adults)
    for r in adults:
        label = RECORD_LABELS.index(r["record_label"]) if r["record_label"] in RECORD_LABELS else -1
        recordings.append((r["recording"], r["person"], folds[r["person"]], 1 if r["set"] == "K" else 2, label))
    for e in csv.DictReader(open(os.path.join(folder, "a_cycles.csv"))):
        events.setdefault(e["recording"], []).append(
            (int(e["start_ms"]), int(e["end_ms"]), EVENT_LABELS.index(CYCLE_LABELS[e["crackle"], e["wheeze"]])))
    return recordings, events


def unpack(folder, raw):
    """Decodes the packed 4 kHz audio once (see pack.py) so that every process can map it."""
    if not os.path.exists(raw):
        environment = dict(os.environ, LD_LIBRARY_PATH=folder)
        subprocess.run([os.path.join(folder, "flacbin"), "-s", "-d", "-f", "--force-raw-format", "--endian=little",
                        "--sign=signed", "-o", raw + ".tmp", os.path.join(folder, "a.flac")], check=True, env=environment)
        os.rename(raw + ".tmp", raw)


class Data:
    def __init__(self, folder, raw, device, every=1):
        recordings, events = read_labels(folder)
        lengths = np.load(os.path.join(folder, "len.npy"))
        samples = np.memmap(raw, "<i2", "r")
        starts = np.concatenate([[0], np.cumsum(lengths)])
        chosen = np.arange(0, len(recordings), every)
        recordings = [recordings[i] for i in chosen]
        lengths = lengths[chosen] * 4 // 3  # packed at 3 kHz, used at 4 kHz
        n, longest = len(recordings), int(lengths.max())
        slots = np.full((n, SLOTS, 3), -1, np.float32)
        for i, r in enumerate(recordings):
            for j, e in enumerate(sorted(events.get(r[0], []))[:SLOTS]):
                slots[i, j] = e
        self.device = device
        self.names, self.patients = [r[0] for r in recordings], np.array([r[1] for r in recordings])
        self.folds, self.kind, self.record = (np.array([r[k] for r in recordings]) for k in (2, 3, 4))
        self.lengths = lengths
        self.x = torch.zeros(n, longest, dtype=torch.int16, device=device)
        for i in range(n):
            at = chosen[i]
            self.x[i, :lengths[i]] = to_4k(torch.tensor(samples[starts[at]:starts[at + 1]].astype(np.float32), device=device))[:lengths[i]]
        self.slots, self.slots_host = torch.tensor(slots, device=device), slots
        self.lengths_t = torch.tensor(self.lengths, device=device)
        self.record_t = torch.tensor(self.record, device=device)
        self.kind_t = torch.tensor(self.kind, device=device)
        self.raters_t = torch.tensor(np.array(EVENT_RATERS)[self.kind], device=device)
        self.dropped = np.array([name in DUPLICATES for name in self.names])

    def audio(self, index, length):
        return self.x[index, :length].float() / 32768


def to_4k(x):
    """From 3 kHz to 4 kHz: zeros added to the spectrum (there is nothing above 1.35 kHz)."""
    n = x.shape[0] // 3 * 3
    spectrum = torch.fft.rfft(x[:n])
    room = torch.zeros(n * 4 // 3 // 2 + 1, dtype=spectrum.dtype, device=x.device)
    room[:spectrum.shape[0]] = spectrum
    y = torch.fft.irfft(room, n=n * 4 // 3) * (4 / 3)
    out = torch.zeros(x.shape[0] * 4 // 3 + 4, dtype=torch.int16, device=x.device)
    out[:y.shape[0]] = y.round().clamp(-32768, 32767).to(torch.int16)
    return out


def window(data, items, length, speed, start):
    """Reads `length` samples of each recording from `start`, `speed` times as fast, wrapping at its end. Returns audio,
    event times moved along (an event less than 60 % visible loses its label) and the valid length in ms."""
    own = data.lengths_t[items].float()
    at = torch.arange(length, device=data.device, dtype=torch.float32)[None] * speed + start
    whole = at.floor()
    part = at - whole
    wrap = lambda p: torch.remainder(p, own[:, None]).long()
    x = data.x[items[:, None], wrap(whole)].float() * (1 - part) + data.x[items[:, None], wrap(whole + 1)].float() * part
    slots = data.slots[items]
    span = length / RATE * 1000
    times = ((slots[..., :2] - start[..., None] / RATE * 1000) / speed[..., None]).clamp(0, span)
    seen = (times[..., 1] - times[..., 0]) * speed / (slots[..., 1] - slots[..., 0]).clamp(min=1)
    label = torch.where(seen >= 0.6, slots[..., 2], torch.full_like(seen, -1))
    valid = ((own[:, None] - start) / speed / RATE * 1000).clamp(max=span)
    return x / 32768, torch.cat([times, label[..., None]], -1), valid[:, 0]


def tempo(f, slots, valid, factor):
    """Plays the planes `factor` times as fast (pitch unchanged), wrapping at the end; event times follow."""
    n, planes, bands, frames = f.shape
    at = torch.arange(frames, device=f.device, dtype=torch.float32)[None] * factor
    whole = at.floor()
    part = (at - whole)[:, None, None]
    pick = lambda p: f.gather(3, torch.remainder(p, frames).long()[:, None, None].expand(n, planes, bands, frames))
    f = pick(whole) * (1 - part) + pick(whole + 1) * part
    span = frames * 20.0
    times = (slots[..., :2] / factor[..., None]).clamp(0, span)
    seen = (times[..., 1] - times[..., 0]) * factor / (slots[..., 1] - slots[..., 0]).clamp(min=1)
    label = torch.where(seen >= 0.6, slots[..., 2], torch.full_like(seen, -1))
    return f, torch.cat([times, label[..., None]], -1), (valid / factor[:, 0]).clamp(max=span)


def record_from_events(slots):
    """The record label that the events imply; -1 where no event is left."""
    c = slots[..., 2]
    continuous = ((c == 1) | (c == 2) | (c == 3) | (c == 6)).any(1)
    crackle = ((c == 4) | (c == 5) | (c == 6)).any(1)
    label = continuous.long() + 2 * crackle.long()
    return torch.where((c >= 0).any(1), label, torch.full_like(label, -1))


def augment(x, noise, strength=1.0):
    """Other microphones and rooms: smooth equaliser, band limits, real and synthetic noise. Level needs nothing
    (the front end removes it)."""
    n, length = x.shape
    device = x.device
    chance = lambda p: (torch.rand(n, 1, device=device) < p * strength).float()
    spectrum = torch.fft.rfft(x)
    f = torch.linspace(0, RATE / 2, spectrum.shape[1], device=device)[None]
    knots = torch.randn(n, 1, 10, device=device) * 0.45 * strength  # about 4 dB each at full strength
    curve = F.interpolate(knots, size=spectrum.shape[1], mode="linear", align_corners=True)[:, 0]
    tilt = torch.randn(n, 1, device=device) * 0.4 * strength * torch.log2((f + 100) / 400)
    gain = torch.exp(curve + tilt)
    low, use = 450 + 1150 * torch.rand(n, 1, device=device), chance(0.3)
    gain = gain * (1 - use + use / torch.sqrt(1 + (f / low) ** 8))
    high, use = 30 + 70 * torch.rand(n, 1, device=device), chance(0.3)
    gain = gain * (1 - use + use / torch.sqrt(1 + (high / (f + 1)) ** 4))
    rms = x.pow(2).mean(1, keepdim=True).sqrt() + 1e-7
    colour = torch.randn(n, 1, device=device) * 0.5 - 0.5
    hiss = torch.fft.irfft(torch.fft.rfft(torch.randn_like(x)) * ((f + 20) / 400) ** colour, n=length)
    hiss = hiss / (hiss.pow(2).mean(1, keepdim=True).sqrt() + 1e-7)
    x = torch.fft.irfft(spectrum * gain, n=length)
    x = x + chance(0.4) * hiss * rms * 10 ** ((-5 - 35 * torch.rand(n, 1, device=device)) / 20)
    if noise is not None:
        which = torch.randint(0, noise.shape[0], (n,), device=device)
        at = torch.arange(length, device=device)[None] + torch.randint(0, 30000, (n, 1), device=device)
        pick = noise[which[:, None], torch.remainder(at, 36864)].float() / 32768
        pick = pick / (pick.pow(2).mean(1, keepdim=True).sqrt() + 1e-7)
        x = x + chance(0.2) * pick * rms * 10 ** ((-3 - 25 * torch.rand(n, 1, device=device)) / 20)
    # thumps of the hand: a few damped low tones
    at = torch.arange(length, device=device)[None] / RATE
    for _ in range(2):
        t = (at - torch.rand(n, 1, device=device) * length / RATE).clamp(min=0)
        thump = torch.exp(-t * (15 + 40 * torch.rand(n, 1, device=device))) * torch.sin(
            2 * np.pi * (25 + 70 * torch.rand(n, 1, device=device)) * t)
        x = x + chance(0.2) * thump * rms * (2 + 10 * torch.rand(n, 1, device=device))
    # a recorder driven too hard
    limit = rms * (2.0 + 3 * torch.rand(n, 1, device=device))
    use = chance(0.15)
    x = x * (1 - use) + torch.maximum(torch.minimum(x, limit), -limit) * use
    return x


def mask(f, bands=8, frames=12):
    """Hides random bands and short stretches of time, per piece, with the piece's mean."""
    n, _, b, t = f.shape
    device = f.device
    hide = torch.zeros(n, 1, b, t, dtype=torch.bool, device=device)
    for _ in range(2):
        width = torch.rand(n, 1, device=device) * bands
        start = torch.rand(n, 1, device=device) * (b - width)
        at = torch.arange(b, device=device)[None]
        hide |= ((at >= start) & (at < start + width))[:, None, :, None]
        width = torch.rand(n, 1, device=device) * frames
        start = torch.rand(n, 1, device=device) * (t - width)
        at = torch.arange(t, device=device)[None]
        hide |= ((at >= start) & (at < start + width))[:, None, None, :]
    return torch.where(hide, f.mean((2, 3), keepdim=True), f)


def frame_targets(slots, frames, device):
    """pieces x frames x 5: presence, onset, offset (soft over 60 ms), continuous, crackle."""
    t = (torch.arange(frames, device=device) * 40.0)[None, None]
    real = (slots[..., 1] > slots[..., 0])[..., None]
    start, end, c = slots[..., 0:1], slots[..., 1:2], slots[..., 2:3]
    inside = (t >= start) & (t < end) & real
    presence = inside.any(1).float()
    onset = torch.where(real, torch.exp(-0.5 * ((t - start) / 60) ** 2), 0 * t).amax(1)
    offset = torch.where(real, torch.exp(-0.5 * ((t + 40 - end) / 60) ** 2), 0 * t).amax(1)
    continuous = (inside & ((c == 1) | (c == 2) | (c == 3) | (c == 6))).any(1).float()
    crackle = (inside & ((c == 4) | (c == 5) | (c == 6))).any(1).float()
    return torch.stack([presence, onset, offset, continuous, crackle], -1)
