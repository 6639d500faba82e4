// A work shirt over the chest: listening through it is worse, so it is opened first.
import { flipped, type Pair, smooth } from './curve';
import { type Aspect, backUnit, type Body, frontUnit, stoutness } from './geometry';

export function Clothing({ body, aspect }: { body: Body; aspect: Aspect }) {
  const b = body.halfBreadthCm, stout = stoutness(body), d = body.depthCm / 2;
  if (aspect === 'neck') return null;
  if (aspect === 'front' || aspect === 'back') {
    const n = aspect === 'front' ? frontUnit(body) : backUnit(body);
    const low = aspect === 'front' ? 2.1 : 1.4;
    const collar = aspect === 'front' ? 0.16 : 0.0;
    const half: Pair[] = [[b * 0.12, n * collar], [b * 0.5, -n * 0.1], [b * 1.05, -n * 0.04], [b * 1.55, n * 0.12], [
      b * (1.75 + 0.1 * stout),
      n * 0.6,
    ]];
    const body2: Pair[] = [[b * 1.22, n * 0.66], [b * 1.12, n * 0.5], [b * (1.14 + 0.1 * stout), n * 1.0], [
      b * (1.1 + 0.35 * stout),
      n * low,
    ]];
    const path = `${smooth(half)}${smooth(body2).replace('M', 'L')}${
      smooth(flipped(body2).reverse()).replace('M', 'L')
    }${smooth(flipped(half).reverse()).replace('M', 'L')}Z`;
    const buttons = [0.45, 0.75, 1.05, 1.35, 1.65];
    return (
      <g data-cloth>
        <path class="cloth" d={path} />
        {aspect === 'front' && <path class="cloth-fold" d={`M0 ${n * 0.2}V${n * low}`} />}
        {aspect === 'front' && buttons.map((v) => <circle class="cloth" cx={0} cy={n * v} r={0.35} />)}
        {[[[b * 0.9, n * 0.3], [b * 0.7, n * 0.7]], [[b * 0.8, n * 1.2], [b * 0.5, n * 1.5]], [[b * 0.95, n * 0.9], [
          b * 0.85,
          n * 1.3,
        ]]].map(
          (fold) =>
            [fold as unknown as Pair[], flipped(fold as unknown as Pair[])].map((line) => (
              <path class="cloth-fold" d={smooth(line)} />
            )),
        )}
      </g>
    );
  }
  const n = frontUnit(body);
  const out = 1.16 + 0.7 * stout;
  const front: Pair[] = [[d * 0.5, -n * 0.02], [d * 0.98, n * 0.35], [d * 1.24, n * 0.95], [d * out, n * 1.6], [d * out,
    n * 2.1]];
  const rear: Pair[] = [[-d * 0.92, n * 2.1], [-d * 1.12, n * 1.1], [-d * 1.2, n * 0.5], [-d * 1.0, 0], [-d * 0.5,
    -n * 0.2]];
  return (
    <g data-cloth transform={aspect === 'left_side' ? 'scale(-1 1)' : undefined}>
      <path class="cloth" d={`${smooth(front)}${smooth(rear).replace('M', 'L')}Z`} />
      <path class="cloth-fold" d={smooth([[d * 0.3, n * 0.6], [d * 0.1, n * 1.1], [d * 0.2, n * 1.6]])} />
      <path class="cloth-fold" d={smooth([[-d * 0.5, n * 0.7], [-d * 0.4, n * 1.2]])} />
    </g>
  );
}
