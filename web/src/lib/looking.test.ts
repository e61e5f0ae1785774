import { describe, expect, it } from 'vitest';
import { asked, dragged, keyed, TILT, wind } from './looking';

const from = { bearing: 350, tilt: 35 };

describe('looking at the garden', () => {
  it('turns round and round and tilts between its ends', () => {
    expect(dragged(from, 50, 0)).toEqual({ bearing: 10, tilt: 35 });
    expect(dragged(from, -900, 0).bearing).toBe(350);
    expect(dragged(from, 0, 1000).tilt).toBe(TILT.most);
    expect(dragged(from, 0, -1000).tilt).toBe(TILT.least);
  });
  it('keeps the usual bearing until it is known', () => {
    expect(dragged({ bearing: null, tilt: 35 }, 50, 40)).toEqual({ bearing: null, tilt: 45 });
  });
  it('is turned by arrows and set back by Home', () => {
    expect(keyed(from, 'ArrowRight')).toEqual({ bearing: 355, tilt: 35 });
    expect(keyed(from, 'ArrowDown')).toEqual({ bearing: 350, tilt: 40 });
    expect(keyed(from, 'Home')).toEqual({ bearing: null, tilt: TILT.usual });
    expect(keyed(from, 'x')).toBeNull();
  });
  it('asks for letters that can be read on any screen', () => {
    // 960 px at 4.8 px for a millimetre; a telephone of 240 px has the least width.
    expect(asked(from, 'night', 960, 480, 78)).toBe(
      'tilt=35.0&when=night&width=200&height=100&bearing=350.0&top=78',
    );
    expect(asked({ bearing: null, tilt: 20 }, 'party', 240, 300, null)).toBe(
      'tilt=20.0&when=party&width=60&height=63',
    );
  });
  it('asks for one programme alone', () => {
    expect(asked(from, 'party', 960, 480, null, 'pool')).toContain('&programme=pool');
  });
  it('names the winds', () => {
    expect([0, 44, 181, 350].map(wind)).toEqual(['north', 'north-east', 'south', 'north']);
  });
});
