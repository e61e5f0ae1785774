/** Lengths and levels as people read and type them. The server reads what is typed; here only bare numbers get their unit. */

import { say } from '../words/spoken.svelte';

export type LengthUnit = 'm' | 'ft';

/** A foot, m. */
export const FT_M = 0.3048;

/** Text without needless zeros. */
export const trim = (value: number, digits: number) => {
  const text = value.toFixed(digits);
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
};

/** A length with its unit: "3.81 m", or "12 ft 6 in" to the quarter inch. */
export function length(metres: number, unit: LengthUnit, digits = 2): string {
  if (unit === 'm') return `${trim(metres, digits)} m`;
  const quarters = Math.round((Math.abs(metres) / FT_M) * 48);
  const sign = metres < 0 && quarters > 0 ? '-' : '';
  const feet = Math.floor(quarters / 48);
  const inches = (quarters % 48) / 4;
  if (inches === 0) return `${sign}${feet} ft`;
  return feet === 0 ? `${sign}${inches} in` : `${sign}${feet} ft ${inches} in`;
}

/** A millionth of a step is nothing a tape shows. */
const WHOLE_STEP = 1e-6;

/** A length of cable to cut, never shorter than what it has to reach, as the papers round it: "38.3 m", "126 ft". */
export function cutLength(metres: number, unit: LengthUnit): string {
  if (unit === 'm') return `${(Math.ceil(metres * 10 - WHOLE_STEP) / 10).toFixed(1)} m`;
  return `${Math.ceil(metres / FT_M - WHOLE_STEP)} ft`;
}

/** A length along the ground or of cable, where centimetres and inches do not matter: "38.2 m", "125 ft". */
export const wayLength = (metres: number, unit: LengthUnit) =>
  unit === 'm' ? `${metres.toFixed(1)} m` : `${Math.round(metres / FT_M)} ft`;

/** A dimension of a hole, rounded up as the papers round it: 10 mm, or a whole inch. */
export function dug(metres: number, unit: LengthUnit): string {
  if (unit === 'm') return `${Math.ceil(metres * 100 - WHOLE_STEP) * 10} mm`;
  return `${Math.ceil((metres / FT_M) * 12 - WHOLE_STEP)} in`;
}

/** An area with its unit, from square metres: "38.4 m²", "413 sq ft". */
export const square = (m2: number, unit: LengthUnit) =>
  unit === 'm' ? `${trim(m2, 1)} m²` : `${trim(m2 / FT_M ** 2, 0)} sq ft`;

