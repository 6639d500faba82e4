"""The recording network. One pass over a whole piece; then heads for frames, for given events and for the record.

Chosen for plain C++: 2-D convolutions (dense or depthwise + pointwise) with folded batch norm and ReLU, one linear
layer, then residual dilated blocks at 25 frames a second, with the whole piece's mean fed back once.
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

EVENT_LABELS = ["Normal", "Rhonchi", "Wheeze", "Stridor", "Coarse Crackle", "Fine Crackle", "Wheeze+Crackle"]
RECORD_LABELS = ["Normal", "CAS", "DAS", "CAS & DAS", "Poor Quality"]
FRAME_OUTPUTS = ["presence", "onset", "offset", "continuous", "crackle"]
# Whose ears and which sensor: a recording's kind. Events were labelled by two groups of raters, recordings by three.
KINDS = ["children", "stethoscope", "cycles"]
EVENT_RATERS = [0, 1, 1]  # kind -> group of raters of its events (nobody labelled events of the stethoscope's set)
FRAME_MS = 40.0


def conv_bn(i, o, k, stride=(1, 1), groups=1, relu=True):
    pad = tuple(v // 2 for v in k)
    layers = [nn.Conv2d(i, o, k, stride, pad, groups=groups, bias=False), nn.BatchNorm2d(o)]
    return nn.Sequential(*layers, nn.ReLU()) if relu else nn.Sequential(*layers)


class Separable(nn.Module):
    """Depthwise 3x3, pointwise; a shortcut where shapes allow."""
    def __init__(self, i, o, stride=(1, 1)):
        super().__init__()
        self.depth = conv_bn(i, i, (3, 3), stride, groups=i)
        self.point = conv_bn(i, o, (1, 1), relu=False)
        self.same = i == o and stride == (1, 1)

    def forward(self, x):
        y = self.point(self.depth(x))
        return F.relu(x + y if self.same else y)


class Dense(nn.Module):
    """Two dense 3x3 convolutions with a (projected) shortcut: the wide teacher's block."""
    def __init__(self, i, o, stride=(1, 1)):
        super().__init__()
        self.a = conv_bn(i, o, (3, 3), stride)
        self.b = conv_bn(o, o, (3, 3), relu=False)
        self.s = conv_bn(i, o, (1, 1), stride, relu=False) if (i != o or stride != (1, 1)) else nn.Identity()

    def forward(self, x):
        return F.relu(self.b(self.a(x)) + self.s(x))


class Temporal(nn.Module):
    """Residual block over time: depthwise dilated convolution of 5, pointwise up, ReLU, pointwise down."""
    def __init__(self, width, hidden, dilation):
        super().__init__()
        self.depth = nn.Conv1d(width, width, 5, padding=2 * dilation, dilation=dilation, groups=width, bias=False)
        self.norm = nn.BatchNorm1d(width)
        self.up, self.down = nn.Conv1d(width, hidden, 1), nn.Conv1d(hidden, width, 1, bias=False)
        self.norm2 = nn.BatchNorm1d(width)

    def forward(self, x):
        return x + self.norm2(self.down(F.relu(self.up(self.norm(self.depth(x))))))


CONFIGS = {
    # stem width and stride, stages [(block, width, stride (band, time))], projection, temporal (hidden, dilations)
    "teacher": dict(stem=(32, (2, 1)), stages=[("D", 48, (2, 2)), ("D", 96, (2, 1)), ("D", 128, (2, 1)), ("D", 128, (1, 1))],
                    project=256, temporal=(384, (1, 2, 4, 8, 16, 1, 4))),
    "separable": dict(stem=(24, (2, 1)), stages=[("S", 48, (2, 1)), ("S", 48, (1, 1)), ("S", 80, (2, 2)), ("S", 80, (1, 1)),
                                                 ("S", 112, (2, 1)), ("S", 112, (1, 1))],
                      project=128, temporal=(160, (1, 2, 4, 8, 1))),
    "thin": dict(stem=(16, (2, 1)), stages=[("D", 20, (2, 2)), ("D", 36, (2, 1)), ("D", 56, (2, 1))],
                 project=128, temporal=(160, (1, 2, 4, 8, 1))),
    "slim": dict(stem=(16, (2, 1)), stages=[("D", 24, (2, 2)), ("D", 32, (2, 1)), ("D", 48, (2, 1))],
                 project=128, temporal=(96, (1, 2, 4, 8, 1))),
    "mixed": dict(stem=(24, (2, 2)), stages=[("D", 32, (2, 1)), ("S", 64, (2, 1)), ("S", 64, (1, 1)), ("S", 64, (1, 1)),
                                             ("S", 96, (2, 1)), ("S", 96, (1, 1))],
                  project=128, temporal=(160, (1, 2, 4, 8, 1))),
}
PEAK_FRAMES = 8  # 320 ms
CONTEXT_AFTER = 2  # the temporal block that the whole piece's mean follows


