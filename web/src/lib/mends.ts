/** What mends a finding by one click, where something does. */
import { get, jobPath, send } from '../api/client';
import type { Finding, ProcessingView, RouteView } from '../api/shapes';
import type { Patch } from './pointer';

export interface Mend {
  label: string;
  /** Works the edit out; empty when there is nothing left to change. */
  patch(job: string): Promise<Patch>;
}

const PROCESSING: Mend = {
  label: 'Set the processing',
  patch: async (job) => (await get<ProcessingView>(jobPath(job, '/processing'))).patch,
};
const ROUTE: Mend = {
  label: 'Route again',
  patch: async (job) => (await send<RouteView>('POST', jobPath(job, '/route'))).patch,
};

/**
 * Filters, gains and limiters are worked out for all channels together, ways for all runs together: findings about those
 * are mended by taking that over. Others need a decision, and only say what would help.
 */
export function mendOf(finding: Finding): Mend | null {
  if (finding.mend_patch?.length) {
    const patch = finding.mend_patch;
    return { label: 'Mend it', patch: () => Promise.resolve(patch) };
  }
  const way_out = finding.mend ?? '';
  if (finding.subject.kind === 'channels' || /high-pass|\bgain\b|settings worked out/.test(way_out))
    return PROCESSING;
  if (finding.subject.kind === 'lines' && /^(Lead it|Put loudspeakers on it and route)/.test(way_out))
    return ROUTE;
  return null;
}
