import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { applied } from './pointer';
import { photoAt, photoPatch, photoPath, sitePhotos } from './site-photos';

const doc = {
  visits: {
    V2: {
      date: '2026-05-04',
      kind: 'building',
      photos: {
        a: { file: 'a.jpg', at: null, position: [1, 2], notes: '' },
        j: { file: 'j.jpg', at: 'J1', position: null, notes: '' },
      },
    },
    V1: {
      date: '2026-03-01',
      kind: 'survey',
      photos: { b: { file: 'b.jpg', at: null, position: [5, 5], notes: 'Gate' } },
    },
  },
} as unknown as JobDocument;
const none = { visits: {} } as unknown as JobDocument;

describe('photos of the site', () => {
  it('are those with a place, numbered from the oldest', () => {
    expect(sitePhotos(doc).map((p) => [p.number, p.visit, p.id])).toEqual([
      [1, 'V1', 'b'],
      [2, 'V2', 'a'],
    ]);
    expect(sitePhotos(none)).toEqual([]);
  });
  it('are found by their pins', () => {
    const photos = sitePhotos(doc);
    expect(photoAt(photos, [4.8, 5.1], 0.5)?.id).toBe('b');
    expect(photoAt(photos, [3.5, 3.5], 3)?.id).toBe('b');
    expect(photoAt(photos, [30, 3], 3)).toBeNull();
    expect(photoPath(photos[0]!, 'notes')).toBe('/visits/V1/photos/b/notes');
  });
  it('belong to the visit of their day, or to a new one', () => {
    const of = (d: JobDocument, day: string) => {
      const document = { visits: d.visits } as unknown as Record<string, unknown>;
      const patch = photoPatch(document, d, { day, id: 'p', file: 'p.jpg', position: [7, 8] });
      return applied(document, patch).visits as Record<string, { kind: string; photos: object }>;
    };
    expect(of(doc, '2026-05-04').V2!.photos).toHaveProperty('p', { file: 'p.jpg', position: [7, 8] });
    expect(of(doc, '2026-06-01').V3).toMatchObject({ kind: 'maintenance', photos: { p: { file: 'p.jpg' } } });
    expect(of(none, '2026-03-01').V1).toMatchObject({ date: '2026-03-01', kind: 'survey' });
    expect(photoPatch({}, none, { day: '2026-03-01', id: 'p', file: 'p.jpg', position: [7, 8] })).toEqual([
      {
        op: 'add',
        path: '/visits',
        value: {
          V1: { date: '2026-03-01', kind: 'survey', photos: { p: { file: 'p.jpg', position: [7, 8] } } },
        },
      },
    ]);
  });
});
