/** Finding a job in the list by what it is called or what is said of it. */
import type { JobSummary } from '../api/shapes';

/** In small letters without accents: people search as they type on whatever keyboard. */
const plain = (text: string) => text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();

/** Jobs in which every word is found, in the order they came. */
export function found<J extends Pick<JobSummary, 'name' | 'summary'>>(
  jobs: readonly J[],
  typed: string,
): J[] {
  const words = plain(typed).split(/\s+/).filter(Boolean);
  return jobs.filter((job) => {
    const said = plain(`${job.name} ${job.summary}`);
    return words.every((word) => said.includes(word));
  });
}
