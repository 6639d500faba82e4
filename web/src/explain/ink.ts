// Colours of drawings on canvas: the theme's own, and one wash from paper to ink for levels.
import { theme } from '../lib/settings';

type Rgb = [number, number, number];
function parse(colour: string): Rgb {
  const hex = colour.trim().replace('#', '');
  return [0, 2, 4].map((i) => parseInt(hex.slice(i, i + 2), 16)) as Rgb;
}

export function cssColour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

// How much larger than by hand everything is drawn: words on canvas must grow with the others.
export const enlargement = (): number =>
  Math.max(1, parseFloat(getComputedStyle(document.documentElement).fontSize) / 17);

// 256 steps from the card through a tint of the accent to the ink, packed for ImageData (ABGR).
export function wash(): Uint32Array {
  void theme.value; // repaint callers subscribe through this
  const stops: Rgb[] = [parse(cssColour('--card')), parse(cssColour('--wash')), parse(cssColour('--accent')),
    parse(cssColour('--ink'))];
  const places = [0, 0.3, 0.72, 1];
  return Uint32Array.from({ length: 256 }, (_, i) => {
    const t = i / 255;
    let k = 0;
    while (k < 2 && t > places[k + 1]!) k++;
    const mix = (t - places[k]!) / (places[k + 1]! - places[k]!);
    const [r, g, b] = [0, 1, 2].map((c) =>
      Math.round(stops[k]![c]! + (stops[k + 1]![c]! - stops[k]![c]!) * mix)
    ) as Rgb;
    return (255 << 24) | (b << 16) | (g << 8) | r;
  });
}
