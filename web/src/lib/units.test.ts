import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  cutLength,
  dug,
  exampleIn,
  hertz,
  impedance,
  length,
  parseCelsius,
  parseLength,
  parseOhm,
  shown,
  temperature,
  THIRDS_HZ,
  typed,
} from './units';

const lengths = JSON.parse(
  readFileSync(`${import.meta.dirname}/../../../crates/model/src/units/lengths.json`, 'utf8'),
) as { read: [string, number][]; refused: string[] };

describe('lengths', () => {
  it('are written in feet and inches to the quarter', () => {
    expect(length(3.81, 'ft')).toBe('12 ft 6 in');
    expect(length(0.3048 * 11.9999, 'ft')).toBe('12 ft');
    expect(length(0.1, 'ft')).toBe('4 in');
    expect(length(-3.81, 'ft')).toBe('-12 ft 6 in');
    expect(length(3.8, 'm')).toBe('3.8 m');
  });
  // The cases the command line's parser is held against too.
  it.each(lengths.read)('are read: %s', (text, metres) =>
    expect(parseLength(text, 'm')).toBeCloseTo(metres, 9),
  );
  it.each(lengths.refused)('are refused: "%s"', (text) => expect(parseLength(text, 'm')).toBeNull());
  it('without a unit are in the unit of the person', () => {
    expect(parseLength('10', 'ft')).toBeCloseTo(3.048, 9);
    expect(typed('10', 'length', 'ft')).toBe('10 ft');
    expect(typed('10', 'length', 'm')).toBe(10);
  });
});

it('third octaves are told by their nominal names', () => {
  // IEC 61260-1: exact centres are 1000 Hz times powers of the tenth root of ten; ISO 266 names them.
  const exact = THIRDS_HZ.map((_, i) => 1000 * 10 ** ((i - 17) / 10));
  expect(exact.map(hertz)).toEqual(THIRDS_HZ.map(hertz));
  expect([hertz(exact[6]!), hertz(exact[8]!), hertz(exact[12]!)]).toEqual(['80 Hz', '125 Hz', '315 Hz']);
  expect([hertz(79.5), hertz(538.62), hertz(1250), hertz(0.5)]).toEqual([
    '79.5 Hz',
    '538.6 Hz',
    '1.25 kHz',
    '0.5 Hz',
  ]);
});

describe('what is cut and dug', () => {
  // 1 ft is 0.3048 m and 1 in is 25.4 mm by definition: 15.37 m are 50.4 ft, 0.6 m are 23.6 in.
  it('is never shorter than what is needed', () => {
    expect([cutLength(15.37, 'ft'), cutLength(15.24, 'ft')]).toEqual(['51 ft', '50 ft']);
    expect([cutLength(28.31, 'm'), cutLength(28.3, 'm')]).toEqual(['28.4 m', '28.3 m']);
    expect([dug(0.6, 'm'), dug(0.601, 'm'), dug(0.6, 'ft'), dug(0.6096, 'ft')]).toEqual([
      '600 mm',
      '610 mm',
      '24 in',
      '24 in',
    ]);
  });
});

describe('other quantities', () => {
  it('get the unit a person sees', () => {
    expect(typed('70', 'level', 'm')).toBe('70 dB');
    expect(typed('80', 'share', 'm')).toBe('80 %');
    expect(typed('0.8', 'share', 'm')).toBe(0.8);
    expect(typed('12 dBA', 'level', 'm')).toBe('12 dBA');
  });
  it('are shown as typed, numbers with their unit', () => {
    expect(shown('12 ft 6 in', 'length', 'm')).toBe('12 ft 6 in');
    expect(shown(0.8, 'share', 'm')).toBe('80 %');
    expect(shown(90, 'frequency', 'm')).toBe('90 Hz');
    expect(shown(undefined, 'length', 'm')).toBe('');
  });
});

