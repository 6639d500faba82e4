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
from network import EVENT_LABELS, EVENT_RATERS, FRAME_MS, KINDS, PEAK_FRAMES, Network
from score import calibration_error, event_scores, record_scores

SHORT, LONG = 36864, 61440  # samples of the children's 9.2 s recordings and of the 15.4 s ones (cut by a few)
PIECE, STEP, LONGEST = 61440, 51200, 80000  # how a longer recording is read: pieces of 15.36 s every 12.8 s
SHARES = (0.6, 0.15, 0.25)  # of the draws, by kind


def smoothed(y, k, smooth):
    return (y[:, None] == torch.arange(k, device=y.device)).float() * (1 - smooth) + smooth / k


def cross_entropy(logits, target):
    return -(target * F.log_softmax(logits, -1)).sum(-1)


class Trainer:
    def __init__(self, data, held, config, seed=0, epochs=40, batch=32, rate=2e-3, decay=0.02, drop=0.2, strength=0.4,
                 band_norm=True, smooth=0.05, weight_power=0.5, weight_cap=6.0, balance=0.5, shares=SHARES, weak_weight=0.25, soft=None, soft_weight=0.6,
                 frame_weight=1.0, record_weight=0.7, noise=True, keep=0.998, jitter=0.08, stretch=0.12):
        torch.manual_seed(seed)
        rng = np.random.default_rng(seed)
        self.__dict__.update(data=data, batch=batch, strength=strength, smooth=smooth, soft=soft, soft_weight=soft_weight,
                             frame_weight=frame_weight, record_weight=record_weight, weak_weight=weak_weight, keep=keep, jitter=jitter,
                             stretch=stretch)
        self.device = data.device
        usable = ~np.isin(data.folds, held) & ~data.dropped & ((data.lengths >= SHORT) | (data.kind > 0))
        self.index = np.where(usable)[0]
        self.front = FrontEnd(self.device)
        self.net = Network(config, drop, band_norm).to(self.device).train()
        tensor = lambda a, t=torch.float32: torch.tensor(np.asarray(a), dtype=t, device=self.device)
        weigh = lambda n: np.minimum((n.max() / np.maximum(n, 1)) ** weight_power, weight_cap)
        classes = data.slots[tensor(self.index, torch.long)][..., 2].long().cpu().numpy()
        raters = np.array(EVENT_RATERS)[data.kind[self.index]]
        of = lambda g: classes[raters == g][classes[raters == g] >= 0]
        self.event_weight = tensor([weigh(np.bincount(of(g), minlength=len(EVENT_LABELS))) for g in range(max(EVENT_RATERS) + 1)])
        kept = lambda k: data.record[self.index][(data.kind[self.index] == k) & (data.record[self.index] >= 0)]
        self.record_class = tensor([weigh(np.bincount(kept(k), minlength=5)) for k in range(len(KINDS))])
        poor = self.index[data.record[self.index] == 4]
        self.noise = data.x[tensor(poor, torch.long)] if noise and len(poor) else None
        self.plan(rng, epochs, balance, shares, tensor)
        self.steps = len(self.order)
        warm = max(int(0.15 * self.steps), 1)
        s = np.arange(self.steps + 1)
        curve = np.where(s < warm, 0.04 + 0.96 * s / warm, 0.5 + 0.5 * np.cos(np.pi * (s - warm) / (self.steps - warm)))
        self.rates = tensor(rate * np.maximum(curve, 1e-3))
        self.follows = tensor(np.where(s > 0.3 * self.steps, keep, 0.0))
        self.decay = decay
        self.flatten()

    def plan(self, rng, epochs, balance, shares, tensor):
        """Every batch of the whole training, drawn ahead: patients with many recordings are drawn less often."""
        patients = self.data.patients[self.index]
        count = dict(zip(*np.unique(patients, return_counts=True)))
        chance = np.array([count[p] ** -balance for p in patients])
        kinds = self.data.kind[self.index]
        for k, share in enumerate(shares):
            chance[kinds == k] *= share / max(chance[kinds == k].sum(), 1e-9)
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
        long = (self.data.lengths_t[items] >= LONG) | (self.data.kind_t[items] == 2)
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
            record = torch.where(long & (record != 4) & (self.data.kind_t[items] != 1), D.record_from_events(slots), record)
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
        both, tops = self.net.events(g, piece, start, torch.maximum(end, start + 3))
        raters, kinds = self.data.raters_t[items], self.data.kind_t[items]
        logits = both.gather(1, raters[piece][:, None, None].expand(-1, 1, k))[:, 0]
        each = cross_entropy(logits, smoothed(c, k, self.smooth)) * self.event_weight[raters[piece], c]
        if self.soft:
            taught = cross_entropy(logits, self.soft["event"][items].reshape(-1, k)[pick])
            each = (1 - self.soft_weight) * each + self.soft_weight * taught * 1.4
        total = (each * there).sum() / there.sum().clamp(min=1)
        # adults' cycles and recordings say that a sound is somewhere inside, not where
        has = lambda c: torch.stack([(c == 1) | (c == 2) | (c == 3) | (c == 6), (c == 4) | (c == 5) | (c == 6)], -1).float()
        weak = F.binary_cross_entropy_with_logits(tops[:, 3:5], has(c), reduction="none").mean(1)
        theirs = there * (kinds[piece] > 0)
        total = total + self.weak_weight * (weak * theirs).sum() / theirs.sum().clamp(min=1)
        logits = self.net.record(g).gather(1, kinds[:, None, None].expand(-1, 1, 5))[:, 0]
        y = record.clamp(min=0)
        each = cross_entropy(logits, smoothed(y, 5, self.smooth)) * self.record_class[kinds, y] * (record >= 0)
        if self.soft:
            w = self.soft_weight * torch.maximum(full, (kinds == 1).float())
            each = (1 - w) * each + w * cross_entropy(logits, self.soft["record"][items]) * 1.4
        total = total + self.record_weight * each.mean()
        frames = self.net.frame(g)
        peaks = F.avg_pool1d(frames.transpose(1, 2), PEAK_FRAMES, 1).amax(2)[:, 3:5]
        has_record = torch.stack([(y == 1) | (y == 3), (y == 2) | (y == 3)], -1).float()
        weak = F.binary_cross_entropy_with_logits(peaks, has_record, reduction="none").mean(1)
        total = total + self.weak_weight * (weak * (record >= 0) * (kinds > 0)).sum() / n
        target = D.frame_targets(slots, g.shape[1], self.device)
        if self.soft:
            taught = self.soft["frame"]
            at = places.round().long().clamp(0, taught.shape[1] - 1)
            target = (1 - self.soft_weight) * target + self.soft_weight * taught[items[:, None], at]
        each = F.binary_cross_entropy_with_logits(frames, target, reduction="none").mean(2)
        time_ms = torch.arange(g.shape[1], device=self.device)[None] * FRAME_MS
        counts = (time_ms < valid[:, None]) * (torch.where(record == 4, 0.2, 1.0) * (kinds == 0))[:, None]
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


