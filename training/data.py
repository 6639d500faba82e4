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
        self.record_t = torch.tensor(self.record, device=device)
        self.dropped = np.array([name in DUPLICATES for name in self.names])

    def audio(self, index, length):
        return self.x[index, :length].float() / 32768


def crop(x, slots, most, generator):
    """Random windows of `most` samples; event times move along, cut events keep their visible part."""
    n = x.shape[0]
    start = torch.randint(0, x.shape[1] - most + 1, (n,), generator=generator, device=x.device)
    at = start[:, None] + torch.arange(most, device=x.device)[None]
    moved = slots.clone()
    shift = (start.float() / RATE * 1000)[:, None, None]
    span = most / RATE * 1000
    moved[..., :2] = (slots[..., :2] - shift).clamp(0, span)
    seen = (moved[..., 1] - moved[..., 0]) / (slots[..., 1] - slots[..., 0]).clamp(min=1)
    moved[..., 2] = torch.where(seen >= 0.6, slots[..., 2], torch.full_like(slots[..., 2], -1))
    return x.gather(1, at), moved


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
    spectrum = torch.fft.rfft(x)
    f = torch.linspace(0, RATE / 2, spectrum.shape[1], device=device)[None]
    knots = torch.randn(n, 1, 10, device=device) * 0.45 * strength  # about 4 dB each
    curve = F.interpolate(knots, size=spectrum.shape[1], mode="linear", align_corners=True)[:, 0]
    tilt = torch.randn(n, 1, device=device) * 0.4 * strength * torch.log2((f + 100) / 400)
    gain = torch.exp(curve + tilt)
    low = 450 + 1150 * torch.rand(n, 1, device=device)
    use = (torch.rand(n, 1, device=device) < 0.3 * strength).float()
    gain = gain * (1 - use + use / torch.sqrt(1 + (f / low) ** 8))
    high = 30 + 70 * torch.rand(n, 1, device=device)
    use = (torch.rand(n, 1, device=device) < 0.3 * strength).float()
    gain = gain * (1 - use + use / torch.sqrt(1 + (high / (f + 1)) ** 4))
    x = torch.fft.irfft(spectrum * gain, n=length)
    rms = x.pow(2).mean(1, keepdim=True).sqrt() + 1e-7
    colour = torch.randn(n, 1, device=device) * 0.5 - 0.5
    hiss = torch.fft.irfft(torch.fft.rfft(torch.randn_like(x)) * ((f + 20) / 400) ** colour, n=length)
    hiss = hiss / hiss.pow(2).mean(1, keepdim=True).sqrt()
    db = -5 - 35 * torch.rand(n, 1, device=device)
    use = (torch.rand(n, 1, device=device) < 0.4 * strength).float()
    x = x + use * hiss * rms * 10 ** (db / 20)
    if noise is not None:
        pick = noise[torch.randint(0, noise.shape[0], (n,), device=device), :length].float() / 32768
        pick = torch.roll(pick, int(np.random.randint(length)), 1)
        pick = pick / (pick.pow(2).mean(1, keepdim=True).sqrt() + 1e-7)
        db = -3 - 25 * torch.rand(n, 1, device=device)
        use = (torch.rand(n, 1, device=device) < 0.25 * strength).float()
        x = x + use * pick * rms * 10 ** (db / 20)
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
