/** Stub-outs that name no rack because there is only one: with a second they have to. */
import type { JobDocument } from '../api/document';
import { pointer, type Patch } from '../lib/pointer';

export function stubsOfTheOnlyRack({ racks, stubs }: JobDocument): Patch {
  const [only, ...more] = Object.keys(racks);
  if (only === undefined || more.length) return [];
  const nameless = Object.entries(stubs).filter(([, stub]) => stub.rack === null);
  return nameless.map(([id]) => ({ op: 'add', path: pointer('stubs', id, 'rack'), value: only }));
}
