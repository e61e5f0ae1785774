import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { Turns } from './turns';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function asker() {
  const asked: number[] = [];
  const now = { at: 0 };
  const turns = new Turns(() => {
    asked.push(now.at);
    return asked.length;
  }, 350);
  const move = async (at: number) => {
    now.at = at;
    turns.want();
    await Promise.resolve();
  };
  return { asked, turns, move };
}

it('asks at once, then for what is newest when the answer is here', async () => {
  const { asked, turns, move } = asker();
  await move(1);
  expect(asked).toEqual([1]);
  for (const at of [2, 3, 4]) await move(at);
  expect(asked).toEqual([1]);
  turns.answered(1);
  expect(asked).toEqual([1, 4]);
  turns.answered(2);
  expect(asked).toEqual([1, 4]);
  await move(5);
  expect(asked).toEqual([1, 4, 5]);
});

it('makes one question of what one event changes', async () => {
  const { asked, turns } = asker();
  turns.want();
  turns.want();
  await Promise.resolve();
  expect(asked).toEqual([0]);
});

it('waits for no answer that is lost', async () => {
  const { asked, turns, move } = asker();
  await move(1);
  vi.advanceTimersByTime(400);
  await move(2);
  expect(asked).toEqual([1, 2]);
  await move(3);
  turns.forget();
  await move(4);
  expect(asked).toEqual([1, 2, 4]);
});
