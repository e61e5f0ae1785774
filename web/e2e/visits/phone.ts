/** A phone: Chromium with a folder of its own, so that it can be killed and started again. */
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type BrowserContext, type CDPSession, type Page } from 'playwright-core';
import { CHROMIUM, FLAGS, WAIT_MS } from '../world';

/** A one-pixel-wide picture would shrink to nothing: this one is drawn in the page, a different one each time. */
async function picture(page: Page, seed: number): Promise<Buffer> {
  const url = await page.evaluate((n) => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [800, 600];
    const c = canvas.getContext('2d')!;
    for (let i = 0; i < 400; i++) {
      c.fillStyle = `hsl(${(i * 47 + n * 31) % 360} 60% ${30 + (i % 40)}%)`;
      c.fillRect((i * 97 + n * 13) % 800, (i * 61) % 600, 60, 40);
    }
    c.fillStyle = 'white';
    c.font = '80px sans-serif';
    c.fillText(`photo ${n}`, 60, 300);
    return canvas.toDataURL('image/png');
  }, seed);
  return Buffer.from(url.slice(url.indexOf(',') + 1), 'base64');
}

export class Phone {
  #context: BrowserContext | null = null;
  readonly #folder = mkdtempSync(join(tmpdir(), 'loamline-phone-'));
  page!: Page;
  /** Errors thrown, and what the content policy blocked. */
  complaints: string[] = [];

  constructor(
    readonly base: string,
    readonly name: string,
    /** What its clock is off by, ms. */
    readonly off_ms = 0,
    /** More flags for the browser. */
    readonly flags: string[] = [],
  ) {}

  async start(offline = false) {
    const context = await chromium.launchPersistentContext(this.#folder, {
      executablePath: CHROMIUM,
      args: [...FLAGS, ...this.flags],
      viewport: { width: 360, height: 740 },
      hasTouch: true,
      isMobile: true,
      reducedMotion: 'no-preference',
      offline,
    });
    this.#context = context;
    context.setDefaultTimeout(WAIT_MS);
    await context.addInitScript(
      ([who, off]) => {
        localStorage.setItem('loamline-seen', 'yes');
        localStorage.setItem('loamline', JSON.stringify({ name: who, theme: 'light' }));
        if (!off) return;
        const Real = Date;
        const Wrong = class extends Real {
          constructor(...at: [] | [number]) {
            super(...((at.length ? at : [Real.now() + off]) as [number]));
          }
          static override now = () => Real.now() + off;
        };
        globalThis.Date = Wrong as DateConstructor;
      },
      [this.name, this.off_ms] as const,
    );
    // Chromium's own override of the quota does not reach IndexedDB here: writes are counted and refused as it would.
    await context.addInitScript(() => {
      const disk = { left: Infinity };
      Object.assign(globalThis, { disk });
      const size = (v: unknown): number =>
        v instanceof Blob
          ? v.size
          : ArrayBuffer.isView(v)
            ? v.byteLength
            : typeof v === 'object' && v !== null
              ? Object.values(v).reduce((s: number, x) => s + size(x), 50)
              : 8;
      for (const method of ['add', 'put'] as const) {
        const real = IDBObjectStore.prototype[method];
        IDBObjectStore.prototype[method] = function (value: unknown, key?: IDBValidKey) {
          const bytes = size(value);
          if (bytes > disk.left) {
            this.transaction.abort();
            throw new DOMException('The disk is full', 'QuotaExceededError');
          }
          disk.left -= bytes;
          return real.call(this, value, key);
        };
      }
      const clear = IDBObjectStore.prototype.clear;
      IDBObjectStore.prototype.clear = function () {
        if (this.name === 'reserve') disk.left += 2 << 20;
        return clear.call(this);
      };
    });
    this.page = context.pages()[0] ?? (await context.newPage());
    this.page.on('pageerror', (e) => this.complaints.push(e.message));
    this.page.on('console', (m) => {
      if (m.type() === 'error' && /Content Security Policy|Refused to/.test(m.text()))
        this.complaints.push(m.text());
    });
  }

  /** As when the battery falls out. */
  async kill() {
    const mark = `--user-data-dir=${this.#folder}`;
    const browser = readdirSync('/proc').find((pid) => {
      if (!/^\d+$/.test(pid)) return false;
      try {
        const command = readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0');
        return command.includes(mark) && !command.some((part) => part.startsWith('--type='));
      } catch {
        return false;
      }
    });
    if (!browser) throw new Error('the browser of this phone was not found');
    const closed = new Promise((done) => this.#context!.once('close', done));
    process.kill(Number(browser), 'SIGKILL');
    await closed;
    for (const lock of ['SingletonLock', 'SingletonCookie', 'SingletonSocket']) {
      rmSync(join(this.#folder, lock), { force: true });
    }
  }

  offline = (off: boolean) => this.#context!.setOffline(off);

  /** Takes a job along and waits until the app would open without a network. */
  async take(job: string) {
    await this.page.goto(`${this.base}/#along/${job}/measure`);
    await this.page
      .getByRole('heading', { name: /Readings|Line/ })
      .or(this.page.getByLabel('The meter reads'))
      .first()
      .waitFor();
    await this.page.evaluate(async () => {
      await navigator.serviceWorker.ready;
      while (!navigator.serviceWorker.controller) await new Promise((r) => setTimeout(r, 50));
    });
  }

  async open(job: string, tab: string, thing = '') {
    await this.page.goto(`${this.base}/#along/${job}/${tab}${thing && `/${thing}`}`);
    await this.page.getByRole('navigation', { name: 'Pages' }).waitFor();
  }

  /** Types a reading at the rack. */
  async reading(ohm: number | string, what = 'DC') {
    const button = this.page
      .getByRole('group', { name: 'What was measured' })
      .getByRole('button', { name: what, exact: true });
    if ((await button.getAttribute('aria-pressed')) !== 'true') await button.click();
    await this.page.locator('[data-field=reading]').fill(String(ohm));
    await this.page.getByRole('button', { name: 'Enter', exact: true }).click();
  }

  async photo(seed: number) {
    const buffer = await picture(this.page, seed);
    const before = await this.waiting();
    await this.page
      .locator('[data-field=photo]')
      .setInputFiles({ name: 'IMG.png', mimeType: 'image/png', buffer });
    return before;
  }

  /** How many entries the phone says are not yet sent. */
  waiting = async () => Number(await this.page.locator('[data-waiting]').getAttribute('data-waiting'));

  async until(waiting: number, timeout_ms = 60_000) {
    await this.page.locator(`[data-waiting="${waiting}"]`).waitFor({ timeout: timeout_ms });
  }

  /** Leaves so much room on the phone, bytes. */
  room = (bytes: number) =>
    this.page.evaluate((left) => {
      (globalThis as unknown as { disk: { left: number } }).disk.left = left;
    }, bytes);

  cdp = (): Promise<CDPSession> => this.#context!.newCDPSession(this.page);

  async stop() {
    await this.#context?.close().catch(() => undefined);
    rmSync(this.#folder, { recursive: true, force: true });
  }
}

export interface Kept {
  document: {
    visits: Record<
      string,
      {
        readings?: Record<string, Record<string, unknown>>;
        done?: Record<string, Record<string, unknown>>;
        photos?: Record<string, { file: string }>;
      }
    >;
  };
  revision: number;
}
export interface LogEntry {
  revision: number;
  at: string;
  made_at: string | null;
  note: string;
  patch: { op: string; path: string; value?: unknown }[];
}
