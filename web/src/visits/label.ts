/** What the code on a label asks for, and where on the phone that is. */
import type { JobDocument } from '../api/document';
import type { Tab } from './way.svelte';

export const SORTS = ['cable', 'joint', 'stub', 'loudspeaker', 'output', 'input'] as const;
export type Sort = (typeof SORTS)[number];

export interface Label {
  /** Id of the job, or its reference. */
  job: string;
  sort: Sort;
  tag: string;
}

/** `#tag/JOB/SORT/TAG`; `null` for any other address, and for one that was cut off. */
export function readLabel(hash: string): Label | null {
  const [first, ...rest] = hash.replace(/^#/, '').split('/');
  if (first !== 'tag' || rest.length !== 3) return null;
  const [job, sort, tag] = rest.map(decoded);
  const known = SORTS.find((s) => s === sort);
  return job && known && tag ? { job, sort: known, tag } : null;
}

/** A part of an address that somebody damaged is nobody's. */
function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return '';
  }
}

/** Where a job has what a label hangs on; `null` when it has it no more. */
export function placeOf(
  doc: JobDocument,
  { sort, tag }: Pick<Label, 'sort' | 'tag'>,
): { tab: Tab; thing?: string } | null {
  const lineWith = (has: (line: JobDocument['lines'][string]) => boolean) => {
    const found = Object.entries(doc.lines).find(([, line]) => has(line));
    return found ? { tab: 'measure' as const, thing: found[0] } : null;
  };
  const here = (there: object | undefined) =>
    there && tag in there ? { tab: 'work' as const, thing: tag } : null;
  switch (sort) {
    case 'loudspeaker':
      return here(doc.loudspeakers);
    case 'joint':
      return here(doc.joints);
    case 'stub':
      return here(doc.stubs);
    case 'cable': {
      // A cable of several lines has the tags of all its runs.
      const runs = tag.split('+');
      return lineWith((line) => runs.some((run) => run in line.runs));
    }
    case 'output':
      return lineWith((line) => line.channel === tag) ?? (tag in doc.channels ? { tab: 'work' } : null);
    case 'input':
      return tag in doc.leads ? { tab: 'work' } : null;
  }
}
