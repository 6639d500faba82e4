"""Recordings, labels and augmentation. Everything lives on the device; a batch is made without loops over events."""
import csv
import os
import subprocess

import numpy as np
import torch
import torch.nn.functional as F

from network import EVENT_LABELS, RECORD_LABELS

RATE = 4000
SLOTS = 24  # events per recording at most (the data have 19)
DUPLICATES = {"41279835_14.1_0_p1_2945"}  # the same sound is among the kept-back recordings


def read_labels(folder):
    recordings = list(csv.DictReader(open(os.path.join(folder, "recordings.csv"))))
    events = {}
    for e in csv.DictReader(open(os.path.join(folder, "events.csv"))):
        events.setdefault(e["recording"], []).append(
            (int(e["start_ms"]), int(e["end_ms"]), EVENT_LABELS.index(e["event_label"])))
    return recordings, events


def unpack(folder, raw):
    """Decodes the packed 4 kHz audio once (see pack.py) so that every process can map it."""
    if not os.path.exists(raw):
        environment = dict(os.environ, LD_LIBRARY_PATH=folder)
        subprocess.run([os.path.join(folder, "flacbin"), "-s", "-d", "-f", "--force-raw-format", "--endian=little",
                        "--sign=signed", "-o", raw + ".tmp", os.path.join(folder, "a.flac")], check=True, env=environment)
        os.rename(raw + ".tmp", raw)


class Data:
    def __init__(self, folder, raw, device, limit=None):
        recordings, events = read_labels(folder)
        lengths = np.load(os.path.join(folder, "len.npy"))
        samples = np.memmap(raw, "<i2", "r")
        starts = np.concatenate([[0], np.cumsum(lengths)])
        if limit:
            recordings = recordings[:limit]
        n, longest = len(recordings), int(lengths.max())
        x = np.zeros((n, longest), np.int16)
        for i in range(n):
            x[i, :lengths[i]] = samples[starts[i]:starts[i + 1]]
        slots = np.full((n, SLOTS, 3), -1, np.float32)
        for i, r in enumerate(recordings):
            for j, e in enumerate(sorted(events.get(r["recording"], []))):
                slots[i, j] = e
        self.device = device
        self.names = [r["recording"] for r in recordings]
        self.patients = np.array([r["patient"] for r in recordings])
        self.folds = np.array([int(r["fold"]) for r in recordings])
        self.record = np.array([RECORD_LABELS.index(r["record_label"]) for r in recordings])
        self.lengths = lengths[:n]
        self.x = torch.tensor(x, device=device)
        self.slots = torch.tensor(slots, device=device)
        self.lengths_t = torch.tensor(self.lengths, device=device)
        self.record_t = torch.tensor(self.record, device=device)
        self.dropped = np.array([name in DUPLICATES for name in self.names])

    def audio(self, index, length):
        return self.x[index, :length].float() / 32768


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
