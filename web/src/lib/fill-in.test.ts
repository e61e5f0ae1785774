import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { fillIn } from './fill-in';
import { applied } from './pointer';

/** A house of 12 m by 5 m north of a listening area of 8 m by 4 m. */
const house = [[4, 13], [16, 13], [16, 18], [4, 18]]; // prettier-ignore
const lawn = [[6, 6], [14, 6], [14, 10], [6, 10]]; // prettier-ignore
const job = (of: Record<string, unknown> = {}): Record<string, unknown> => ({
  areas: { area1: { outline: lawn } },
  buildings: { building1: { name: 'House', outline: house } },
  ...of,
});
const resolved = (document: Record<string, unknown>) =>
  ({ site: { ground: 'lawn' }, racks: {}, surfaces: {}, walls: {}, ...document }) as unknown as JobDocument;
const filled = (document: Record<string, unknown>) => fillIn(document, resolved(document));

describe('what is filled in before a design is proposed', () => {
  it('is a rack at the wall nearest to where people listen, and leave to fix loudspeakers to the house', () => {
    const document = job();
    const { patch, told } = filled(document)!;
    const now = applied(document, patch) as Record<string, Record<string, unknown>>;
    // The middle of the area is at 10 m east; the wall's nearest place at 13 m north, and 0.2 m before it.
    expect(now.racks).toEqual({ R1: { position: [10, 12.8] } });
    expect(now.buildings!.building1).toMatchObject({ loudspeakers: true });
    expect(told).toHaveLength(2);
    for (const sentence of told) expect(sentence).toContain('House');
  });
  it('is what is missing alone', () => {
    const bed = { surfaces: { s: { kind: 'bed', outline: lawn } } };
    expect(filled(job(bed))!.told).toHaveLength(1);
    expect(filled(job({ ...bed, racks: { R1: { position: [1, 1] } } }))).toBeNull();
    // A bed nobody may put anything in helps no more than none.
    const kept = { surfaces: { s: { kind: 'bed', loudspeakers: false, outline: lawn } } };
    expect(filled(job(kept))!.told).toHaveLength(2);
  });
  it('is nothing where no house stands or nobody listens', () => {
    expect(filled(job({ buildings: {} }))).toBeNull();
    expect(filled(job({ areas: {} }))).toBeNull();
  });
});
