import { describe, expect, it } from 'vitest';
import { neighbourLabels } from './labels';

const neighbour = (
  place: [number, number],
  floors: Record<string, { name: string; height: number }> = {},
) => ({
  name: 'Flats across the lane',
  points: [place],
  line: [],
  height: 4,
  floors,
  day: 50,
  night: null,
});

describe('neighbours on the plan', () => {
  it('tells the floors of one house apart', () => {
    const floors = { 1: { name: 'First floor', height: 4.5 }, 2: { name: '', height: 7.5 } };
    const labels = neighbourLabels({ neighbours: { flats: neighbour([40, -14], floors) } });
    expect(labels.map((l) => l.text)).toEqual(['Flats across the lane: First floor, 2']);
  });

  it('names a house that has a name, shortened where that is long, and one that has none by its id', () => {
    const named = (name: string) => ({ ...neighbour([40, -14]), name });
    const of = { a: named('Bedroom windows of the house beyond the hedge'), b: named('') };
    const labels = neighbourLabels({ neighbours: of });
    expect(labels.map((l) => l.text)).toEqual(['Bedroom windows of the…', 'b']);
  });

  it('writes those drawn at one place one below the other', () => {
    const at = { below: neighbour([40, 2]), above: neighbour([40.1, 2]), away: neighbour([60, 2]) };
    const [below, above, away] = neighbourLabels({ neighbours: at });
    expect(above!.down).toBeGreaterThan(below!.down);
    expect(away!.down).toBe(below!.down);
  });

  it('says the level and its margin, by day or by night as the limit is nearer', () => {
    const of = { flats: { ...neighbour([40, -14]), night: 40 } };
    const said = (day_margin_db: number | null, night_margin_db: number | null, more = {}) =>
      neighbourLabels(
        { neighbours: { flats: { ...of.flats, ...more } } },
        { flats: { day_margin_db, night_margin_db } },
      )[0]!.more;
    // 50 dBA less 5.8 dB; 40 dBA less 3 dB; 50 dBA and 3.1 dB more.
    expect(said(5.8, 9)).toBe('44.2 dBA by day, 5.8 dB below the limit');
    expect(said(5.8, 3)).toBe('37.0 dBA by night, 3.0 dB below the limit');
    expect(said(-3.1, null)).toBe('53.1 dBA by day, 3.1 dB over the limit');
    expect(said(null, null)).toBeNull();
    // With a limit of the bass as well, which of the two is nearer is not told.
    expect(said(5.8, null, { day_63hz: 60 })).toBe('5.8 dB below the limit by day');
    expect(neighbourLabels({ neighbours: of })[0]!.more).toBeNull();
  });
});
