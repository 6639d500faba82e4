"""Trains one network on all folds but the held-out ones and predicts the held-out ones."""
import time

import numpy as np
import torch
import torch.nn.functional as F

import data as D
from frontend import FrontEnd, HOP
from network import EVENT_LABELS, FRAME_MS, Network
from score import calibration_error, event_scores, record_scores

SHORT = 36864  # samples of the 9.2 s recordings


def soft_cross_entropy(logits, target, weight):
    return -(target * weight * F.log_softmax(logits, -1)).sum(-1)


def one_hot(y, k, smooth):
    return torch.full((len(y), k), smooth / k, device=y.device).scatter_(1, y[:, None], 1 - smooth + smooth / k)


def class_weights(counts, power, cap):
    w = (counts.max() / np.maximum(counts, 1)) ** power
    return np.minimum(w, cap)


class Trainer:
    def __init__(self, data, held, config, seed=0, epochs=40, batch=32, rate=2e-3, decay=0.02, drop=0.2, strength=1.0,
                 band_norm=False, use_duration=False, smooth=0.05, weight_power=0.5, balance=0.5, soft=None,
                 soft_weight=0.6, frame_weight=0.3, record_weight=0.5, mix=0.0, amp=True):
        torch.manual_seed(seed)
        np.random.seed(seed)
        self.__dict__.update(data=data, epochs=epochs, batch=batch, strength=strength, smooth=smooth, soft=soft,
                             soft_weight=soft_weight, frame_weight=frame_weight, record_weight=record_weight, mix=mix)
        self.device = data.device
        keep = ~np.isin(data.folds, held) & ~data.dropped
        self.index = np.where(keep)[0]
        self.front = FrontEnd(self.device)
        self.net = Network(config, drop, band_norm, use_duration).to(self.device)
        self.amp = amp and self.device != "cpu"
        slots = data.slots[torch.tensor(self.index, device=self.device)]
        c = slots[..., 2].long()
        counts = np.bincount(c[c >= 0].cpu().numpy(), minlength=len(EVENT_LABELS))
        tensor = lambda a: torch.tensor(a, dtype=torch.float32, device=self.device)
        self.event_weight = tensor(class_weights(counts, weight_power, 10))
        self.record_weight_c = tensor(class_weights(np.bincount(data.record[self.index], minlength=5), weight_power, 10))
        per_patient = {p: n for p, n in zip(*np.unique(data.patients[self.index], return_counts=True))}
        self.chance = np.array([per_patient[p] ** -balance for p in data.patients[self.index]])
        poor = self.index[data.record[self.index] == 4]
        self.noise = data.x[torch.tensor(poor, device=self.device)]
        self.steps = epochs * (len(self.index) // batch)
        self.opt = torch.optim.AdamW(self.net.parameters(), lr=rate, weight_decay=decay)
        self.schedule = torch.optim.lr_scheduler.OneCycleLR(self.opt, rate, total_steps=self.steps + 1, pct_start=0.15)
        self.average = None

    def batches(self):
        n = len(self.index)
        long = self.data.lengths[self.index] > SHORT
        for _ in range(self.epochs):
            draw = np.random.choice(n, n, p=self.chance / self.chance.sum())
            whole = long[draw] & (np.random.rand(n) < 0.6)
            groups = []
            for flag, length in ((True, int(self.data.lengths.max())), (False, SHORT)):
                items = self.index[draw[whole == flag]]
                groups += [(items[k:k + self.batch], length) for k in range(0, len(items), self.batch)]
            np.random.shuffle(groups)
            for items, length in groups:
                if len(items) >= 8:
                    yield items, length

    def make(self, items, length):
        """Audio, events and record labels of one batch; long recordings are cropped where the batch is short."""
        i = torch.tensor(items, device=self.device)
        slots, record, full = self.data.slots[i], self.data.record_t[i].clone(), torch.ones(len(i), device=self.device)
        if length == SHORT:
            x = self.data.x[i].float() / 32768
            long = torch.tensor(self.data.lengths[items] > SHORT, device=self.device)
            cut, moved = D.crop(x, slots, SHORT, None)
            x = torch.where(long[:, None], cut, x[:, :SHORT])
            slots = torch.where(long[:, None, None], moved, slots)
            implied = D.record_from_events(slots)
            record = torch.where(long & (record != 4), implied, record)
            full = (~long).float()
        else:
            x = self.data.audio(i, length)
        return i, x, slots, record, full

    def features(self, x, slots):
        x = D.augment(x, self.noise, self.strength)
        if np.random.rand() < 0.5 * self.strength:  # speed, hence pitch, by up to 4 %
            s = np.random.uniform(0.96, 1.04)
            x = F.interpolate(x[:, None], scale_factor=s, mode="linear", align_corners=False)[:, 0]
            slots = torch.cat([slots[..., :2] * s, slots[..., 2:]], -1)
        f = self.front(x)
        if np.random.rand() < 0.5 * self.strength:  # tempo, pitch unchanged
            s = np.random.uniform(0.87, 1.15)
            size = int(round(f.shape[3] * s))
            slots = torch.cat([slots[..., :2] * (size / f.shape[3]), slots[..., 2:]], -1)
            f = F.interpolate(f, size=(f.shape[2], size), mode="bilinear", align_corners=False)
        return D.mask(f), slots

    def loss(self, items, length):
        i, x, slots, record, full = self.make(items, length)
        with torch.no_grad():
            f, slots = self.features(x, slots)
        with torch.autocast("cuda" if self.amp else "cpu", torch.bfloat16, enabled=self.amp):
            g = self.net(f)
        g = g.float()
        c = slots[..., 2].long()
        piece, slot = torch.where(c >= 0)
        total = 0.0
        if len(piece):
            start, end = slots[piece, slot, 0] / FRAME_MS, slots[piece, slot, 1] / FRAME_MS
            spread = (end - start) * 0.08
            start = (start + spread * (2 * torch.rand_like(start) - 1)).clamp(min=0)
            end = (end + spread * (2 * torch.rand_like(end) - 1)).clamp(max=g.shape[1])
            start = torch.minimum(start, end - 3).clamp(min=0)
            logits = self.net.events(g, piece, start, torch.maximum(end, start + 3))
            hard = one_hot(c[piece, slot], len(EVENT_LABELS), self.smooth)
            each = soft_cross_entropy(logits, hard, self.event_weight)
            if self.soft:
                teach = soft_cross_entropy(logits, self.soft["event"][i[piece], slot], 1.0) * 1.5
                each = (1 - self.soft_weight) * each + self.soft_weight * teach
            total = total + each.mean()
        logits = self.net.record(g)
        hard = one_hot(record.clamp(min=0), 5, self.smooth)
        each = soft_cross_entropy(logits, hard, self.record_weight_c)
        if self.soft:
            teach = soft_cross_entropy(logits, self.soft["record"][i], 1.0) * 1.5
            w = self.soft_weight * full
            each = (1 - w) * each + w * teach
        total = total + self.record_weight * (each * (record >= 0)).mean()
        target = D.frame_targets(slots, g.shape[1], self.device)
        each = F.binary_cross_entropy_with_logits(self.net.frame(g), target, reduction="none").mean((1, 2))
        return total + self.frame_weight * 2 * (each * (record != 4)).mean() + 0.02 * (each * (record == 4)).mean()

    def run(self):
        self.net.train()
        begun, step = time.time(), 0
        for items, length in self.batches():
            if step >= self.steps:
                break
            loss = self.loss(items, length)
            self.opt.zero_grad(set_to_none=True)
            loss.backward()
            torch.nn.utils.clip_grad_norm_(self.net.parameters(), 2.0)
            self.opt.step()
            self.schedule.step()
            step += 1
            if step > self.steps * 0.3:
                self.follow()
        self.net.load_state_dict(self.average)
        self.net.eval()
        self.seconds = time.time() - begun
        return self.net

    @torch.no_grad()
    def follow(self, keep=0.998):
        """Moving average of the weights."""
        now = self.net.state_dict()
        if self.average is None:
            self.average = {k: v.clone() for k, v in now.items()}
            return
        floats = [k for k, v in now.items() if v.dtype.is_floating_point]
        torch._foreach_mul_([self.average[k] for k in floats], keep)
        torch._foreach_add_([self.average[k] for k in floats], [now[k] for k in floats], alpha=1 - keep)


@torch.no_grad()
def predict(net, data, index, front, batch=32):
    """Logits of every recording in index: {i: (event logits, record logits, frame logits)}; whole recordings."""
    net.eval()
    out = {}
    for length in np.unique(data.lengths[index]):
        same = index[data.lengths[index] == length]
        for k in range(0, len(same), batch):
            items = torch.tensor(same[k:k + batch], device=data.device)
            g = net(front(data.audio(items, int(length)))).float()
            slots = data.slots[items]
            piece, slot = torch.where(slots[..., 2] >= 0)
            events = torch.zeros(0, len(EVENT_LABELS))
            if len(piece):
                start = slots[piece, slot, 0] / FRAME_MS
                end = (slots[piece, slot, 1] / FRAME_MS).clamp(max=g.shape[1])
                start = torch.minimum(start, end - 3).clamp(min=0)
                events = net.events(g, piece, start, torch.maximum(end, start + 3)).cpu()
            record, frame = net.record(g).cpu().numpy(), net.frame(g).cpu().numpy()
            piece = piece.cpu().numpy()
            for j, i in enumerate(same[k:k + batch]):
                out[int(i)] = (events.numpy()[piece == j], record[j], frame[j])
    return out


def summary(data, out):
    index = sorted(out)
    slots = data.slots.cpu().numpy()
    truth = np.concatenate([slots[i][slots[i][:, 2] >= 0, 2] for i in index]).astype(int)
    logits = np.concatenate([out[i][0] for i in index])
    record = np.stack([out[i][1] for i in index])
    s = event_scores(truth, logits.argmax(1))
    s.update(record_scores(data.record[index], record.argmax(1)))
    soft = lambda v: np.exp(v - v.max(1, keepdims=True)) / np.exp(v - v.max(1, keepdims=True)).sum(1, keepdims=True)
    s["ece"] = (calibration_error(soft(logits), truth), calibration_error(soft(record), data.record[index]))
    return s
