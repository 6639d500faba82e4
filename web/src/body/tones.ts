// Ten skin tones, light to dark: an openly published scale (Monk Skin Tone Scale, E. Monk 2019), so that
// every case can be met in every tone. Hair is ours.
const tones = ['f6ede4', 'f3e7db', 'f7ead0', 'eadaba', 'd7bd96', 'a07e56', '825c43', '604134', '3a312a', '292420'];
const hair = ['6b4a2e', '5a3d28', '3d2a1e', '2c211b', '201a17', '17130f', '14110f', '120f0e', '100d0c', '0e0c0b'];
export const toneCount = tones.length;

const rgb = (hex: string): number[] => [0, 2, 4].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
// The scale's swatches are of skin in full light, paler and greyer than a lit body reads: warmed a little.
export function skinTone(tone: number): number[] {
  const [r, g, b] = rgb(tones[Math.min(toneCount - 1, Math.max(0, tone))]!) as [number, number, number];
  const light = Math.max(0, Math.min(1, (g - 0.35) / 0.5));
  // A lit body is mostly in half shade: the darkest are lifted, or the signs on them would drown.
  const lift = 1 + 0.75 * Math.max(0, 1 - g / 0.32);
  return [lift * r * (1 - 0.03 * light), lift * g * (0.925 - 0.10 * light), lift * b * (0.87 - 0.15 * light)];
}
export const hairTone = (tone: number): number[] => rgb(hair[Math.min(toneCount - 1, Math.max(0, tone))]!);
// Drawn by lot from the patient's number, so that no condition goes with a tone.
export const toneOf = (seed: number): number => {
  const mixed = Math.imul(seed ^ (seed >>> 15), 0x2c1b3c6d) >>> 0;
  return (mixed ^ (mixed >>> 13)) % toneCount;
};
