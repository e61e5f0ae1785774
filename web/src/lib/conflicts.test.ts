import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { changedAt } from './conflicts';

const doc = {
  programmes: {},
  brief: { supply: '70.7 V' },
  racks: {},
  areas: { area1: { name: 'Dining terrace' } },
  loudspeakers: { L1: {} },
} as unknown as JobDocument;
const at = (path: string) => changedAt(doc, null, path);
const named = (path: string) => [at(path).thing, at(path).what];

describe('what two people changed at once', () => {
  it('goes by the names of the forms and of things, by no key of the file', () => {
    expect(named('/brief/night_turn_down')).toEqual(['the brief', 'Turned down at night by']);
    expect(named('/job/crew_language')).toEqual(['the job', 'Language of the crew']);
    expect(named('/areas/area1/target')).toEqual(['Dining terrace', 'Level wanted']);
    expect(named('/areas/area1/outline')).toEqual(['Dining terrace', 'Outline']);
    expect(named('/areas/area1')).toEqual(['Dining terrace', '']);
    expect(named('/areas')).toEqual(['listening areas', '']);
    expect(named('/loudspeakers/L1/pitch')).toEqual(['L1', 'Tilt']);
    expect(named('/loudspeakers/L1/line')).toEqual(['L1', 'Line']);
    expect(named('/site/outline')).toEqual(['the site', 'Outline']);
    // What no form asks for goes by its words.
    expect(named('/site/true_north')).toEqual(['the site', 'True north']);
  });

  it('is told as people say it: a place, so many points, a whole thing field by field', () => {
    expect(at('/brief/night_turn_down').said('8 dB', 'm')).toBe('8 dB');
    expect(at('/brief/night_turn_down').said(undefined, 'm')).toBe('taken out');
    expect(at('/loudspeakers/L1/position').said([3, 4.5], 'm')).toBe('3 m east, 4.5 m north');
    // A foot is 0.3048 m by definition.
    expect(at('/loudspeakers/L1/position').said([3.048, '12 ft'], 'ft')).toBe('10 ft east, 12 ft north');
    expect(at('/loudspeakers/L1/line').said('A', 'm')).toBe('A');
    const outline = [[0, 0], [4, 0], [4, 3]]; // prettier-ignore
    expect(at('/areas/area1').said({ name: 'Lawn', target: '65 dBA', outline }, 'm')).toBe(
      'Name: Lawn; Level wanted: 65 dBA; Outline: 3 points',
    );
    expect(at('/loudspeakers/L1').said({ pinned: true }, 'm')).toBe('Pinned: proposals keep it: yes');
    expect(at('/brief/laying').said(['slit', 'trench'], 'm')).toBe('slit, trench');
  });
});