def pieces_of(length):
    """Where a recording is read, as the program does: (start, end, first and last sample that it speaks for)."""
    if length <= LONGEST:
        return [(0, length, 0, length)]
    out, start = [], 0
    while start + PIECE < length:
        out.append([start, start + PIECE, start + (PIECE - STEP) // 2, start + (PIECE + STEP) // 2])
        start += STEP
    out.append([length - PIECE, length, out[-1][3], length])
    out[0][2] = 0
    return out


@torch.no_grad()
def predict(net, data, index, front, batch=32):
    """Of every recording in index: {i: (event logits of its raters, record logits of its kind, frame logits)}."""
    net.eval()
    out, whole = {}, {}
    for i in index:
        whole.setdefault(int(data.lengths[i]), []).append(int(i))
    for length, same in whole.items():
        for k in range(0, len(same), batch):
            items = same[k:k + batch]
            ready = net(front(data.x[items, :length].float() / 32768)).float() if length <= LONGEST else None
            for j, i in enumerate(items):
                out[i] = predict_one(net, data, i, front, None if ready is None else ready[j:j + 1])
    return out


def predict_one(net, data, i, front, ready):
    kind, raters = int(data.kind[i]), EVENT_RATERS[int(data.kind[i])]
    slots = data.slots_host[i]
    slots = slots[slots[:, 2] >= 0]
    events, record, frame, weight = np.zeros((len(slots), len(EVENT_LABELS)), np.float32), 0.0, [], 0.0
    for start, end, first, last in pieces_of(int(data.lengths[i])):
        g = ready if ready is not None else net(front(data.x[i:i + 1, start:end].float() / 32768)).float()
        middle = slots[:, :2].mean(1) * (D.RATE / 1000) if len(slots) else np.zeros(0)
        mine = np.where((middle >= first) & ((middle < last) | (last == data.lengths[i])))[0]
        if len(mine):
            times = torch.tensor(slots[mine, :2] - start / D.RATE * 1000, device=data.device) / FRAME_MS
            stop = times[:, 1].clamp(max=g.shape[1])
            begin = torch.minimum(times[:, 0], stop - 3).clamp(min=0)
            logits, _ = net.events(g, torch.zeros(len(mine), dtype=torch.long, device=data.device), begin, torch.maximum(stop, begin + 3))
            events[mine] = logits[:, raters].cpu().numpy()
        record = record + (last - first) * net.record(g)[0, kind].softmax(-1).cpu().numpy()
        weight += last - first
        frame.append(net.frame(g)[0].cpu().numpy()[(first - start) // 160:(last - start + 159) // 160])
    return events, np.log(record / weight + 1e-9), np.concatenate(frame)


def softmax(v):
    e = np.exp(v - v.max(-1, keepdims=True))
    return e / e.sum(-1, keepdims=True)


def summary(data, out):
    """Plain scores of the most probable label; weighed ones come later."""
    slots, s = data.slots_host, {}
    of = lambda kind: [i for i in sorted(out) if data.kind[i] == kind]
    labels = lambda index: np.concatenate([slots[i][slots[i][:, 2] >= 0, 2] for i in index]).astype(int)
    if of(0):
        logits, truth = np.concatenate([out[i][0] for i in of(0)]), labels(of(0))
        record = np.stack([out[i][1] for i in of(0)])
        s.update(event_scores(truth, logits.argmax(1)))
        s.update(record_scores(data.record[of(0)], record.argmax(1)))
        s["ece"] = (calibration_error(softmax(logits), truth), calibration_error(softmax(record), data.record[of(0)]))
    four = np.array([0, 2, 2, 2, 1, 1, 3])
    for kind, name in ((2, "c-c"), (1, "k-k")):
        if not of(kind):
            continue
        if kind == 2:
            truth, guess = four[labels(of(2))], four[np.concatenate([out[i][0] for i in of(2)]).argmax(1)]
        else:
            truth, guess = data.record[of(1)], np.stack([out[i][1] for i in of(1)]).argmax(1)
        bad = truth > 0
        se, sp = float((truth == guess)[bad].mean()) if bad.any() else 0.0, float((guess[truth == 0] == 0).mean()) if (truth == 0).any() else 0.0
        s[name] = dict(SE=se, SP=sp, Score=(se + sp) / 2)
    return s