class Network(nn.Module):
    def __init__(self, config, drop=0.2, band_norm=True):
        super().__init__()
        c = CONFIGS[config] if isinstance(config, str) else config
        self.config, self.band_norm = c, band_norm
        self.scale = nn.BatchNorm2d(4)
        self.stem = conv_bn(4, c["stem"][0], (5, 3), c["stem"][1])
        blocks, i, bands = [], c["stem"][0], 32
        for kind, o, stride in c["stages"]:
            blocks.append((Separable if kind == "S" else Dense)(i, o, stride))
            i, bands = o, bands // stride[0]
        self.stages = nn.Sequential(*blocks)
        d = self.width = c["project"]
        self.project = nn.Linear(i * bands, d)
        self.drop = nn.Dropout(drop)
        hidden, dilations = c["temporal"]
        self.temporal = nn.ModuleList([Temporal(d, hidden, k) for k in dilations])
        self.context = nn.Linear(d, d)
        k, r = len(EVENT_LABELS), len(RECORD_LABELS)
        raters, kinds = 1 + max(EVENT_RATERS), len(KINDS)
        self.frame = nn.Linear(d, len(FRAME_OUTPUTS))
        # What all share, and what each group of raters adds to it.
        self.event_attention, self.event_value, self.event_pooled = nn.Linear(d, k), nn.Linear(d, k), nn.Linear(2 * d, k)
        self.event_value_own, self.event_pooled_own = nn.Linear(d, k * raters), nn.Linear(2 * d, k * raters)
        self.record_attention, self.record_value = nn.Linear(d, r), nn.Linear(d, r)
        self.record_pooled, self.record_peaks = nn.Linear(2 * d, r), nn.Linear(len(FRAME_OUTPUTS), r)
        self.record_value_own, self.record_pooled_own = nn.Linear(d, r * kinds), nn.Linear(2 * d, r * kinds)
        self.record_peaks_own = nn.Linear(len(FRAME_OUTPUTS), r * kinds)
        for own in (self.event_value_own, self.event_pooled_own, self.record_value_own, self.record_pooled_own,
                    self.record_peaks_own):
            nn.init.zeros_(own.weight)
            nn.init.zeros_(own.bias)

    def forward(self, x):
        """x: pieces x 4 x 64 x frames. Returns pieces x ceil(frames / 2) x width."""
        if self.band_norm:
            x = x - x.mean(3, keepdim=True)
        f = self.stages(self.stem(self.scale(x)))
        f = f.permute(0, 3, 2, 1).flatten(2)  # time, then (band, channel)
        f = self.drop(F.relu(self.project(f))).transpose(1, 2)
        for n, block in enumerate(self.temporal):
            f = block(f)
            if n == CONTEXT_AFTER:
                f = f + F.relu(self.context(f.mean(2)))[:, :, None]
        return self.drop(F.relu(f).transpose(1, 2))

    def events(self, g, piece, start, end):
        """Logits of given events, one set for each group of raters (events x raters x classes): frames [start, end) of
        g[piece], in frames (real numbers); and the highest frame logits inside (events x outputs)."""
        t = torch.arange(g.shape[1], device=g.device)[None]
        inside = ((t >= start[:, None]) & (t < end[:, None]))[..., None]
        x = g.index_select(0, piece)
        weight = self.event_attention(x).masked_fill(~inside, -1e4).softmax(1)
        m = inside.float()
        mean = (x * m).sum(1) / m.sum(1).clamp(min=1)
        pooled = torch.cat([mean, x.masked_fill(~inside, -1e4).amax(1)], -1)
        own = (weight[:, :, None] * self.event_value_own(x).unflatten(2, (-1, weight.shape[2]))).sum(1)
        own = own + self.event_pooled_own(pooled).unflatten(1, (-1, weight.shape[2]))
        shared = (weight * self.event_value(x)).sum(1) + self.event_pooled(pooled)
        return shared[:, None] + own, self.frame(x).masked_fill(~inside, -1e4).amax(1)

    def record(self, g):
        """Logits of the record for each kind (pieces x kinds x classes); the peaks are the largest means of the frame
        logits over PEAK_FRAMES frames."""
        weight = self.record_attention(g).softmax(1)
        pooled = torch.cat([g.mean(1), g.amax(1)], -1)
        frames = self.frame(g).transpose(1, 2)
        peaks = F.avg_pool1d(frames, min(PEAK_FRAMES, frames.shape[2]), 1).amax(2)
        own = (weight[:, :, None] * self.record_value_own(g).unflatten(2, (-1, weight.shape[2]))).sum(1)
        own = own + (self.record_pooled_own(pooled) + self.record_peaks_own(peaks)).unflatten(1, (-1, weight.shape[2]))
        shared = (weight * self.record_value(g)).sum(1) + self.record_pooled(pooled) + self.record_peaks(peaks)
        return shared[:, None] + own
