import { describe, expect, it } from 'vitest';
import type { Thing } from '../api/document';
import { Choosing } from './pick';
import { Twice } from './twice';

const at = (clientX: number, clientY = 50) => ({ event: { clientX, clientY } });
const L2: Thing = { table: 'loudspeakers', id: 'L2' };
const L3: Thing = { table: 'loudspeakers', id: 'L3' };
const lawn: Thing = { table: 'areas', id: 'lawn' };

describe('choosing on the plan', () => {
  it('takes the uppermost first and goes on below with every click in the same place', () => {
    const choosing = new Choosing();
    const chosen: (Thing | null)[] = [null];
    for (const x of [100, 101, 99, 100]) chosen.push(choosing.click(at(x), [L3, L2, lawn], chosen.at(-1)!));
    expect(chosen.slice(1)).toEqual([L3, L2, lawn, L3]);
  });

  it('begins above again elsewhere, or where what was chosen is not', () => {
    const choosing = new Choosing();
    choosing.click(at(100), [L3, L2], null);
    expect(choosing.click(at(140), [L3, L2], L3)).toEqual(L3);
    expect(choosing.click(at(140), [L3, L2], lawn)).toEqual(L3);
    expect(choosing.click(at(140), [], L3)).toBeNull();
  });

  it('leaves what stands alone chosen', () => {
    const choosing = new Choosing();
    choosing.click(at(100), [lawn], null);
    expect(choosing.click(at(100), [lawn], lawn)).toEqual(lawn);
  });
});

describe('a double click', () => {
  const press = (clientX: number, timeStamp: number) => ({ clientX, clientY: 0, timeStamp });
  it('is two presses in one place within the usual time, and a third begins anew', () => {
    const twice = new Twice();
    expect([0, 200, 400].map((ms) => twice.second(press(10, ms)))).toEqual([false, true, false]);
  });
  it('is none after something else was done between', () => {
    const twice = new Twice();
    expect(twice.second(press(10, 0))).toBe(false);
    twice.forget();
    expect(twice.second(press(10, 100))).toBe(false);
    expect(twice.second(press(10, 200))).toBe(true);
  });
  it('is none elsewhere or later', () => {
    const twice = new Twice();
    expect([press(10, 0), press(40, 100), press(40, 900)].map((p) => twice.second(p))).toEqual([
      false,
      false,
      false,
    ]);
  });
});
