// Smooth line through points (Catmull-Rom as cubic Bézier), as an SVG path.
export type Pair = readonly [number, number];

const short = (value: number): string => (Math.round(value * 100) / 100).toString();

export function smooth(points: readonly Pair[], closed = false): string {
  const at = (i: number): Pair => {
    const n = points.length;
    return points[closed ? (i + n) % n : Math.min(n - 1, Math.max(0, i))]!;
  };
  let path = `M${short(at(0)[0])} ${short(at(0)[1])}`;
  const last = closed ? points.length : points.length - 1;
  for (let i = 0; i < last; i++) {
    const [x0, y0] = at(i - 1), [x1, y1] = at(i), [x2, y2] = at(i + 1), [x3, y3] = at(i + 2);
    path += `C${short(x1 + (x2 - x0) / 6)} ${short(y1 + (y2 - y0) / 6)} ${short(x2 - (x3 - x1) / 6)} ${
      short(y2 - (y3 - y1) / 6)
    } ${short(x2)} ${short(y2)}`;
  }
  return closed ? path + 'Z' : path;
}

export const flipped = (points: readonly Pair[]): Pair[] => points.map(([x, y]) => [-x, y] as const);
// Right half given from top to bottom; the whole closed outline.
export const bothSides = (half: readonly Pair[]): Pair[] => [...half, ...flipped(half).reverse()];
