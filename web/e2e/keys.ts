import type { Locator, Page } from 'playwright-core';
import { expect } from 'vitest';

/** More stops of the Tab key than any page has between two things. */
const MOST_STOPS = 160;

/** Somebody who has a keyboard and nothing else; every stop on the way must show where it is. */
export class Keys {
  constructor(readonly page: Page) {}

  press = (...keys: string[]) =>
    keys.reduce((done, key) => done.then(() => this.page.keyboard.press(key)), Promise.resolve());
  type = (text: string) => this.page.keyboard.type(text);

  /** What has the focus, and how well one sees it. */
  async #here() {
    return this.page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body) return null;
      const style = getComputedStyle(e);
      const box = e.getBoundingClientRect();
      return {
        what: `${e.tagName} ${e.getAttribute('aria-label') ?? (e as HTMLElement).innerText ?? ''}`.slice(
          0,
          60,
        ),
        marked: style.outlineStyle !== 'none' && Number.parseFloat(style.outlineWidth) >= 2,
        inSight: box.bottom > 0 && box.right > 0 && box.top < innerHeight && box.left < innerWidth,
      };
    });
  }

  /** Goes on with Tab until something has the focus. */
  async to(target: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab') {
    await target.waitFor({ state: 'attached' });
    const way: string[] = [];
    for (let stop = 0; stop < MOST_STOPS; stop++) {
      if (await target.evaluate((e) => e === document.activeElement)) return;
      await this.press(key);
      const here = await this.#here();
      if (!here) continue;
      way.push(here.what);
      expect(here.marked, `"${here.what}" shows that it has the focus`).toBe(true);
      expect(here.inSight, `"${here.what}" is on the screen when it has the focus`).toBe(true);
    }
    throw new Error(`${String(target)} was not reached with ${key}: ${way.join(' | ')}`);
  }

  /** Goes to something and presses Enter on it. */
  async take(target: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab') {
    await this.to(target, key);
    await this.press('Enter');
  }

  /** Goes to a field and types over what stands there. */
  async fill(target: Locator, text: string, key: 'Tab' | 'Shift+Tab' = 'Tab') {
    await this.to(target, key);
    await this.press('Control+a');
    await this.type(text);
  }
}
