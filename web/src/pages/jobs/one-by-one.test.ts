import { expect, it } from 'vitest';
import { oneByOne } from './one-by-one';

it('asks in turn, and goes on after a refusal', async () => {
  let under_way = 0;
  const most: number[] = [];
  const ask = (answer: () => number) => async () => {
    most.push(++under_way);
    await new Promise((done) => setTimeout(done, 1));
    under_way--;
    return answer();
  };
  const refused = () => {
    throw new Error('gone');
  };
  const all = await Promise.allSettled(
    [ask(() => 1), ask(refused), ask(() => 3)].map((each) => oneByOne(each)),
  );
  expect(all.map((a) => a.status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
  expect(most).toEqual([1, 1, 1]);
});
