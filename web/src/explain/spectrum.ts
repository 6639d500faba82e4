// Short-time power spectrum for drawing. For measuring, the server's measurement is the judge.

export class Spectrum {
  readonly bins: number;
  private readonly window: Float64Array;
  private readonly re: Float64Array;
  private readonly im: Float64Array;
  private readonly cosine: Float64Array;
  private readonly sine: Float64Array;

  constructor(readonly size: number) { // a power of two
    this.bins = size / 2;
    this.window = Float64Array.from({ length: size }, (_, i) => 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / size));
    this.re = new Float64Array(size);
    this.im = new Float64Array(size);
    this.cosine = Float64Array.from({ length: size / 2 }, (_, i) => Math.cos((2 * Math.PI * i) / size));
    this.sine = Float64Array.from({ length: size / 2 }, (_, i) => -Math.sin((2 * Math.PI * i) / size));
  }

  // Levels in dB re a full-scale sine, `bins` long; samples before the start count as silence.
  levels(samples: Float32Array, start: number, out: Float32Array): void {
    const n = this.size, { re, im } = this;
    let reversed = 0;
    for (let i = 0; i < n; i++) {
      const at = start + i;
      re[reversed] = (at >= 0 && at < samples.length ? samples[at]! : 0) * this.window[i]!;
      im[reversed] = 0;
      let bit = n >> 1;
      while (reversed & bit) {
        reversed ^= bit;
        bit >>= 1;
      }
      reversed |= bit;
    }
    this.transform();
    for (let k = 0; k < this.bins; k++) {
      const power = re[k]! * re[k]! + im[k]! * im[k]!;
      out[k] = 10 * Math.log10(power * 16 / (n * n) + 1e-14); // Hann: amplitude 1 gives n/4
    }
  }

  private transform(): void {
    const n = this.size, { re, im } = this;
    for (let half = 1; half < n; half *= 2) {
      const stride = n / (2 * half);
      for (let base = 0; base < n; base += 2 * half) {
        for (let j = 0; j < half; j++) {
          const a = base + j, b = a + half;
          const c = this.cosine[j * stride]!, s = this.sine[j * stride]!;
          const x = re[b]! * c - im[b]! * s, y = re[b]! * s + im[b]! * c;
          re[b] = re[a]! - x;
          im[b] = im[a]! - y;
          re[a] = re[a]! + x;
          im[a] = im[a]! + y;
        }
      }
    }
  }
}

export function windowFor(rateHz: number): number {
  return 2 ** Math.max(7, Math.round(Math.log2(rateHz * 0.05)));
}
