/** Finding a job in the list by what it is called, what is said of it, or whom it is for. */
import type { JobSummary } from '../api/shapes';

/** In small letters without accents: people search as they type on whatever keyboard. */
const plain = (text: string) => text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();

/** Jobs in which every word is found, in the order they came. */
export function found<J extends Pick<JobSummary, 'name' | 'summary'> & { client?: string }>(
  jobs: readonly J[],
  typed: string,
): J[] {
  const words = plain(typed).split(/\s+/).filter(Boolean);
  return jobs.filter((job) => {
    const said = plain(`${job.name} ${job.summary} ${job.client ?? ''}`);
    return words.every((word) => said.includes(word));
  });
}

/** Jobs of a status as the list tells it: `all` of them, or those of which nothing is said (empty). */
export const ofStatus = <J extends Pick<JobSummary, 'status'>>(jobs: readonly J[], status: string): J[] =>
  status === 'all' ? [...jobs] : jobs.filter((job) => job.status === status);
