/**
 * The phone's ranking against the engine's, on the sets that crates/study/examples/phone_readings.rs wrote into the file
 * named by LOAMLINE_SETS.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { weigh, type Fault, type Shown, type Table } from '../../src/visits/evaluate';
import { rank } from '../../src/visits/ranking';

interface Sets {
  tables: Record<string, Table>;
  sets: {
    line: string;
    readings: Shown[];
    opened: string[];
    explanations: { fault: Fault; probability: number }[];
    unexplained: boolean;
    answers: number[][];
  }[];
}

/** What is not listed by the engine is below this. */
const LISTED = 1e-4;
const AGREED = 1e-6;
const ground = { runs: [], place: () => null };

describe('the ranking on the phone', () => {
  it('is that of the engine', () => {
    const file = process.env.LOAMLINE_SETS;
    if (!file)
      throw new Error('LOAMLINE_SETS names the file of reading sets; checks/test_web_visits.py makes it');
    const { tables, sets } = JSON.parse(readFileSync(file, 'utf8')) as Sets;
    expect(sets.length).toBeGreaterThanOrEqual(2000);
    let worst = 0;
    let faults = 0;
    for (const set of sets) {
      const table = tables[set.line]!;
      const { probability } = weigh(table, set.readings, set.opened);
      const engine = new Map(set.explanations.map((e) => [JSON.stringify(e.fault), e.probability]));
      table.hypotheses.forEach((h, i) => {
        const theirs = engine.get(JSON.stringify(h.fault));
        if (theirs === undefined) expect(probability[i]!).toBeLessThan(LISTED + AGREED);
        else worst = Math.max(worst, Math.abs(theirs - probability[i]!));
        engine.delete(JSON.stringify(h.fault));
      });
      expect([...engine.keys()]).toEqual([]);
      const ranking = rank(table, set.readings, set.opened, ground);
      expect(ranking.unexplained !== null).toBe(set.unexplained);
      if (set.explanations[0]!.fault.kind !== 'healthy') faults++;
      // The same faults cannot be told apart.
      const first = (members: number[]) => members.map((m) => set.explanations[m]!.fault);
      const ours = new Map<number, Fault[]>();
      for (const e of ranking.explanations) ours.set(e.answer, [...(ours.get(e.answer) ?? []), e.fault]);
      const groups = (all: Fault[][]) =>
        all
          .map((g) =>
            g
              .map((f) => JSON.stringify(f))
              .sort()
              .join(),
          )
          .sort();
      expect(groups([...ours.values()])).toEqual(groups(set.answers.map(first)));
    }
    console.log(
      `${sets.length} reading sets, ${faults} of them with a fault first: probabilities differ by at most ${worst.toExponential(1)}`,
    );
    expect(worst).toBeLessThan(AGREED);
    expect(faults).toBeGreaterThan(sets.length / 3);
  }, 300_000);
});
