// The chest from behind and from either side.
import type { Side } from '../generated/bedside';
import { flipped, type Pair, smooth } from './curve';
import { babyness, backUnit, type Body, frontUnit, leanness, stoutness } from './geometry';

export function Back({ body }: { body: Body }) {
  const b = body.halfBreadthCm, n = backUnit(body);
  const stout = stoutness(body), baby = babyness(body);
  const neck = b * (0.4 + 0.1 * stout + 0.06 * body.muscle);
  const arm = b * (0.30 + 0.16 * stout + 0.12 * body.muscle - 0.04 * baby);
  const waist = b * (0.92 + 0.34 * stout + 0.1 * baby);
  const outer: Pair[] = [[neck, -n * 0.24], [neck * 0.95, -n * 0.12], [neck * 1.25, -n * 0.02], [b * 1.0,
    n * (0.06 - 0.04 * body.muscle)], [b * 1.42, n * 0.12], [b * 1.28 + arm, n * 0.32], [b * 1.3 + arm, n * 0.65], [
    b * 1.32 + arm,
    n * 1.3,
  ]];
  const inner: Pair[] = [[b * 1.36, n * 1.3], [b * 1.2, n * 0.66], [b * 1.08, n * 0.44], [b * 1.07, n * 0.66], [
    b * (1.0 + 0.12 * stout),
    n * 0.9,
  ], [waist, n * 1.15], [waist * 1.02, n * 1.3]];
  const outline = smooth(outer) + smooth(inner).replace('M', 'L') +
    smooth(flipped(inner).reverse()).replace('M', 'L') + smooth(flipped(outer).reverse()).replace('M', 'L');
  const hair: Pair[] = [[neck * 0.95, -n * 0.2], [neck * 1.25, -n * 0.34], [neck * 1.3, -n * 0.5]];
  const blade: Pair[] = [[b * 0.36, n * 0.12], [b * 0.39, n * 0.34], [b * 0.5, n * 0.575], [b * 0.66, n * 0.46], [
    b * 0.86,
    n * 0.26,
  ], [b * 0.95, n * 0.15], [b * 0.6, n * 0.09]];
  const spineOfBlade: Pair[] = [[b * 0.38, n * 0.22], [b * 0.7, n * 0.13], [b * 1.2, n * 0.08]];
  const lastRib: Pair[] = [[b * 0.14, n * 1.0], [b * 0.4, n * 1.05], [b * 0.62, n * 1.12]];
  const shown = Math.min(1, 0.45 + 0.55 * leanness(body) + 0.25 * (1 - stout));
  const ribs = [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];
  return (
    <g>
      <path class="skin" d={outline} />
      <path class="skin" d={smooth(flipped(hair).reverse().concat(hair))} />
      <g data-moves="back">
        {Array.from({ length: 13 },
          (_, i) => (
            <ellipse class="bone" cx={0} cy={(n * i) / 12} rx={i === 0 ? 0.62 : 0.36} ry={i === 0 ? 0.5 : 0.42} />
          ))}
        <path class="bone" d={`M0 ${n * 1.04}V${n * 1.28}`} />
        {[1, -1].map((side) => (
          <g transform={`scale(${side} 1)`}>
            <path class="bone" d={smooth(blade, true)} />
            <path class="bone" d={smooth(spineOfBlade)} />
            <g opacity={shown}>
              <path class="bone" d={smooth(lastRib)} />
              {ribs.map((v) => (
                <path class="rib" d={smooth(v > 0.58
                  ? [[b * 0.14, n * (v + 0.02)], [b * 0.6, n * (v + 0.05)], [b * 1.02, n * (v + 0.12)]]
                  : [[b * (1.05 - v * 0.72), n * (v + 0.07)], [b * 1.02, n * (v + 0.12)]])} />
              ))}
            </g>
          </g>
        ))}
      </g>
      <text class="word" x={1.2} y={0.5}>C7</text>
      <text class="word" x={1.2} y={n * 0.583 + 0.5}>T7</text>
      <text class="word" x={1.2} y={n + 0.5}>T12</text>
    </g>
  );
}

// Drawn as the right side (face to the viewer's right) and turned over for the left.
export function SideView({ body, side }: { body: Body; side: Side }) {
  const d = body.depthCm / 2, n = frontUnit(body);
  const stout = stoutness(body), baby = babyness(body);
  const stoop = body.ageYears > 65 ? 0.12 : 0;
  const belly = d * (0.85 + 0.9 * stout + 0.35 * baby);
  const breast = body.sex === 'female' && body.ageYears >= 14 ? 0.16 + 0.14 * stout : 0.04 + 0.08 * body.muscle;
  const frontEdge: Pair[] = [[d * 0.42, -n * 0.42], [d * 0.4, -n * 0.16], [d * 0.62, 0], [d * 0.86, n * 0.35], [
    d * (0.98 + breast),
    n * 0.95,
  ], [d * 0.98, n * 1.2], [belly, n * 1.6], [belly * 0.96, n * 1.95]];
  const backEdge: Pair[] = [[-d * 0.8, n * 1.95], [-d * 0.78, n * 1.6], [-d * 1.0, n * 1.1], [-d * (1.08 + stoop),
    n * 0.5], [-d * (0.92 + stoop), n * 0.05], [-d * 0.5, -n * 0.22], [-d * 0.44, -n * 0.42]];
  // The arm is lifted forward and up, as one asks before listening there.
  const arm: Pair[] = [[-d * 0.62, n * 0.34], [-d * 0.5, n * 0.02], [-d * 0.1, -n * 0.24], [d * 0.5, -n * 0.46], [
    d * 1.7,
    -n * 0.68,
  ]];
  const armUnder: Pair[] = [[d * 1.85, -n * 0.44], [d * 0.75, -n * 0.12], [d * 0.5, n * 0.12], [d * 0.46, n * 0.38]];
  const ribs = [0.45, 0.62, 0.79, 0.96, 1.13, 1.3, 1.47];
  const shown = Math.min(1, 0.45 + 0.55 * leanness(body) + 0.25 * (1 - stout));
  return (
    <g transform={side === 'left' ? 'scale(-1 1)' : undefined}>
      <path class="skin" d={`${smooth(frontEdge)}${smooth(backEdge).replace('M', 'L')}`} />
      <g data-moves="side">
        <g opacity={shown}>
          {ribs.map((v) => (
            <path class="rib"
              d={smooth([[-d * 0.86, n * (v - 0.16)], [-d * 0.2, n * (v - 0.02)], [d * 0.45, n * (v + 0.12)], [d * 0.84,
                n * (v + 0.14)]])} />
          ))}
        </g>
        <path class="bone"
          d={smooth([[d * 0.95, n * 1.14], [d * 0.55, n * 1.5], [d * 0.1, n * 1.7], [-d * 0.4, n * 1.66]])} />
      </g>
      {[-0.5, 0, 0.5].map((u) => <path class="guide" d={`M${d * u} ${n * 0.42}V${n * 1.7}`} />)}
      <path class="skin-fill" d={`${smooth(arm)}${smooth(armUnder).replace('M', 'L')}Z`} />
      {[arm, armUnder].map((line) => <path class="skin-line" d={smooth(line)} />)}
    </g>
  );
}
