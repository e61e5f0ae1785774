/** What mends a finding by one click, where something does. The server says so with the finding. */
import { get, jobPath, send } from '../api/client';
import type { Finding, ProcessingView, RouteView } from '../api/shapes';
import type { Patch } from './pointer';

export interface Mend {
  label: string;
  /** Works the edit out; empty when there is nothing left to change. */
  patch(job: string): Promise<Patch>;
}

/** Filters, gains and limiters are worked out for all channels together, ways for all runs together. */
const BY: Record<Extract<Finding['remedy'], string>, Mend> = {
  processing: {
    label: 'Set the processing',
    patch: async (job) => (await get<ProcessingView>(jobPath(job, '/processing'))).edit,
  },
  routes: {
    label: 'Route again',
    patch: async (job) => (await send<RouteView>('POST', jobPath(job, '/route'))).edit,
  },
};

/** The one click; none where a person has to decide. */
export function mendOf(finding: Finding): Mend | null {
  const { remedy } = finding;
  if (remedy === undefined) return null;
  if (typeof remedy === 'string') return BY[remedy];
  return remedy.edit.length ? { label: 'Mend it', patch: () => Promise.resolve(remedy.edit) } : null;
}
