import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { Version, type Around } from './version.svelte';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

/** What a tab remembers over its pages. */
class Tab {
  kept = new Map<string, string>();
  getItem = (key: string) => this.kept.get(key) ?? null;
  setItem = (key: string, value: string) => void this.kept.set(key, value);
}

/** A page of version `own` in a tab. */
function page(own: string | null, more: Partial<Around> = {}) {
  const reload = vi.fn();
  const around: Around = {
    own,
    free: vi.fn(() => true),
    newest: vi.fn(() => Promise.resolve()),
    forget: vi.fn(() => Promise.resolve()),
    ask: () => Promise.reject(new Error('out of reach')),
    reload,
    store: new Tab(),
    now_ms: () => Date.now(),
    ...more,
  };
  return { around, reload, version: new Version(around) };
}
const settle = () => vi.advanceTimersByTimeAsync(0);

describe('a page of another version than the program', () => {
  it('loads itself anew at once where nothing would be lost, after what is kept was brought up to date', async () => {
    let kept = () => {};
    const newest = vi.fn(() => new Promise<void>((done) => (kept = done)));
    const { reload, version } = page('old', { newest });
    version.heard('new');
    await settle();
    expect(version.state).toBe('waits');
    // From what was kept before, it would only be the old one again.
    expect(reload).not.toHaveBeenCalled();
    kept();
    await settle();
    expect(reload).toHaveBeenCalledTimes(1);
    // Answers that arrive meanwhile begin nothing more.
    version.heard('new');
    await vi.advanceTimersByTimeAsync(5000);
    expect(reload).toHaveBeenCalledTimes(1);
    expect(newest).toHaveBeenCalledTimes(1);
  });

  it('waits as long as something would be lost', async () => {
    let unsaved = true;
    const { reload, version } = page('old', { free: () => !unsaved });
    version.heard('new');
    await vi.advanceTimersByTimeAsync(3_600_000);
    expect(reload).not.toHaveBeenCalled();
    expect(version.state).toBe('waits');
    unsaved = false;
    await vi.advanceTimersByTimeAsync(1000);
    expect(reload).toHaveBeenCalledTimes(1);
  });

  it('says so where one reload did not help, and loads no second time', async () => {
    const store = new Tab();
    const first = page('old', { store });
    first.version.heard('new');
    await settle();
    expect(first.reload).toHaveBeenCalledTimes(1);
    const second = page('old', { store });
    second.version.heard('new');
    await vi.advanceTimersByTimeAsync(24 * 3_600_000);
    second.version.heard('new');
    await settle();
    expect(second.version.state).toBe('stuck');
    expect(second.reload).not.toHaveBeenCalled();
    // A person may have it loaded past everything that is kept here.
    second.version.anew();
    await settle();
    expect(second.around.forget).toHaveBeenCalledTimes(1);
    expect(second.around.free).toHaveBeenCalledWith(true);
    expect(second.reload).toHaveBeenCalledTimes(1);
  });

  it('goes round between two programs at one address no more than once', async () => {
    const store = new Tab();
    let loads = 0;
    for (const [own, other] of [
      ['a', 'b'],
      ['b', 'a'],
      ['a', 'b'],
      ['b', 'a'],
    ] as const) {
      const { reload, version } = page(own, { store });
      version.heard(own);
      version.heard(other);
      await settle();
      loads += reload.mock.calls.length;
    }
    expect(loads).toBe(1);
  });

  it('loads again for the next update, and for the same one that comes again another day', async () => {
    const store = new Tab();
    const day_ms = 24 * 3_600_000;
    for (const [own, next] of [
      ['a', 'b'],
      ['b', 'a'],
      ['a', 'b'],
    ] as const) {
      const { reload, version } = page(own, { store });
      version.heard(own);
      await vi.advanceTimersByTimeAsync(day_ms);
      version.heard(next);
      await settle();
      expect(reload, `${own} to ${next}`).toHaveBeenCalledTimes(1);
    }
  });

  it('never loads by itself where nothing can be remembered', async () => {
    const store = {
      getItem: () => null,
      setItem: () => {
        throw new Error('not allowed');
      },
    };
    const { reload, version } = page('old', { store });
    version.heard('new');
    await settle();
    expect(reload).not.toHaveBeenCalled();
    expect(version.state).toBe('stuck');
  });

  it('works on out of reach, and is told where what is kept cannot be brought up to date within reach', async () => {
    const newest = vi.fn(() => Promise.reject(new Error('no')));
    const out = page('old', { newest });
    out.version.heard('new');
    await vi.advanceTimersByTimeAsync(120_000);
    expect(out.version.state).toBe('same');
    const within = page('old', { newest, ask: vi.fn(() => Promise.resolve('new')) });
    within.version.heard('new');
    await vi.advanceTimersByTimeAsync(120_000);
    expect(within.version.state).toBe('stuck');
    for (const { reload } of [out, within]) expect(reload).not.toHaveBeenCalled();
  });
});

describe('a page', () => {
  it('of the same version stays, and so does one that was not built or is told nothing', async () => {
    for (const [own, told] of [
      ['a', 'a'],
      [null, 'a'],
      ['a', null],
    ] as const) {
      const { around, version } = page(own);
      version.heard(told);
      await settle();
      expect(version.state).toBe('same');
      expect(around.newest).not.toHaveBeenCalled();
    }
  });

  it('stays where the program is put back before it went', async () => {
    const { around, reload, version } = page('a', { free: () => false });
    version.heard('b');
    await settle();
    expect(version.state).toBe('waits');
    version.heard('a');
    around.free = vi.fn(() => true);
    await vi.advanceTimersByTimeAsync(60_000);
    expect(version.state).toBe('same');
    expect(reload).not.toHaveBeenCalled();
  });

  it('asks when it may not have heard, not when it just has', async () => {
    const ask = vi.fn(() => Promise.resolve('b'));
    const { reload, version } = page('a', { ask });
    version.heard('a');
    await version.ask();
    expect(ask).not.toHaveBeenCalled();
    await vi.advanceTimersByTimeAsync(120_000);
    await version.ask();
    await settle();
    expect(reload).toHaveBeenCalledTimes(1);
  });
});