describe('times, masses and conductors', () => {
  const DELAY = { min: 0, max: 2 };
  const LABOUR = { min: 0, max: 360_000 };
  const DAY = { min: 3600, max: 57_600 };
  it('are shown with the unit they are thought of in', () => {
    expect([28_800, 5400, 1800, 1500, 20, 0.004, 0].map((s) => shown(s, 'time', 'm'))).toEqual([
      '8 h',
      '1.5 h',
      '30 min',
      '25 min',
      '20 s',
      '4 ms',
      '0 s',
    ]);
    // 2.7 kg / 0.45359237 kg = 5.952 lb.
    expect([shown(2.7, 'mass', 'm'), shown(2.7, 'mass', 'ft')]).toEqual(['2.7 kg', '5.95 lb']);
    // ASTM B258: 14 AWG is 2.08 mm2, 16 AWG is 1.31 mm2; 2.5 mm2 is no gauge.
    expect([2.08, 1.31, 2.5].map((mm2) => shown(mm2, 'conductor cross-section', 'ft'))).toEqual([
      '14 AWG',
      '16 AWG',
      '2.5 mm2',
    ]);
    expect(shown(2.08, 'conductor cross-section', 'm')).toBe('2.08 mm2');
  });
  it('are taken in that unit where none is typed', () => {
    expect(typed('25', 'time', 'ft', LABOUR)).toBe('25 min');
    expect(typed('15', 'time', 'ft', DELAY)).toBe('15 ms');
    expect(typed('8', 'time', 'm', DAY)).toBe('8 h');
    expect(typed('1 h', 'time', 'm', LABOUR)).toBe('1 h');
    expect([typed('6', 'mass', 'ft'), typed('6', 'mass', 'm')]).toEqual(['6 lb', '6 kg']);
    expect([
      typed('14', 'conductor cross-section', 'ft'),
      typed('2.5', 'conductor cross-section', 'm'),
    ]).toEqual(['14 AWG', '2.5 mm2']);
  });
});

describe('what a meter shows', () => {
  it.each([
    ['1.9', 1.9],
    ['1,9 ohm', 1.9],
    ['2.2 kohm', 2200],
    ['2.2k', 2200],
    ['0.85 \u03a9', 0.85],
  ])('%s', (text, ohm) => expect(parseOhm(text)).toBeCloseTo(ohm, 9));
  it.each(['', 'open', '-1', '0', '500 mohm', '1.9 V'])('%s is no resistance', (text) =>
    expect(parseOhm(text)).toBeNull(),
  );
});

/** As `loamline lines` prints them: four digits, zeros at the end left out. */
it.each([
  [211.52, '211.5 ohm'],
  [69.814, '69.81 ohm'],
  [4, '4 ohm'],
  [8.25, '8.25 ohm'],
  [999.96, '1 kohm'],
  [1240, '1.24 kohm'],
])('an impedance of %s ohm that was worked out', (ohm, said) => expect(impedance(ohm)).toBe(said));

describe('temperatures', () => {
  // 59 F is 15 C and 14 F is -10 C by definition: (F - 32) / 1.8.
  it.each([
    ['15', 15],
    ['15 C', 15],
    ['59 F', 15],
    ['14 °F', -10],
    ['-4,5 deg C', -4.5],
  ])('%s', (text, celsius) => expect(parseCelsius(text, 'm')).toBeCloseTo(celsius, 9));
  it.each(['', 'warm', '15 K'])('%s is none', (text) => expect(parseCelsius(text, 'm')).toBeNull());
  it('are in the scale of the reader where none is typed', () => {
    expect(parseCelsius('59', 'ft')).toBeCloseTo(15, 9);
    expect(parseCelsius('15 C', 'ft')).toBeCloseTo(15, 9);
    expect([temperature(20, 'm'), temperature(20, 'ft'), temperature(-10, 'ft')]).toEqual([
      '20 C',
      '68 F',
      '14 F',
    ]);
    expect([typed('68', 'temperature', 'ft'), shown(20, 'temperature', 'ft')]).toEqual(['68 F', '68 F']);
    expect([typed('20', 'temperature', 'm'), shown(20, 'temperature', 'm')]).toEqual(['20 C', '20 C']);
  });
});

describe('an example in an empty box', () => {
  it.each([
    ['3.8 m or 12 ft 6 in', '3.8 m', '12 ft'],
    ['85 dB or 85 dBA', '85 dB', '85 dB'],
    ['20 C or 68 F', '20 C', '68 F'],
    ['0.316 V or -10 dBV or +4 dBu', '0.316 V', '0.316 V'],
    ['15 deg', '15 deg', '15 deg'],
  ])('of %s', (examples, metric, american) => {
    expect([exampleIn(examples, 'm'), exampleIn(examples, 'ft')]).toEqual([metric, american]);
  });
});
