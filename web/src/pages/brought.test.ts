import { afterEach, describe, expect, it, vi } from 'vitest';
import { bringAhead, Brought } from './brought.svelte';

/** A part that is here once `arrive` is called, or `fail`; how often it was asked for. */
function part(name: string) {
  let asked = 0;
  let settle: { arrive: () => void; fail: () => void } | null = null;
  const brought = new Brought(() => {
    asked++;
    return new Promise<{ default: string }>((resolve, reject) => {
      settle = { arrive: () => resolve({ default: name }), fail: () => reject(new Error('out of reach')) };
    });
  });
  return { brought, asked: () => asked, arrive: () => settle!.arrive(), fail: () => settle!.fail() };
}

describe('a page that is brought', () => {
  it('is asked for once, however often it is opened', async () => {
    const cable = part('cable');
    const coming = cable.brought.bring();
    expect(cable.brought.here).toBeNull();
    void cable.brought.bring();
    cable.arrive();
    await coming;
    await cable.brought.bring();
    expect(cable.brought.here).toBe('cable');
    expect(cable.asked()).toBe(1);
  });

  it('is tried again after it could not be had', async () => {
    const cable = part('cable');
    let coming = cable.brought.bring();
    cable.fail();
    await coming;
    expect([cable.brought.here, cable.brought.failed]).toEqual([null, true]);
    coming = cable.brought.bring();
    expect(cable.brought.failed).toBe(false);
    cable.arrive();
    await coming;
    expect([cable.brought.here, cable.brought.failed]).toEqual(['cable', false]);
    expect(cable.asked()).toBe(2);
  });
});

describe('pages brought ahead', () => {
  afterEach(() => vi.unstubAllGlobals());
  /** What waits until the browser is idle. */
  function idleBrowser() {
    const waiting: (() => void)[] = [];
    vi.stubGlobal('requestIdleCallback', (act: () => void) => waiting.push(act));
    return { waiting, idle: () => waiting.shift()?.() };
  }
  const settled = () => new Promise((done) => setTimeout(done));

  it('come one after the other, whether or not one could be had', async () => {
    const { waiting, idle } = idleBrowser();
    const [cable, papers] = [part('cable'), part('papers')];
    bringAhead([cable.brought, papers.brought]);
    expect(cable.asked()).toBe(0);
    idle();
    expect([cable.asked(), waiting.length]).toEqual([1, 0]);
    cable.fail();
    await settled();
    idle();
    expect(papers.asked()).toBe(1);
    papers.arrive();
    await settled();
    expect([papers.brought.here, waiting.length]).toEqual(['papers', 0]);
  });

  it('come no more once nobody wants them', () => {
    const { idle } = idleBrowser();
    const cable = part('cable');
    bringAhead([cable.brought])();
    idle();
    expect(cable.asked()).toBe(0);
  });

  it('come in a browser that cannot tell when it is idle', () => {
    vi.stubGlobal('requestIdleCallback', undefined);
    Reflect.deleteProperty(globalThis, 'requestIdleCallback');
    vi.useFakeTimers({ toFake: ['setTimeout'] });
    const cable = part('cable');
    bringAhead([cable.brought]);
    expect(cable.asked()).toBe(0);
    vi.runAllTimers();
    expect(cable.asked()).toBe(1);
    vi.useRealTimers();
  });
});
