// The chest from the front, and the neck: outline and bony landmarks, drawn from the body's measures.
import { bothSides, flipped, type Pair, smooth } from './curve';
import { babyness, type Body, frontUnit, leanness, stoutness } from './geometry';

interface Frame {
  b: number;
  n: number;
  baby: number;
  stout: number;
}
function frameOf(body: Body): Frame {
  return { b: body.halfBreadthCm, n: frontUnit(body), baby: babyness(body), stout: stoutness(body) };
}

export function torsoHalf(body: Body): Pair[] {
  const { b, n, baby, stout } = frameOf(body);
  const neck = b * (0.40 + 0.10 * stout + 0.06 * body.muscle);
  const slope = n * (0.02 - 0.1 * body.muscle);
  const chin = -n * (0.78 - 0.3 * baby);
  const arm = b * (0.30 + 0.16 * stout + 0.12 * body.muscle - 0.04 * baby);
  const waist = b * (0.94 + 0.36 * stout + 0.12 * baby - 0.05 * body.muscle);
  return [
    [neck * 0.98, chin],
    [neck * 0.96, chin * 0.55],
    [neck * 1.22, -n * 0.23 + slope * 0.5],
    [b * 0.98, -n * 0.07 + slope],
    [b * 1.4, n * 0.06],
    [b * 1.28 + arm, n * 0.42],
    [b * 1.3 + arm, n * 0.95],
    [b * 1.32 + arm, n * 1.95],
  ].concat([[b * 1.36, n * 1.95], [b * 1.2, n * 0.98], [b * 1.08, n * 0.6], [b * 1.075, n * 0.98], [
    b * (1.02 + 0.14 * stout),
    n * 1.3,
  ], [waist, n * 1.72], [waist * 1.0, n * 1.95]]) as unknown as Pair[];
}

function torsoPath(body: Body): string {
  const half = torsoHalf(body);
  const cut = 8; // hand side of the arm, then the inside of it
  const outer = half.slice(0, cut), inner = half.slice(cut);
  const forth = smooth(outer) + smooth(inner).replace('M', 'L');
  const back = smooth(flipped(inner).reverse()).replace('M', 'L') + smooth(flipped(outer).reverse()).replace('M', 'L');
  return `${forth}${back}`;
}

function Head({ body }: { body: Body }) {
  const { b, n, baby } = frameOf(body);
  const chin = -n * (0.5 - 0.2 * baby);
  const jaw = b * (0.52 + 0.22 * baby);
  const half: Pair[] = [[jaw * 0.25, chin], [jaw * 0.72, chin - n * 0.09], [jaw * 0.98, chin - n * 0.32], [jaw * 1.05,
    chin - n * 0.6]];
  return <path class="skin" d={smooth(flipped(half).reverse().concat(half))} />;
}

export function Bones({ body }: { body: Body }) {
  const { b, n } = frameOf(body);
  const ribs: [number, number][] = [[2, 0.35], [3, 0.55], [4, 0.75], [5, 0.93], [6, 1.08], [7, 1.23]];
  const clavicle: Pair[] = [[b * 0.1, n * 0.02], [b * 0.4, n * 0.0], [b * 0.85, -n * 0.06], [b * 1.3, n * 0.02]];
  const sternum: Pair[] = [[b * 0.1, 0], [b * 0.19, n * 0.09], [b * 0.1, n * 0.27], [b * 0.12, n * 0.6], [b * 0.13,
    n * 0.95], [b * 0.05, n * 1.1]];
  const margin: Pair[] = [[b * 0.06, n * 1.1], [b * 0.3, n * 1.22], [b * 0.6, n * 1.48], [b * 0.9, n * 1.72]];
  const shown = 0.35 + 0.65 * leanness(body) + 0.25 * (1 - stoutness(body));
  return (
    <g>
      {[clavicle, flipped(clavicle)].map((line) => <path class="bone" d={smooth(line)} />)}
      <path class="bone" d={smooth(bothSides(sternum), true)} />
      <path class="bone" d={smooth([[-b * 0.1, n * 0.27], [0, n * 0.285], [b * 0.1, n * 0.27]])} />
      <g opacity={Math.min(1, shown)}>
        {[margin, flipped(margin)].map((line) => <path class="bone" d={smooth(line)} />)}
        {ribs.map(([, v]) => {
          const rib: Pair[] = [[b * 0.16, n * (v > 1 ? v - 0.06 : v)], [b * 0.6, n * v], [b * 0.85, n * (v - 0.06)], [
            b * 1.0,
            n * (v - 0.16),
          ]];
          return [rib, flipped(rib)].map((line) => <path class="rib" d={smooth(line)} />);
        })}
      </g>
    </g>
  );
}

