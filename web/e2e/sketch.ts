/** What a hand does on the plan, with its clicks counted. */
import type { Page } from 'playwright-core';
import { onScreen, type World } from './world';

export type Point = [number, number];

/** An empty job with something in it, as somebody else might have begun it. */
export async function sketched(world: World, name: string, patch: object[]): Promise<string> {
  const job = await world.job('empty', name);
  const { revision } = await world.read<{ revision: number }>(`/jobs/${job}`);
  const edit = { edit_id: crypto.randomUUID(), base_revision: revision, patch, who: 'Bea', note: 'Before' };
  const response = await fetch(`${world.base}/api/jobs/${job}/edits`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(edit),
  });
  if (response.status !== 200)
    throw new Error(`the job was not begun: ${response.status} ${await response.text()}`);
  return job;
}

export class Hand {
  /** Presses of the mouse so far; both halves of a double click count. */
  clicks = 0;
  constructor(readonly page: Page) {}

  saved = () => this.page.locator('header').getByText('saved', { exact: true }).waitFor();

  async button(name: string | RegExp) {
    this.clicks++;
    const exact = typeof name === 'string';
    await this.page.getByRole('button', { name, exact }).click();
  }
  async tool(name: string) {
    this.clicks++;
    await this.page.getByRole('toolbar').getByRole('button', { name, exact: true }).click();
  }
  async kind(name: string) {
    this.clicks++;
    await this.page.getByRole('radio', { name, exact: true }).click();
  }
  async at(x: number, y: number, times = 1) {
    this.clicks += times;
    const to = await onScreen(this.page, x, y);
    await this.page.mouse.click(to.x, to.y, { clickCount: times });
  }
  async points(...places: Point[]) {
    for (const [x, y] of places) await this.at(x, y);
  }
  /** The same with the last place clicked twice, which ends it. */
  async ended(...places: Point[]) {
    await this.points(...places.slice(0, -1));
    await this.at(...places.at(-1)!, 2);
  }
}
