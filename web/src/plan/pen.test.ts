import { expect, it, vi } from 'vitest';
import type { JobDocument } from '../api/document';
import type { JobStore } from '../state/job.svelte';
import { Pen } from './pen.svelte';
import { JOINT } from './tools';

it('what was drawn is told well though its page was left before the office answered', async () => {
  let answer = () => {};
  const store = {
    document: { joints: {} } as unknown as JobDocument,
    catalogue: null,
    select: vi.fn(),
    edit: () => new Promise<void>((resolve) => (answer = resolve)),
  };
  let sheet: { takeKeys(): void; middle(): [number, number] } | null = {
    takeKeys: vi.fn(),
    middle: () => [0, 0],
  };
  const pen = new Pen(
    store as unknown as JobStore,
    () => sheet,
    () => store.document,
    () => 1,
  );
  pen.take(JOINT, false);
  pen.drawing.add([3, 4]);
  const ended = pen.finish();
  sheet = null;
  answer();
  await expect(ended).resolves.toBeUndefined();
  expect(store.select).toHaveBeenLastCalledWith({ table: 'joints', id: 'J1' });
  expect(pen.drawing.tool).toBeNull();
});
