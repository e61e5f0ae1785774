/** Whether a page is whole, large enough and good by the rules of axe-core. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { AxeResults } from 'axe-core';
import type { Page } from 'playwright-core';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** What sticks out sideways: the page, or a part of it that only scrolls up and down. */
export const tooWide = (page: Page) =>
  page.evaluate(() =>
    [document.documentElement, ...document.querySelectorAll('main, .panel, dialog, .findings')]
      .filter((e) => e.scrollWidth > e.clientWidth + 1)
      .map((e) => `${e.tagName} ${e.className}: ${e.scrollWidth} px in ${e.clientWidth} px`),
  );

/** Text on the screen smaller than a size, CSS pixels; drawings by how they are scaled. */
export const tooSmall = (page: Page, least_px: number) =>
  page.evaluate((least) => {
    const small: string[] = [];
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const parent = texts.currentNode.parentElement!;
      const said = texts.currentNode.nodeValue!.trim();
      if (!said || parent.closest('script, style, title, .hidden, option')) continue;
      if (!parent.checkVisibility()) continue;
      const drawn = parent instanceof SVGGraphicsElement ? parent.getScreenCTM()!.d : 1;
      const px = Number.parseFloat(getComputedStyle(parent).fontSize) * Math.abs(drawn);
      if (px < least - 0.01) small.push(`${said.slice(0, 30)}: ${px.toFixed(1)} px`);
    }
    return small;
  }, least_px);

/** Buttons and fields lower than a size, CSS pixels; "why?" and the like stand in running text. */
export const tooLow = (page: Page, least_px: number) =>
  page.evaluate(
    (least) =>
      [...document.querySelectorAll('button:not(.link), a.button, select, input:not([type])')]
        .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < least)
        .map((e) => `${e.outerHTML.slice(0, 80)}: ${e.getBoundingClientRect().height} px`),
    least_px,
  );

export async function serious(page: Page): Promise<string[]> {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() =>
    (window as unknown as { axe: { run(): Promise<AxeResults> } }).axe.run(),
  );
  return violations
    .filter((v) => v.impact === 'serious' || v.impact === 'critical')
    .map(
      (v) =>
        `${v.id}: ${v.nodes
          .slice(0, 3)
          .map((n) => `${n.html} ${n.any[0]?.message ?? ''}`)
          .join(' | ')}`,
    );
}
