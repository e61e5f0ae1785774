import { describe, expect, it } from 'vitest';
import type { Pack } from './shapes';
import { runTasks, tasksAt } from './work';

/** Two lines that leave the rack in one cable, and a subwoofer in its hole. */
const pack = {
  runs: [
    { line: 'A', id: 'A1', tag: 'A1+B1', shared: false, from: 'R1', to: 'J1', cable: 'four', order_m: 28.31 },
    { line: 'B', id: 'B1', tag: 'A1+B1', shared: true, from: 'R1', to: 'J1', cable: 'four', order_m: 28.31 },
    { line: 'B', id: 'B2', tag: 'B2', shared: false, from: 'J1', to: 'W1', cable: 'four', order_m: 5 },
  ],
  catalogue: {
    cables: { four: { description: 'Four conductors' } },
    loudspeakers: { sub: { description: 'Subwoofer' } },
  },
  resolved: { loudspeakers: { W1: { model: 'sub', line: 'B', tap: null, bearing: 0 } } },
  holes: [{ loudspeaker: 'W1', length_m: 0.6, width_m: 0.55, depth_m: 0.4 }],
} as unknown as Pack;

describe('work on a shared cable', () => {
  it('names the cable by its own tag, and cuts it once', () => {
    const [a] = runTasks(pack, 'A', 'm');
    const [b, alone] = runTasks(pack, 'B', 'm');
    expect([a!.label, a!.detail]).toEqual(['Run A1+B1 laid: R1 to J1', '28.4 m of Four conductors']);
    expect([b!.label, b!.detail]).toEqual(['Run A1+B1 laid: R1 to J1', 'the same cable as of line A']);
    expect([alone!.label, alone!.detail]).toEqual(['Run B2 laid: J1 to W1', '5.0 m of Four conductors']);
    expect(new Set([a!.id, b!.id]).size).toBe(2);
  });

  it('names the run in a pack from before cables were told apart from runs', () => {
    const runs = pack.runs.map(({ line, id, from, to, cable, order_m }) => ({
      line,
      id,
      from,
      to,
      cable,
      order_m,
    }));
    const labels = runTasks({ ...pack, runs } as unknown as Pack, 'B', 'ft').map((t) => t.label);
    expect(labels).toEqual(['Run B1 laid: R1 to J1', 'Run B2 laid: J1 to W1']);
  });
});

describe('a hole', () => {
  it('is dug to the size of the crew pack, room and gravel in it', () => {
    const hole = (unit: 'm' | 'ft') => tasksAt(pack, 'W1', unit).find((t) => t.done.work === 'hole')?.detail;
    expect(hole('m')).toBe('600 mm by 550 mm, 400 mm deep');
    expect(hole('ft')).toBe('24 in by 22 in, 16 in deep');
  });
});
