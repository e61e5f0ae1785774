import { describe, expect, it } from 'vitest';
import { Busy } from './busy.svelte';

const click = (detail: number) => new MouseEvent('click', { detail });

describe('a button that makes something', () => {
  it('makes one until it is made, then another', async () => {
    const busy = new Busy();
    const made: ((done?: unknown) => void)[] = [];
    const make = () => new Promise((done) => made.push(done));
    busy.run(make, click(1));
    busy.run(make, click(1));
    expect([made.length, busy.now]).toEqual([1, true]);
    made[0]!();
    await new Promise((done) => setTimeout(done));
    expect(busy.now).toBe(false);
    busy.run(make, click(1));
    expect(made.length).toBe(2);
  });

  it('makes one by a double click, however quickly it is made', async () => {
    const busy = new Busy();
    let made = 0;
    busy.run(() => made++, click(1));
    await new Promise((done) => setTimeout(done));
    busy.run(() => made++, click(2));
    expect(made).toBe(1);
    // By the keyboard a press has no number.
    busy.run(() => made++, click(0));
    expect(made).toBe(2);
  });

  it('is free again after what fails', async () => {
    const busy = new Busy();
    let tries = 0;
    const fail = () => {
      tries++;
      return Promise.reject(new Error('no')).catch(() => undefined);
    };
    busy.run(fail);
    await new Promise((done) => setTimeout(done));
    busy.run(fail);
    expect(tries).toBe(2);
  });
});
