import { expect, it, vi } from 'vitest';
import { unfold } from './unfold';

it('comes into sight once for each time it is gone to, whatever changes meanwhile', () => {
  const part = document.createElement('details');
  part.scrollIntoView = vi.fn();
  let gone: object | null = null;
  const looked = unfold(() => gone);
  looked(part);
  expect([part.open, vi.mocked(part.scrollIntoView).mock.calls.length]).toEqual([false, 0]);
  gone = { table: 'sources', id: 'Q1' };
  looked(part);
  expect([part.open, vi.mocked(part.scrollIntoView).mock.calls.length]).toEqual([true, 1]);
  // A field of it was changed: the job was read anew, and nobody went anywhere.
  looked(part);
  expect(part.scrollIntoView).toHaveBeenCalledTimes(1);
  gone = { table: 'sources', id: 'Q1' };
  looked(part);
  expect(part.scrollIntoView).toHaveBeenCalledTimes(2);
});
