"""Front end of the recording network: from samples at 4 kHz to four band-level planes.

Everything here is repeated in C++ from the weight file alone (windows and band matrices are stored there), so the
arithmetic is kept plain: windows, power spectra, two band matrices, one logarithm, one level for the whole piece.

Frame t of a piece of n samples is centred on sample 80 t (20 ms); there are ceil(n / 80) frames. Outside the piece
the signal is zero. Planes, each of 64 bands:
  0  window 512 samples (128 ms), transform 512, centred on 80 t: steady tones stand out
  1  window 192 samples (48 ms), transform 256, centred on 80 t
  2  window 64 samples (16 ms), transform 256, centred on 80 t - 20: short clicks stand out
  3  as plane 2, centred on 80 t + 20
"""
import numpy as np
import torch
import torch.nn.functional as F

SAMPLE_RATE_HZ = 4000
HOP = 80
BANDS = 64
LOW_HZ, HIGH_HZ, BEND_HZ = 40.0, 1300.0, 400.0
PLANES = ((512, 512, 0), (192, 256, 0), (64, 256, -20), (64, 256, 20))  # window, transform, offset of the centre
TINY = 1e-14          # keeps the logarithm of digital silence finite
RELATIVE_FLOOR = 1e-3  # 30 dB under the piece's mean log level: hides quantisation and gain


def band_matrix(transform: int) -> np.ndarray:
    """Triangular bands evenly spaced in log(1 + f / 400 Hz), at least one bin wide to each side; rows sum to one."""
    warp = np.linspace(np.log1p(LOW_HZ / BEND_HZ), np.log1p(HIGH_HZ / BEND_HZ), BANDS + 2)
    edges = BEND_HZ * np.expm1(warp)
    bin_hz = SAMPLE_RATE_HZ / transform
    f = np.arange(transform // 2 + 1) * bin_hz
    out = np.zeros((BANDS, f.size))
    for b in range(BANDS):
        centre = edges[b + 1]
        left, right = max(centre - edges[b], bin_hz), max(edges[b + 2] - centre, bin_hz)
        up, down = 1 - (centre - f) / left, 1 - (f - centre) / right
        out[b] = np.clip(np.where(f <= centre, up, down), 0, None)
        out[b] /= out[b].sum()
    return out.astype(np.float32)


class FrontEnd:
    def __init__(self, device="cpu"):
        self.windows = [torch.hann_window(w, periodic=True, device=device) for w, _, _ in PLANES]
        self.sums = [float(w.sum()) for w in self.windows]
        self.matrices = {n: torch.tensor(band_matrix(n), device=device) for n in (512, 256)}

    def powers(self, x):
        """x: pieces x samples, float. Returns pieces x 4 x 64 x frames of band power (full-scale sine: about 0.25)."""
        frames = (x.shape[1] + HOP - 1) // HOP
        out = []
        for (window, transform, offset), taper, total in zip(PLANES, self.windows, self.sums):
            lead = window // 2 - offset
            tail = (frames - 1) * HOP + window - lead - x.shape[1]
            padded = F.pad(x, (lead, max(tail, 0)))
            pieces = padded.unfold(1, window, HOP)[:, :frames] * taper
            power = torch.fft.rfft(pieces, n=transform).abs().pow(2) / total ** 2
            out.append(power @ self.matrices[transform].T)
        return torch.stack(out, 1).transpose(2, 3)

    def __call__(self, x):
        """The network's input: log band power over the piece's own mean log level (taken from plane 1)."""
        p = self.powers(x)
        level = torch.log(p[:, 1] + TINY).mean((1, 2))[:, None, None, None]
        return torch.log(p * torch.exp(-level) + RELATIVE_FLOOR)