/** Reads a length as typed, metres; `null` when it is not one. A bare number is in `unit`. */
export function parseLength(text: string, unit: LengthUnit): number | null {
  const plain = text
    .toLowerCase()
    .replace(/[’‘′]/g, "'")
    .replace(/[”“″]/g, '"')
    .replace(/[−–]/g, '-')
    .replace(/[¼½¾]/g, (part) => ` ${'¼½¾'.indexOf(part) + 1}/4`)
    .trim();
  const sign = plain.startsWith('-') ? -1 : 1;
  const rest = plain.replace(/^[-+]\s*/, '');
  if (/^\d*\.?\d+$|^\d+\.$/.test(rest)) return sign * Number(rest) * (unit === 'm' ? 1 : FT_M);
  const scales: Record<string, number> = {
    m: 1,
    metre: 1,
    metres: 1,
    meter: 1,
    meters: 1,
    mm: 1e-3,
    cm: 1e-2,
    km: 1e3,
    ft: FT_M,
    "'": FT_M,
    foot: FT_M,
    feet: FT_M,
    in: FT_M / 12,
    '"': FT_M / 12,
    "''": FT_M / 12,
    inch: FT_M / 12,
    inches: FT_M / 12,
    yd: 0.9144,
    yard: 0.9144,
    yards: 0.9144,
  };
  let sum = 0;
  let left = rest;
  let last = Infinity;
  while (left) {
    const part = /^(\d+\s+\d+\/\d+|\d+\/\d+|\d*\.?\d+)\s*([a-z]+|'{1,2}|")?\s*(-\s*)?/.exec(left);
    if (!part) return null;
    const after = left.slice(part[0].length);
    // `5 ft 6`, `5' 6`: what stands last behind feet is inches.
    const bare = last === FT_M ? FT_M / 12 : last === Infinity ? (unit === 'm' ? 1 : FT_M) : undefined;
    const scale = part[2] ? scales[part[2]] : after ? undefined : bare;
    if (scale === undefined || scale >= last || (part[3] && !after)) return null;
    const number = part[1]!.split(/\s+/).reduce((total, piece) => {
      const [top, bottom] = piece.split('/').map(Number) as [number, number | undefined];
      return total + (bottom === undefined ? top : top / bottom);
    }, 0);
    sum += number * scale;
    last = scale;
    left = after;
  }
  return rest ? sign * sum : null;
}

/** A number as typed, with a comma as well as a point; `null` when it is none. */
const decimal = (text: string) =>
  /^[-+]?(\d+[.,]?\d*|[.,]\d+)$/.test(text) ? Number(text.replace(',', '.')) : null;

/** A figure as a meter shows it: three digits, as crates and papers write it. */
export const meterDigits = (value: number) => value.toFixed(value >= 100 ? 0 : value >= 10 ? 1 : 2);

/** A resistance as a meter shows it: "14.3 ohm", "20.5 kohm", "1.20 Mohm". */
export function ohms(ohm: number): string {
  const [scale, unit] = ohm >= 1e6 ? [1e6, 'Mohm'] : ohm >= 1e4 ? [1e3, 'kohm'] : [1, 'ohm'];
  return `${meterDigits(ohm / scale)} ${unit}`;
}

/** An impedance that was worked out, to four digits as the command line prints it: "211.5 ohm", "69.81 ohm", "1.2 kohm". */
export function impedance(ohm: number): string {
  const [scale, unit] = ohm >= 999_950 ? [1e6, 'Mohm'] : ohm >= 999.95 ? [1e3, 'kohm'] : [1, 'ohm'];
  const value = ohm / scale;
  return `${trim(value, Math.max(0, 3 - Math.floor(Math.log10(value))))} ${unit}`;
}

/** Reads what a meter shows, ohm: "1.9", "1.9 ohm", "2.2 kohm"; `null` when it is no resistance above zero. */
export function parseOhm(text: string): number | null {
  const part = /^(.*?)\s*(k?)(?:ohms?|\u03a9|\u2126)?$/i.exec(text.trim());
  const ohm = decimal(part?.[1] ?? '');
  return ohm !== null && ohm > 0 ? ohm * (part![2] ? 1000 : 1) : null;
}

/** The scale of temperature that goes with a unit of length. */
const scaleOf = (unit: LengthUnit) => (unit === 'ft' ? 'F' : 'C');

/** A temperature with its unit, from degrees Celsius: "20 C", "68 F". */
export const temperature = (celsius: number, unit: LengthUnit) =>
  `${trim(unit === 'ft' ? celsius * 1.8 + 32 : celsius, 2)} ${scaleOf(unit)}`;

/** Reads a temperature, degrees Celsius: "15", "15 C", "59 F"; `null` when it is none. A bare number is as `unit` has it. */
export function parseCelsius(text: string, unit: LengthUnit): number | null {
  const part = /^(.*?)\s*(?:°|deg)?\s*([cf]?)$/i.exec(text.trim());
  const degrees = decimal(part?.[1] ?? '');
  if (degrees === null) return null;
  return (part![2] || scaleOf(unit)).toUpperCase() === 'F' ? (degrees - 32) / 1.8 : degrees;
}

/** How a bare number of a quantity is written with its unit. */
const BARE: Record<string, string> = {
  level: 'dB',
  angle: 'deg',
  voltage: 'V',
  'signal voltage': 'V',
  current: 'A',
  power: 'W',
  impedance: 'ohm',
  frequency: 'Hz',
  pressure: 'Pa',
};

/** How much a field takes, in the unit of the schema. */
export interface Bounds {
  min?: number | undefined;
  max?: number | undefined;
}

/** A pound, kg: exact, by the international agreement on the pound. */
const LB_KG = 0.45359237;

/** Times by the unit a person thinks of them in: a delay, the labour of a thing, a day's work. */
const TIMES = { ms: 1e-3, s: 1, min: 60, h: 3600 } as const;

function timeUnit({ min = 0, max = Infinity }: Bounds): keyof typeof TIMES {
  if (max < TIMES.min) return 'ms';
  return min >= TIMES.h ? 'h' : 'min';
}

/** A time with the unit it is a plain number of: "15 ms", "30 min", "1.5 h". */
function time(s: number): string {
  const unit = s >= TIMES.h ? 'h' : s >= TIMES.min ? 'min' : s >= 1 || s === 0 ? 's' : 'ms';
  return `${trim(s / TIMES[unit], 3)} ${unit}`;
}

/** A conductor by its gauge where it is one and the reader goes by gauges, from square millimetres (ASTM B258). */
function conductor(mm2: number, unit: LengthUnit): string {
  const gauge = 36 - (39 * Math.log(Math.sqrt((4 * mm2) / Math.PI) / 0.127)) / Math.log(92);
  const whole = Math.round(gauge);
  // Areas are stated to three digits: a step of the gauges is 26 %.
  const isGauge = unit === 'ft' && whole >= 1 && whole <= 40 && Math.abs(gauge - whole) < 0.05;
  return isGauge ? `${whole} AWG` : `${trim(mm2, 3)} mm2`;
}

/** The unit a number alone is taken in: that of the reader for the quantity; none where a number has none. */
export function bareUnit(
  quantity: string | undefined,
  unit: LengthUnit,
  range: Bounds = {},
): string | undefined {
  switch (quantity) {
    case 'length':
      return unit;
    case 'temperature':
      return scaleOf(unit);
    case 'mass':
      return unit === 'ft' ? 'lb' : 'kg';
    case 'conductor cross-section':
      return unit === 'ft' ? 'AWG' : 'mm2';
    case 'time':
      return timeUnit(range);
    default:
      return quantity ? BARE[quantity] : undefined;
  }
}

/** What is sent for what was typed: a bare number gets the unit a person sees beside the field; numbers without a unit stay numbers. */
export function typed(
  text: string,
  quantity: string | undefined,
  unit: LengthUnit,
  range: Bounds = {},
): string | number {
  const bare = text.trim();
  if (!/^[-+]?(\d+\.?\d*|\.\d+)$/.test(bare)) return bare;
  if (quantity === 'length') return unit === 'ft' ? `${bare} ft` : Number(bare);
  if (quantity === 'share') return Number(bare) > 1 ? `${bare} %` : Number(bare);
  const symbol = bareUnit(quantity, unit, range);
  return symbol ? `${bare} ${symbol}` : Number(bare);
}

/** A value of the document as a field shows it: text as typed; a number with its unit. */
export function shown(value: unknown, quantity: string | undefined, unit: LengthUnit): string {
  if (value === undefined || value === null) return '';
  if (typeof value !== 'number') return String(value);
  if (quantity === 'length') return length(value, unit, 3);
  if (quantity === 'temperature') return temperature(value, unit);
  if (quantity === 'time') return time(value);
  if (quantity === 'mass') return unit === 'ft' ? `${trim(value / LB_KG, 2)} lb` : `${trim(value, 3)} kg`;
  if (quantity === 'conductor cross-section') return conductor(value, unit);
  if (quantity === 'share') return `${trim(value * 100, 1)} %`;
  const symbol = quantity ? BARE[quantity] : undefined;
  return symbol ? `${trim(value, 4)} ${symbol}` : trim(value, 6);
}

/** An example of the schema ("3.8 m or 12 ft 6 in") as an empty box has room for it: one, in the reader's units. */
export function exampleIn(examples: string, unit: LengthUnit): string {
  const each = examples.split(' or ');
  const theirs = unit === 'ft' ? each.find((e) => /\d (sq ft|cu ft|ft|in|F|lb)\b/.test(e)) : undefined;
  return (theirs ?? each[0]!).replace(/ ft .*/, ' ft');
}

export const db = (value: number | null | undefined, digits = 1) =>
  value === null || value === undefined || !Number.isFinite(value) ? '–' : `${value.toFixed(digits)} dB`;
/** Below this nothing sounds at all, dB. */
export const NOTHING_DB = -100;
export const dba = (value: number | null | undefined) =>
  value === null || value === undefined || !Number.isFinite(value)
    ? '–'
    : value < NOTHING_DB
      ? say('no sound')
      : `${value.toFixed(1)} dBA`;
export const percent = (share: number | null | undefined) =>
  share === null || share === undefined || !Number.isFinite(share) ? '–' : `${Math.round(share * 100)} %`;
/** How likely something is: never quite certain, never quite out of the question. */
export const chance = (share: number) =>
  share > 0 && share < 0.005
    ? say('under 1 %')
    : share < 1 && share >= 0.995
      ? say('over 99 %')
      : percent(share);
export const number = (value: number | null | undefined, unit: string, digits = 1) =>
  value === null || value === undefined || !Number.isFinite(value) ? '–' : `${value.toFixed(digits)} ${unit}`;

/** A moment as this browser's language writes it, to the minute. */
export const moment = (at: string) =>
  new Date(at).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });

/** The day of a moment, likewise. */
export const day = (at: string) => new Date(at).toLocaleDateString(undefined, { dateStyle: 'medium' });

/** What the server says in passing, as a sentence of its own. */
export const sentence = (said: string) =>
  `${said.charAt(0).toUpperCase()}${said.slice(1)}${/[.!?]$/.test(said) ? '' : '.'}`;

/** Nominal third-octave centres, 20 Hz to 20 kHz (IEC 61260-1). */
export const THIRDS_HZ = [
  20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000,
  2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
] as const;

/** A frequency: "63 Hz", "1.25 kHz"; a third octave by its nominal name, not by its exact centre (IEC 61260-1, ISO 266). */
export function hertz(hz: number): string {
  const place = Math.round(10 * Math.log10(hz / 1000));
  const isCentre = Math.abs(hz / (1000 * 10 ** (place / 10)) - 1) < 1e-6;
  const called = (isCentre && THIRDS_HZ[place + 17]) || hz;
  return called >= 1000 ? `${trim(called / 1000, 2)} kHz` : `${trim(called, 1)} Hz`;
}
