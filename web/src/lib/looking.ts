/** Where one looks at the garden from: turned and tilted by a hand, by keys; asked of the server. */

export interface Looking {
  /** Bearing one looks along, degrees clockwise from plan north; `null` until the server said the usual one. */
  bearing: number | null;
  /** How far down one looks, degrees. */
  tilt: number;
}

/** Least and most tilt that the server draws, and the usual one. */
export const TILT = { least: 15, most: 85, usual: 35 };
/** Degrees for a pixel of a hand's way: a hand's width turns a third of the way round. */
const TURN_PER_PX = 0.4;
const TILT_PER_PX = 0.25;
/** Degrees of a key. */
const KEY_DEG = 5;

const round = (deg: number) => ((deg % 360) + 360) % 360;
const tilted = (deg: number) => Math.min(TILT.most, Math.max(TILT.least, deg));

/** The view after a hand moved by so many pixels: what is near follows the hand. */
export const dragged = (from: Looking, dx: number, dy: number): Looking => ({
  bearing: from.bearing === null ? null : round(from.bearing + dx * TURN_PER_PX),
  tilt: tilted(from.tilt + dy * TILT_PER_PX),
});

/** The view after a key; `null` for a key that means nothing here. */
export function keyed(from: Looking, key: string): Looking | null {
  const by = (turn: number, tilt: number): Looking => ({
    bearing: from.bearing === null ? null : round(from.bearing + turn),
    tilt: tilted(from.tilt + tilt),
  });
  if (key === 'ArrowLeft') return by(-KEY_DEG, 0);
  if (key === 'ArrowRight') return by(KEY_DEG, 0);
  if (key === 'ArrowUp') return by(0, -KEY_DEG);
  if (key === 'ArrowDown') return by(0, KEY_DEG);
  if (key === 'Home') return { bearing: null, tilt: TILT.usual };
  return null;
}

/** Pixels for a millimetre: letters of 2.5 mm are then 12 px high. */
const PX_PER_MM = 4.8;
const [LEAST_MM, MOST_MM] = [60, 420];

/** What is asked of the server for a picture of so many pixels; of one programme alone where one is named. */
export function asked(
  looking: Looking,
  when: string,
  width_px: number,
  height_px: number,
  top_db: number | null,
  programme = '',
): string {
  const mm = (px: number) => String(Math.round(Math.min(MOST_MM, Math.max(LEAST_MM, px / PX_PER_MM))));
  const query = new URLSearchParams({
    tilt: looking.tilt.toFixed(1),
    when,
    width: mm(width_px),
    height: mm(height_px),
  });
  if (looking.bearing !== null) query.set('bearing', looking.bearing.toFixed(1));
  if (top_db !== null) query.set('top', String(top_db));
  if (programme) query.set('programme', programme);
  return query.toString();
}

/** The eight of them, from north. */
export const WINDS = [
  'north',
  'north-east',
  'east',
  'south-east',
  'south',
  'south-west',
  'west',
  'north-west',
];

/** Which way one looks, in words. */
export const wind = (bearing: number) => WINDS[Math.round(round(bearing) / 45) % 8]!;
