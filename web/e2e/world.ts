/** A server of its own with a fresh folder, and Chromium to look at it with. */
import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { zip } from './zip';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';

/** How long a check waits for what is to show, ms: beside other work on two cores the first figures of a job take half a minute. */
export const WAIT_MS = 60_000;

/** The browser: Debian's, or the one the variable names where it lies elsewhere. */
export const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';

export const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export class World {
  #server: ChildProcess | null = null;
  #browser: Browser | null = null;
  #data = mkdtempSync(join(tmpdir(), 'loamline-e2e-'));
  /** Taken on the first start and kept: an address is what a browser knows a place by. */
  #port = '0';
  base = '';
  /** What a page complained of: errors thrown, blocked by the content policy, answers of 500 and above. */
  complaints: string[] = [];

  async start() {
    await this.serve();
    this.#browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
  }

  /** Starts the program; a second time on the same folder and port after [`halt`]. */
  async serve() {
    const binary = process.env.LOAMLINE_BIN;
    if (process.env.LOAMLINE_BASE) {
      this.base = process.env.LOAMLINE_BASE;
      return;
    }
    if (!binary) throw new Error('LOAMLINE_BIN names the program to try');
    const server = spawn(binary, ['serve', '--data', this.#data, '--port', this.#port], {
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    this.#server = server;
    this.base = await new Promise<string>((found, failed) => {
      const read = (line: string) => {
        const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
        if (address) found(address);
      };
      createInterface({ input: server.stdout! }).on('line', read);
      createInterface({ input: server.stderr! }).on('line', read);
      server.once('exit', (code) => failed(new Error(`the server stopped with ${code}`)));
      setTimeout(() => failed(new Error('the server did not say its address within 20 s')), 20_000).unref();
    });
    this.#port = new URL(this.base).port;
  }

  /** What the program holds of memory, MB, as the system counts it; none where that says nothing. */
  memory_mb(): number | null {
    const held = /^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${this.#server!.pid}/status`, 'utf8'));
    return held ? Number(held[1]) / 1024 : null;
  }

  /** Kills the program as a power cut would. */
  async halt() {
    const server = this.#server;
    if (!server || server.exitCode !== null || server.signalCode !== null) return;
    const gone = new Promise((done) => server.once('exit', done));
    server.kill('SIGKILL');
    await gone;
  }

  /** A browser of its own, with a name others see; with motion as people have it. A check that reduces it says why. */
  async person(name: string, options: Parameters<Browser['newContext']>[0] = {}): Promise<Page> {
    const context = await this.#browser!.newContext({
      viewport: { width: 1440, height: 900 },
      reducedMotion: 'no-preference',
      ...options,
    });
    await context.addInitScript((who) => {
      localStorage.setItem('loamline-seen', 'yes');
      if (!localStorage.getItem('loamline')) localStorage.setItem('loamline', JSON.stringify({ name: who }));
    }, name);
    return this.#watched(context);
  }

  async #watched(context: BrowserContext): Promise<Page> {
    context.setDefaultTimeout(WAIT_MS);
    const page = await context.newPage();
    page.on('pageerror', (e) => this.complaints.push(`${page.url()}: ${e.message}`));
    page.on('console', (m) => {
      if (m.type() === 'error' && /Content Security Policy|Refused to/.test(m.text()))
        this.complaints.push(m.text());
    });
    page.on('response', (r) => {
      if (r.status() >= 500) this.complaints.push(`${r.status()} ${r.url()}`);
    });
    page.on('request', (r) => {
      const url = new URL(r.url());
      if (['http:', 'https:', 'ws:', 'wss:'].includes(url.protocol) && url.host !== new URL(this.base).host) {
        this.complaints.push(`a request to another host: ${r.url()}`);
      }
    });
    return page;
  }

  /** Closes every browser: what is behind another window is drawn more seldom. */
  async leave() {
    for (const context of this.#browser!.contexts()) await context.close();
  }

  async job(from: 'example' | 'empty', name = 'A job'): Promise<string> {
    const response = await fetch(`${this.base}/api/jobs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name, from }),
    });
    if (response.status !== 201)
      throw new Error(`the job was not made: ${response.status} ${await response.text()}`);
    return ((await response.json()) as { id: string }).id;
  }

  /** The example with something changed in it, as somebody else might have left it. */
  async exampleWith(patch: object[]): Promise<string> {
    const job = await this.job('example');
    const { revision } = await this.read<{ revision: number }>(`/jobs/${job}`);
    const edit = { edit_id: crypto.randomUUID(), base_revision: revision, patch, who: 'Bea', note: 'Before' };
    const response = await fetch(`${this.base}/api/jobs/${job}/edits`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(edit),
    });
    if (response.status !== 200)
      throw new Error(`the example was not changed: ${response.status} ${await response.text()}`);
    return job;
  }

  async read<T>(path: string): Promise<T> {
    return (await (await fetch(`${this.base}/api${path}`)).json()) as T;
  }

  async open(page: Page, job: string, at: string) {
    await page.goto(`${this.base}/#/${job}/${at}`);
    await page.getByRole('main').locator('h1, h2, .plan').first().waitFor();
  }

  /** A job from one of the folders of examples. */
  async example(folder: string): Promise<string> {
    const text = readFileSync(join(import.meta.dirname, '../../examples', folder, 'job.toml'));
    const response = await fetch(`${this.base}/api/jobs/import`, {
      method: 'POST',
      headers: { 'content-type': 'application/zip' },
      body: new Uint8Array(zip('job.toml', text)),
    });
    if (response.status !== 201)
      throw new Error(`the job was not brought in: ${response.status} ${await response.text()}`);
    return ((await response.json()) as { id: string }).id;
  }

  async stop() {
    await this.#browser?.close();
    await this.halt();
    rmSync(this.#data, { recursive: true, force: true });
  }
}

/** Waits until nothing on the page says that it is still being worked out, and what was worked out is drawn. */
export async function settled(page: Page) {
  await page.waitForFunction(
    () => {
      const busy =
        /Working it out|Working out the first map|Opening the job|Setting the papers|Looking the job over|Reading…|saving…|Finding the ways/;
      return !busy.test(document.body.innerText) && !document.querySelector('[aria-busy="true"]');
    },
    undefined,
    { timeout: 150_000 },
  );
  await page.evaluate(
    () => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(() => drawn(0)))),
  );
}

/** Where a point of the plan is on the screen once the plan glides no more, from the transform the plan is drawn with. */
export async function onScreen(page: Page, x: number, y: number): Promise<{ x: number; y: number }> {
  await still(page);
  return page
    .locator(DRAWN)
    .first()
    .evaluate(
      (g, [px, py]) => {
        const m = (g as SVGGElement).getScreenCTM()!;
        return { x: m.a * px! + m.c * py! + m.e, y: m.b * px! + m.d * py! + m.f };
      },
      [x, y],
    );
}

const DRAWN = '.plan svg g[transform^="matrix"]';

/** How the plan lies on the screen: pixels per metre, and where the datum is. */
export async function lies(page: Page): Promise<{ k: number; x: number; y: number }> {
  const text = (await page.locator(DRAWN).first().getAttribute('transform'))!;
  const [k, , , , x, y] = text.match(/-?[\d.]+(e-?\d+)?/g)!.map(Number);
  return { k: k!, x: x!, y: y! };
}

/** Waits until the plan glides no more; how it lies then. */
export async function still(page: Page) {
  await page.locator(DRAWN).first().waitFor({ state: 'attached' });
  await page.evaluate(async (drawn) => {
    const now = () => document.querySelector(drawn)?.getAttribute('transform');
    // A glide begins some frames after the press, later still on a busy machine.
    let [before, since, frames] = [now(), performance.now(), 0];
    while (frames < 6 || performance.now() - since < 150) {
      await new Promise((next) => requestAnimationFrame(next));
      frames++;
      if (now() !== before) [before, since, frames] = [now(), performance.now(), 0];
    }
  }, DRAWN);
  return lies(page);
}

/** Drags from one point of the plan to another in steps, as a hand does. */
export async function dragTo(
  page: Page,
  from: [number, number],
  to: [number, number],
  steps = 20,
  pause_ms = 16,
) {
  const a = await onScreen(page, ...from);
  const b = await onScreen(page, ...to);
  await page.mouse.move(a.x, a.y);
  await page.mouse.down();
  for (let i = 1; i <= steps; i++) {
    await page.mouse.move(a.x + ((b.x - a.x) * i) / steps, a.y + ((b.y - a.y) * i) / steps);
    if (pause_ms) await page.waitForTimeout(pause_ms);
  }
  await page.mouse.up();
}
