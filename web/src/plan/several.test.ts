import { describe, expect, it, vi } from 'vitest';
import type { JobDocument, Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import type { JobStore } from '../state/job.svelte';
import type { PlanPress } from './press';
import { Several } from './several.svelte';

const L = (id: string): Thing => ({ table: 'loudspeakers', id });

function store() {
  const loudspeakers = Object.fromEntries(
    (['L1', 'L2', 'L3'] as const).map((id, i) => [
      id,
      { model: 'm', mount: 'wall', bearing: 0, position: [2 * i, 0] },
    ]),
  );
  const document = { loudspeakers };
  return {
    document,
    resolved: { site: {}, ...document } as unknown as JobDocument,
    catalogue: null,
    selected: null as Thing | null,
    several: [] as readonly Thing[],
    preview: null as unknown,
    try: vi.fn(),
    get chosen() {
      return this.several.length ? this.several : this.selected ? [this.selected] : [];
    },
    choose(things: readonly Thing[]) {
      this.several = things.length > 1 ? things : [];
      this.selected = things.length === 1 ? things[0]! : null;
    },
    select(thing: Thing | null) {
      this.choose(thing ? [thing] : []);
    },
  };
}

/** A press at a place on what is under it; a metre is 10 px. */
const press = (at: Point, under: Thing[] = [], shiftKey = false) =>
  ({
    at,
    under,
    handle: null,
    event: { clientX: 10 * at[0], clientY: -10 * at[1], shiftKey },
  }) as unknown as PlanPress;

function hand() {
  const job = store();
  return { job, several: new Several(job as unknown as JobStore, ['loudspeakers']) };
}

describe('choosing several', () => {
  it('with Shift adds and takes away, and leaves other presses alone', () => {
    const { job, several } = hand();
    expect(several.press(press([0, 0], [L('L1')]))).toBe(false);
    job.select(L('L1'));
    const click = (thing: Thing) => {
      expect(several.press(press([2, 0], [thing], true))).toBe(true);
      expect(several.release()).toBe(true);
    };
    click(L('L2'));
    click(L('L3'));
    expect(job.several).toEqual([L('L1'), L('L2'), L('L3')]);
    click(L('L2'));
    expect(job.several).toEqual([L('L1'), L('L3')]);
    click(L('L1'));
    expect([job.several, job.selected]).toEqual([[], L('L3')]);
  });

  it('by a frame takes what lies inside, and keeps what was chosen', () => {
    const { job, several } = hand();
    job.select(L('L1'));
    several.press(press([1, 1], [], true));
    several.drag(press([5, -1], [], true));
    expect(several.frame).toEqual({ from: [1, 1], to: [5, -1] });
    several.release();
    expect(several.frame).toBeNull();
    expect(job.several).toEqual([L('L1'), L('L2'), L('L3')]);
  });

  it('moves all of them when one is dragged, in one edit', () => {
    const { job, several } = hand();
    job.choose([L('L1'), L('L2')]);
    expect(several.press(press([2, 0], [L('L2')]))).toBe(true);
    several.drag(press([3, 0.5]));
    several.release();
    expect(job.try).toHaveBeenCalledTimes(1);
    const [patch, note] = job.try.mock.calls[0]!;
    expect(note).toBe('Move L1 and L2');
    expect(patch).toEqual([
      { op: 'replace', path: '/loudspeakers/L1/position', value: [1, 0.5] },
      { op: 'replace', path: '/loudspeakers/L2/position', value: [3, 0.5] },
    ]);
  });

  it('ends by Escape from the inside out: the drag, the switch, the choice', () => {
    const { job, several } = hand();
    several.on = true;
    job.choose([L('L1'), L('L2')]);
    several.press(press([2, 0], [L('L2')]));
    several.drag(press([3, 0]));
    expect(several.escape()).toBe(true);
    expect(job.preview).toBeNull();
    // The release that follows is of the drag that was taken back.
    expect(several.release()).toBe(true);
    expect(job.try).not.toHaveBeenCalled();
    expect(several.on).toBe(true);
    expect([several.escape(), several.on, job.several.length]).toEqual([true, false, 2]);
    expect([several.escape(), job.several.length]).toEqual([true, 0]);
    expect(several.escape()).toBe(false);
  });

  it('are all there is, or all of what is looked at', () => {
    const { job, several } = hand();
    several.all();
    expect(job.several).toEqual([L('L1'), L('L2'), L('L3')]);
    several.all((thing) => thing.id !== 'L2');
    expect(job.several).toEqual([L('L1'), L('L3')]);
  });
});
