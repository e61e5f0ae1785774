/**
 * Our level palette: pale sand through clay and plum to dusk. Lightness goes one way all along and steps are equal in
 * OKLab, so that it reads in order on a grey print and to colour-blind eyes. The loudest stands out from the ground it is
 * drawn on: dusk on pale ground, pale sand on dark.
 */
import { distance, fromLch, oklab, srgb, type Triple } from './oklab';

/** Points the palette passes: lightness, chroma, hue in degrees. */
const WAY: readonly Triple[] = [
  [0.975, 0.022, 98],
  [0.91, 0.066, 90],
  [0.83, 0.1, 76],
  [0.74, 0.122, 56],
  [0.64, 0.13, 36],
  [0.545, 0.12, 12],
  [0.455, 0.105, 345],
  [0.37, 0.09, 310],
];

function along(t: number): Triple {
  const x = Math.min(1, Math.max(0, t)) * (WAY.length - 1);
  const i = Math.min(WAY.length - 2, Math.floor(x));
  const [from, to] = [WAY[i]!, WAY[i + 1]!];
  const u = x - i;
  // The hue goes down through red to violet; 8 to 340 is 8 to -20.
  const hue = (h: number) => (h > 180 ? h - 360 : h);
  const mix = (p: number, q: number) => p + (q - p) * u;
  return fromLch(mix(from[0], to[0]), mix(from[1], to[1]), mix(hue(from[2]), hue(to[2])));
}

/** What is drawn on: pale ground or dark. */
export type Ground = 'pale' | 'dark';
export type Rgb = readonly [number, number, number];

/** `steps` colours at equal perceived distances, from quiet to loud; sRGB, 0 to 255. */
export function levelColours(steps: number, ground: Ground): Rgb[] {
  const fromPale = coloursFromPale(steps);
  return ground === 'pale' ? fromPale : fromPale.reverse();
}

function coloursFromPale(steps: number): Rgb[] {
  const fine = Array.from({ length: 2001 }, (_, i) => along(i / 2000));
  const arc = [0];
  for (let i = 1; i < fine.length; i++) arc.push(arc[i - 1]! + distance(fine[i]!, fine[i - 1]!));
  const whole = arc[arc.length - 1]!;
  let i = 0;
  return Array.from({ length: steps }, (_, k) => {
    const wanted = steps === 1 ? 0 : (whole * k) / (steps - 1);
    while (i < fine.length - 1 && arc[i]! < wanted) i++;
    const [r, g, b] = srgb(fine[i]!);
    return [Math.round(r * 255), Math.round(g * 255), Math.round(b * 255)];
  });
}

/** A range of levels that colours are spread over, dB. */
export interface Scale {
  low_db: number;
  high_db: number;
  /** Width of a colour band, dB. */
  step_db: number;
}

/** Width of a colour band, dB: 3 dB is a step most people just hear as one. */
export const BAND_DB = 3;
/** Range shown: quieter places are left clear. */
const RANGE_DB = 36;

/** The scale that suits a loudest level: its top on a whole band at or above it. */
export function scaleFor(highest_db: number): Scale {
  const high_db = Math.ceil(highest_db / BAND_DB) * BAND_DB;
  return { low_db: high_db - RANGE_DB, high_db, step_db: BAND_DB };
}

/** A band of a scale, with its colour. */
export interface Band {
  from_db: number;
  to_db: number;
  rgb: Rgb;
}

/** The bands of a scale, quietest first: what map and legend are both coloured by. */
export function bandsOf(scale: Scale, ground: Ground): Band[] {
  const n = Math.round((scale.high_db - scale.low_db) / scale.step_db);
  return levelColours(n, ground).map((rgb, i) => ({
    from_db: scale.low_db + i * scale.step_db,
    to_db: scale.low_db + (i + 1) * scale.step_db,
    rgb,
  }));
}

export const css = ([r, g, b]: Rgb) => `rgb(${r} ${g} ${b})`;

/** A colour, opaque, as an RGBA word in the byte order of image data. */
export const word = ([r, g, b]: Rgb) => ((0xff << 24) | (b << 16) | (g << 8) | r) >>> 0;

/** Colours of bands by tenth of a decibel from the bottom of their scale, as words of image data. */
export function lookup(bands: readonly Band[], scale: Scale): Uint32Array {
  const perBand = scale.step_db * 10;
  return Uint32Array.from({ length: bands.length * perBand }, (_, i) =>
    word(bands[Math.floor(i / perBand)]!.rgb),
  );
}

/** Lightness of a colour, 0 black to 1 white. */
export const lightness = ([r, g, b]: Rgb) => oklab([r / 255, g / 255, b / 255])[0];
