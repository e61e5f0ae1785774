/** Findings that say the same of different things, shown as one with everything they are about. */
import type { Alike, Finding } from '../api/shapes';

/** Fewer than this that are alike stand by themselves. */
const FEWEST = 3;

/** One entry of the list: what speaks for all, and the others it stands for. */
export interface Entry {
  finding: Finding;
  others: Finding[];
}

/** Every finding once, worst first. `alike` has their places; without it, or of an earlier list, each stands by itself. */
export function entries(findings: Finding[], alike: Alike[]): Entry[] {
  const ORDER = { error: 0, warning: 1, note: 2 };
  const told = alike.reduce((sum, group) => sum + group.findings.length, 0);
  const groups = told === findings.length ? alike.map((g) => g.findings) : findings.map((_, i) => [i]);
  const all = groups.flatMap((places) => {
    const those = places.flatMap((place) => findings[place] ?? []);
    if (those.length < FEWEST) return those.map((finding) => ({ finding, others: [] }));
    const [finding, ...others] = those;
    return [{ finding: finding!, others }];
  });
  return all.sort((a, b) => ORDER[a.finding.severity] - ORDER[b.finding.severity]);
}