function Surface({ body }: { body: Body }) {
  const { b, n, stout } = frameOf(body);
  const lines: Pair[][] = [];
  const grown = body.ageYears >= 14;
  if (grown && body.sex === 'female') {
    const drop = 0.12 + 0.1 * stout + (body.ageYears > 60 ? 0.06 : 0);
    lines.push([[b * 0.3, n * 1.06], [b * 0.45, n * (1.1 + drop)], [b * 0.72, n * (1.12 + drop)], [b * 0.98, n * 1.0]]);
  } else if (body.muscle > 0.45) {
    lines.push([[b * 0.16, n * 0.98], [b * 0.5, n * 1.12], [b * 0.85, n * 1.02], [b * 1.06, n * 0.68]]);
  }
  if (stout > 0.35) lines.push([[b * 0.2, n * 1.66], [b * 0.7, n * 1.72], [b * 1.05, n * 1.6]]);
  const navel = n * 1.86;
  return (
    <g>
      {lines.map((line) => [line, flipped(line)].map((one) => <path class="skin-line" d={smooth(one)} />))}
      {[-1, 1].map((side) => <circle class="skin-line" cx={side * b * 0.6} cy={n * 1.0} r={0.018 * b + 0.18} />)}
      <path class="skin-line" d={`M0 ${navel - 0.4}v.8`} />
    </g>
  );
}

export function Front({ body }: { body: Body }) {
  return (
    <g>
      <path class="skin" d={torsoPath(body)} />
      <Head body={body} />
      <g data-moves="front">
        <Bones body={body} />
        <Surface body={body} />
      </g>
    </g>
  );
}

export function Neck({ body }: { body: Body }) {
  const { b, n, baby, stout } = frameOf(body);
  const neck = b * (0.42 + 0.1 * stout);
  const jaw: Pair[] = [[b * 0.12, -n * 0.56], [b * 0.38, -n * 0.64], [b * 0.52, -n * 0.8], [b * 0.55, -n * 0.95]];
  const outline: Pair[] = [[neck * 0.98, -n * 0.74], [neck * 0.96, -n * 0.4], [neck * 1.22, -n * 0.22], [b * 0.98,
    -n * 0.07], [b * 1.3, n * 0.02]];
  const muscle: Pair[] = [[neck * 0.92, -n * 0.66], [neck * 0.6, -n * 0.3], [b * 0.13, n * 0.01]];
  const clavicle: Pair[] = [[b * 0.1, n * 0.03], [b * 0.45, n * 0.0], [b * 0.9, -n * 0.04], [b * 1.3, n * 0.06]];
  const larynx: Pair[] = [[0.02, -n * 0.4], [b * 0.09, -n * 0.38], [b * 0.1, -n * 0.27], [b * 0.05, -n * 0.22]];
  const rings = [-0.13, -0.09, -0.05, -0.01];
  return (
    <g>
      <path class="skin"
        d={`${smooth(outline)}L${b * 1.3} ${n * 0.32}H${-b * 1.3}${
          smooth(flipped(outline).reverse()).replace('M', 'L')
        }`} />
      <path class="skin" d={smooth(flipped(jaw).reverse().concat(jaw))} />
      {[muscle, flipped(muscle)].map((line) => <path class="skin-line" d={smooth(line)} />)}
      {[clavicle, flipped(clavicle)].map((line) => <path class="bone" d={smooth(line)} />)}
      <g opacity={1 - 0.5 * baby}>
        <path class="bone" d={smooth(bothSides(larynx), true)} />
        <path class="bone" d={`M${-b * 0.07} ${-n * 0.18}q${b * 0.07} ${n * 0.03} ${b * 0.14} 0`} />
        {rings.map((v) => <path class="bone" d={`M${-b * 0.06} ${n * v}q${b * 0.06} ${n * 0.02} ${b * 0.12} 0`} />)}
      </g>
      <path class="bone"
        d={`M${-b * 0.1} ${n * 0.05}Q0 ${n * 0.12} ${b * 0.1} ${n * 0.05}V${n * 0.32}M${-b * 0.1} ${n * 0.05}V${
          n * 0.32
        }`} />
    </g>
  );
}
