import { afterEach, describe, expect, it } from 'vitest';
import { spoken } from '../words/spoken.svelte';
import { mendTold, told } from './told';

/** By definition a foot is 0.3048 m (1959): 9.144 m are 30 ft, 1.27 m 50 in, 0.4 m 15.75 in to the quarter inch. */
describe('a sentence with measures', () => {
  const sentence = 'Cut 9.1 m from R1, 1.3 m from L1, 0.40 m off.';
  const placed = (words: string, kind: string, value: number) => {
    const from = sentence.indexOf(words);
    return { from, to: from + words.length, kind, value };
  };
  const said = {
    sentence,
    measures: [
      placed('9.1 m', 'length', 9.144),
      placed('1.3 m', 'length', 1.27),
      placed('0.40 m', 'clearance', 0.4),
    ],
  };
  it('is told in feet to those who want feet', () => {
    expect(told(said, 'ft')).toBe('Cut 30 ft from R1, 4 ft 2 in from L1, 1 ft 3.75 in off.');
  });
  it('tells temperatures on their scale: 20 C are 68 F', () => {
    const warm = {
      sentence: 'It gets 20.0 C.',
      measures: [{ from: 8, to: 14, kind: 'temperature', value: 20 }],
    };
    expect(told(warm, 'ft')).toBe('It gets 68 F.');
  });
  it('stays as it is in metres, and where nothing is measured', () => {
    expect(told(said, 'm')).toBe(sentence);
    expect(told({ sentence: 'Line 3 m is open.' }, 'ft')).toBe('Line 3 m is open.');
  });
});

describe('a sentence in several languages', () => {
  const said = {
    sentence: 'Run A1 is 9.1 m long.',
    measures: [{ from: 10, to: 15, kind: 'length', value: 9.144 }],
    mend: 'Cut it.',
    spoken: {
      es: {
        sentence: 'El tramo A1 mide 9.1 m.',
        measures: [{ from: 17, to: 22, kind: 'length', value: 9.144 }],
        mend: 'Córtelo.',
      },
    },
  };
  afterEach(() => spoken.speaks(null));

  it('is told in that of its reader, in English where that one has no words of its own', async () => {
    expect([told(said, 'm'), mendTold(said)]).toEqual(['Run A1 is 9.1 m long.', 'Cut it.']);
    await spoken.speaks('es');
    expect([told(said, 'ft'), mendTold(said)]).toEqual(['El tramo A1 mide 30 ft.', 'Córtelo.']);
    await spoken.speaks('en-us');
    expect(told(said, 'ft')).toBe('Run A1 is 30 ft long.');
    expect(mendTold({ sentence: 'Nothing mends it.', mend: null })).toBeNull();
  });
});
