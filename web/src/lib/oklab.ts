/**
 * OKLab, a colour space in which equal distances look about equally different (Ottosson 2020; matrices from that
 * publication, from memory, checked in the tests against white, black and round trips).
 */
export type Triple = readonly [number, number, number];

const toLinear = (u: number) => (u <= 0.04045 ? u / 12.92 : ((u + 0.055) / 1.055) ** 2.4);
const fromLinear = (u: number) => (u <= 0.0031308 ? 12.92 * u : 1.055 * u ** (1 / 2.4) - 0.055);

/** sRGB, 0 to 1 each, to linear light. */
export const linear = (rgb: Triple): Triple => [toLinear(rgb[0]), toLinear(rgb[1]), toLinear(rgb[2])];

/** Linear light to OKLab. */
export function oklabOfLinear([r, g, b]: Triple): Triple {
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return [
    0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  ];
}

/** sRGB, 0 to 1 each, to OKLab. */
export const oklab = (rgb: Triple): Triple => oklabOfLinear(linear(rgb));

/** OKLab to sRGB, 0 to 1 each, clipped to what a screen can show. */
export function srgb([L, a, b]: Triple): Triple {
  const l = (L + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (L - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (L - 0.0894841775 * a - 1.291485548 * b) ** 3;
  const clip = (u: number) => Math.min(1, Math.max(0, fromLinear(Math.max(0, u))));
  return [
    clip(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
    clip(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
    clip(-0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s),
  ];
}

/** Lightness, chroma and hue in degrees, to OKLab. */
export function fromLch(L: number, chroma: number, hueDeg: number): Triple {
  const h = (hueDeg * Math.PI) / 180;
  return [L, chroma * Math.cos(h), chroma * Math.sin(h)];
}

/** How different two colours look, in OKLab units. */
export const distance = (p: Triple, q: Triple) => Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
