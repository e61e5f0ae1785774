/** Who stands in series with whom, as crates/model/src/job/series.rs. */
import type { JobDocument } from '../api/document';

/** A run as it lies, from its end nearer to the rack. */
interface Laid {
  line: string;
  id: string;
  from: string;
  to: string;
}

/** The loudspeakers a loudspeaker stands in series with, from the rack outwards; none for one that stands across the line. */
export function inSeriesWith(doc: JobDocument, runs: Laid[], tag: string): string[] {
  const line = doc.loudspeakers[tag]?.line;
  const own = runs.filter((r) => r.line === line);
  const inSeries = (r: Laid) => doc.lines[r.line]?.runs[r.id]?.in_series === true;
  const before: string[] = [];
  for (let run = own.find((r) => r.to === tag); run;) {
    const here: Laid = run;
    if (inSeries(here)) before.unshift(here.from);
    run = own.find((r) => r.to === here.from);
  }
  const behind: string[] = [];
  const follow = (r: Laid) => {
    if (doc.loudspeakers[r.to]) behind.push(r.to);
    own.filter((next) => next.from === r.to).forEach(follow);
  };
  own.filter((r) => r.from === tag && inSeries(r)).forEach(follow);
  return [...before, ...behind];
}

/** "L1", "L1 and L2", "L1, L2 and L3". */
export const listed = (names: string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)!}`;
