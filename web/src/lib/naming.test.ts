import { afterEach, describe, expect, it } from 'vitest';
import { spoken } from '../words/spoken.svelte';
import { firstName, renamed } from './naming';

afterEach(() => spoken.speaks(null));

describe('what nobody has named', () => {
  const document = {
    surfaces: {
      s1: { name: 'Lawn', kind: 'lawn' },
      s2: { name: 'Lawn 2', kind: 'lawn' },
      s3: { name: 'Roses', kind: 'bed' },
    },
    walls: { w: { kind: 'masonry' } },
  };
  it('is called by what it is, counted where there are more', () => {
    expect(firstName(document, 'surfaces', 'lawn')).toBe('Lawn 3');
    expect(firstName(document, 'surfaces', 'bed')).toBe('Bed');
    expect(firstName(document, 'walls', 'masonry')).toBe('Wall');
    expect(firstName(document, 'walls', 'hedge')).toBe('Hedge');
    expect(firstName({}, 'areas', null)).toBe('Listening area');
  });
  it('needs no name where a tag or a reason tells it', () => {
    for (const table of ['racks', 'stubs', 'no_go', 'services', 'site'] as const)
      expect(firstName(document, table, null)).toBeNull();
  });
  it('is called anew when it turns out to be something else, unless somebody named it', () => {
    expect(renamed(document, 'surfaces', 's2', 'gravel')).toBe('Gravel');
    expect(renamed(document, 'surfaces', 's3', 'lawn')).toBeNull();
    expect(renamed(document, 'walls', 'w', 'hedge')).toBeNull();
  });
  it('is called so in the language of whoever draws it, whatever language it was called in before', async () => {
    await spoken.speaks('es');
    expect(firstName({}, 'areas', null)).toBe('Área de escucha');
    expect(firstName(document, 'surfaces', 'lawn')).toBe('Césped');
    expect(renamed(document, 'surfaces', 's2', 'gravel')).toBe('Grava');
    expect(renamed(document, 'surfaces', 's3', 'lawn')).toBeNull();
  });
});
