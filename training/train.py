"""Trains networks on all folds but the held-out ones and predicts those.

A training step has fixed shapes and never waits for the host, so on an accelerator it is captured once as a graph and
replayed; several networks then train side by side, each on its own stream. On a CPU the same step runs as it is.
All parameters live in one flat vector (so do gradients and running means), which keeps the optimiser to a few kernels.
"""
import time

import numpy as np
import torch
import torch.nn.functional as F

import data as D
from frontend import FrontEnd
from network import EVENT_LABELS, FRAME_MS, Network
from score import calibration_error, event_scores, record_scores

SHORT, LONG = 36864, 61440  # samples of the 9.2 s recordings and of the 15.4 s ones (cut by a few)


def smoothed(y, k, smooth):
    return (y[:, None] == torch.arange(k, device=y.device)).float() * (1 - smooth) + smooth / k


def cross_entropy(logits, target):
    return -(target * F.log_softmax(logits, -1)).sum(-1)


class Trainer:
    def __init__(self, data, held, config, seed=0, epochs=40, batch=32, rate=2e-3, decay=0.02, drop=0.2, strength=0.4,
                 band_norm=True, smooth=0.05, weight_power=0.5, weight_cap=6.0, balance=0.5, soft=None, soft_weight=0.6,
                 frame_weight=1.0, record_weight=0.7, noise=True, keep=0.998, jitter=0.08, stretch=0.12):
        torch.manual_seed(seed)
        rng = np.random.default_rng(seed)
        self.__dict__.update(data=data, batch=batch, strength=strength, smooth=smooth, soft=soft, soft_weight=soft_weight,
                             frame_weight=frame_weight, record_weight=record_weight, keep=keep, jitter=jitter,
                             stretch=stretch)
        self.device = data.device
        usable = ~np.isin(data.folds, held) & ~data.dropped & (data.lengths >= SHORT)
        self.index = np.where(usable)[0]
        self.front = FrontEnd(self.device)
        self.net = Network(config, drop, band_norm).to(self.device).train()
        tensor = lambda a, t=torch.float32: torch.tensor(np.asarray(a), dtype=t, device=self.device)
        classes = data.slots[tensor(self.index, torch.long)][..., 2].long()
        counts = np.bincount(classes[classes >= 0].cpu().numpy(), minlength=len(EVENT_LABELS))
        weigh = lambda n: tensor(np.minimum((n.max() / np.maximum(n, 1)) ** weight_power, weight_cap))
        self.event_weight, self.record_class = weigh(counts), weigh(np.bincount(data.record[self.index], minlength=5))
        poor = self.index[data.record[self.index] == 4]
        self.noise = data.x[tensor(poor, torch.long)] if noise and len(poor) else None
        self.plan(rng, epochs, balance, tensor)
        self.steps = len(self.order)
        warm = max(int(0.15 * self.steps), 1)
        s = np.arange(self.steps + 1)
        curve = np.where(s < warm, 0.04 + 0.96 * s / warm, 0.5 + 0.5 * np.cos(np.pi * (s - warm) / (self.steps - warm)))
        self.rates = tensor(rate * np.maximum(curve, 1e-3))
        self.follows = tensor(np.where(s > 0.3 * self.steps, keep, 0.0))
        self.decay = decay
        self.flatten()

    def plan(self, rng, epochs, balance, tensor):
        """Every batch of the whole training, drawn ahead: patients with many recordings are drawn less often."""
        patients = self.data.patients[self.index]
        count = dict(zip(*np.unique(patients, return_counts=True)))
        chance = np.array([count[p] ** -balance for p in patients])
        chance /= chance.sum()
        tables, self.order = ([], []), []
        n = len(self.index)
        for _ in range(epochs):
            draw = rng.choice(n, n, p=chance)
            whole = (self.data.lengths[self.index[draw]] >= LONG) & (rng.random(n) < 0.6)
            mine = []
            for kind in (0, 1):
                items = self.index[draw[whole == bool(kind)]]
                for k in range(0, len(items) - self.batch + 1, self.batch):
                    mine.append((kind, items[k:k + self.batch]))
            for j in rng.permutation(len(mine)):
                tables[mine[j][0]].append(mine[j][1])
                self.order.append(mine[j][0])
        empty = [self.index[:1].repeat(self.batch)]
        self.tables = [tensor(t or empty, torch.long) for t in tables]
        self.cursor = [torch.zeros(1, dtype=torch.long, device=self.device) for _ in tables]
        self.clock = torch.zeros(1, dtype=torch.long, device=self.device)

    def flatten(self):
        """One vector for all parameters, one for their gradients, one for the running statistics."""
        params = list(self.net.parameters())
        self.flat = torch.cat([p.data.flatten() for p in params])
        self.grad = torch.zeros_like(self.flat)
        at = 0
        for p in params:
            k = p.numel()
            p.data, p.grad = self.flat[at:at + k].view_as(p), self.grad[at:at + k].view_as(p)
            at += k
        self.plain = torch.cat([torch.full((p.numel(),), float(p.dim() > 1), device=self.device) for p in params])
        owners = [(m, k) for m in self.net.modules() for k in ("running_mean", "running_var") if k in m._buffers]
        self.stats = torch.cat([m._buffers[k].flatten() for m, k in owners])
        at = 0
        for m, k in owners:
            size = m._buffers[k].numel()
            m._buffers[k] = self.stats[at:at + size]
            at += size
        self.first, self.second = torch.zeros_like(self.flat), torch.zeros_like(self.flat)
        self.mean_flat, self.mean_stats = torch.zeros_like(self.flat), torch.zeros_like(self.stats)

    def draw(self, kind):
        """One batch: planes, events, record labels, frames that count."""
        length, n, device = (SHORT, LONG)[kind], self.batch, self.device
        items = self.tables[kind].index_select(0, self.cursor[kind])[0]
        long = (self.data.lengths_t[items] >= LONG)
        vary = lambda spread, p: torch.exp((torch.rand(n, 1, device=device) < p).float()
                                           * (2 * torch.rand(n, 1, device=device) - 1) * spread)
        room = (self.data.lengths_t[items] - length).clamp(min=0)[:, None].float()
        start = (torch.rand(n, 1, device=device) * room).floor()
        speed, factor = vary(0.04, 0.5), vary(self.stretch, 0.5)
        x, slots, valid = D.window(self.data, items, length, speed, start)
        f = self.front(D.augment(x, self.noise, self.strength))
        f, slots, valid = D.tempo(f, slots, valid, factor)
        record = self.data.record_t[items]
        if kind == 0:  # a window of a long recording has the label that its own events imply
            record = torch.where(long & (record != 4), D.record_from_events(slots), record)
        places = (torch.arange((f.shape[3] + 1) // 2, device=device)[None] * factor * speed
                  + start / D.RATE * 1000 / FRAME_MS)  # frames of the whole recording
        return items, D.mask(f), slots, record, valid, (~long if kind == 0 else long).float(), places

    def loss(self, kind):
        items, f, slots, record, valid, full, places = self.draw(kind)
        with torch.autocast("cuda" if self.device != "cpu" else "cpu", torch.bfloat16, enabled=self.device != "cpu",
                            cache_enabled=False):
            g = self.net(f)
        g = g.float()
        n, k = self.batch, len(EVENT_LABELS)
        # a fixed number of events, drawn from those there are
        label = slots[..., 2].flatten()
        pick = torch.rand_like(label).add(2.0 * (label >= 0)).topk((5, 8)[kind] * n).indices
        there, c = (label[pick] >= 0).float(), label[pick].long().clamp(min=0)
        piece = torch.div(pick, D.SLOTS, rounding_mode="floor")
        times = slots.reshape(-1, 3)[pick] / FRAME_MS
        spread = (times[:, 1] - times[:, 0]) * self.jitter
        start = (times[:, 0] + spread * (2 * torch.rand_like(spread) - 1)).clamp(min=0)
        end = (times[:, 1] + spread * (2 * torch.rand_like(spread) - 1)).clamp(max=g.shape[1])
        start = torch.minimum(start, end - 3).clamp(min=0)
        logits = self.net.events(g, piece, start, torch.maximum(end, start + 3))
        each = cross_entropy(logits, smoothed(c, k, self.smooth)) * self.event_weight[c]
        if self.soft:
            taught = cross_entropy(logits, self.soft["event"][items].reshape(-1, k)[pick])
            each = (1 - self.soft_weight) * each + self.soft_weight * taught * 1.4
        total = (each * there).sum() / there.sum().clamp(min=1)
        logits = self.net.record(g)
        y = record.clamp(min=0)
        each = cross_entropy(logits, smoothed(y, 5, self.smooth)) * self.record_class[y] * (record >= 0)
        if self.soft:
            w = self.soft_weight * full
            each = (1 - w) * each + w * cross_entropy(logits, self.soft["record"][items]) * 1.4
        total = total + self.record_weight * each.mean()
        target = D.frame_targets(slots, g.shape[1], self.device)
        if self.soft:
            taught = self.soft["frame"]
            at = places.round().long().clamp(0, taught.shape[1] - 1)
            target = (1 - self.soft_weight) * target + self.soft_weight * taught[items[:, None], at]
        each = F.binary_cross_entropy_with_logits(self.net.frame(g), target, reduction="none").mean(2)
        time_ms = torch.arange(g.shape[1], device=self.device)[None] * FRAME_MS
        counts = (time_ms < valid[:, None]) * torch.where(record == 4, 0.2, 1.0)[:, None]
        return total + self.frame_weight * (each * counts).mean()

    def step(self, kind):
        self.grad.zero_()
        loss = self.loss(kind)
        loss.backward()
        with torch.no_grad():
            g = self.grad * (2.0 / (self.grad.norm() + 1e-6)).clamp(max=1.0)
            self.clock += 1
            t = self.clock.float()
            self.first.mul_(0.9).add_(g, alpha=0.1)
            self.second.mul_(0.99).addcmul_(g, g, value=0.01)
            rate = self.rates.index_select(0, self.clock)
            change = (self.first / (1 - 0.9 ** t)) / ((self.second / (1 - 0.99 ** t)).sqrt() + 1e-8)
            self.flat.sub_(rate * (change + self.decay * self.plain * self.flat))
            keep = self.follows.index_select(0, self.clock)
            self.mean_flat.mul_(keep).add_(self.flat * (1 - keep))
            self.mean_stats.mul_(keep).add_(self.stats * (1 - keep))
            self.cursor[kind] += 1
        return loss

    def capture(self):
        """Two steps of each kind as they are (they count), then the graphs."""
        self.stream, self.graphs, self.at = torch.cuda.Stream(self.device), {}, 0
        done = {}
        ahead = list(self.order)
        with torch.cuda.stream(self.stream):
            for kind in sorted(set(ahead)):
                for _ in range(2):
                    self.step(kind)
                    ahead.remove(kind)
                done[kind] = True
        self.order = ahead
        self.stream.synchronize()
        pool = None
        for kind in done:
            graph = torch.cuda.CUDAGraph()
            with torch.cuda.graph(graph, pool=pool, stream=self.stream):
                self.step(kind)
            pool = graph.pool()
            self.graphs[kind] = graph

    def replay(self, n):
        with torch.cuda.stream(self.stream):
            self.graphs[self.order[n]].replay()

    def finish(self):
        """Weights become their moving average."""
        self.flat.copy_(self.mean_flat)
        self.stats.copy_(self.mean_stats)
        self.net.eval()
        return self.net


def train_together(trainers, deadline, log=None):
    """Trains several at once. Returns seconds, or None when the deadline passed first."""
    begun = time.time()
    if trainers[0].device == "cpu":
        for t in trainers:
            for kind in t.order:
                t.step(kind)
    else:
        for t in trainers:
            t.capture()
        if log:
            log(f"captured {len(trainers)} in {time.time() - begun:.1f} s, {torch.cuda.memory_reserved() / 2**30:.1f} GiB")
        most, start = max(len(t.order) for t in trainers), time.time()
        for n in range(most):
            for t in trainers:
                if n < len(t.order):
                    t.replay(n)
            if n % 40 == 39:
                torch.cuda.synchronize()
                if n == 199 and log:
                    log(f"{(n + 1) * len(trainers) / (time.time() - start):.0f} steps/s over {len(trainers)} networks")
                if time.time() > deadline:
                    return None
        torch.cuda.synchronize()
    for t in trainers:
        t.finish()
    return time.time() - begun


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


def softmax(v):
    e = np.exp(v - v.max(-1, keepdims=True))
    return e / e.sum(-1, keepdims=True)


def summary(data, out):
    index = sorted(out)
    slots = data.slots.cpu().numpy()
    truth = np.concatenate([slots[i][slots[i][:, 2] >= 0, 2] for i in index]).astype(int)
    logits = np.concatenate([out[i][0] for i in index])
    record = np.stack([out[i][1] for i in index])
    s = event_scores(truth, logits.argmax(1))
    s.update(record_scores(data.record[index], record.argmax(1)))
    s["ece"] = (calibration_error(softmax(logits), truth), calibration_error(softmax(record), data.record[index]))
    return s
