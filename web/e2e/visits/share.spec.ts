import { createHash } from 'node:crypto';
import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect } from 'node:tls';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Phone } from './phone';

/** What `loamline serve --share --json` says of itself. */
interface Said {
  address: string;
  shared: { addresses: string[]; code: string; start_at: string; fingerprint: string };
}

const data = mkdtempSync(join(tmpdir(), 'loamline-share-'));
let server: ChildProcess;
let said: Said;
/** The app as a phone reaches it, on this machine's own address. */
let network = '';

beforeAll(async () => {
  server = spawn(process.env.LOAMLINE_BIN!, ['serve', '--share', '--json', '--data', data, '--port', '0'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  said = await new Promise<Said>((found, failed) => {
    let text = '';
    server.stdout!.on('data', (part) => {
      text += String(part);
      try {
        found(JSON.parse(text) as Said);
      } catch {
        // Not all of it yet.
      }
    });
    server.once('exit', (code) => failed(new Error(`the server stopped with ${code}: ${text}`)));
  });
  network = `https://127.0.0.1:${new URL(said.shared.addresses[0]!).port}`;
});
afterAll(async () => {
  const gone = new Promise((done) => server.once('exit', done));
  server.kill('SIGKILL');
  await gone;
  rmSync(data, { recursive: true, force: true });
});

/** SHA-256 of the public key of the certificate a phone sees: what stands for taking the certificate in. */
async function keyHash(): Promise<string> {
  const { hostname, port } = new URL(network);
  return new Promise((found, failed) => {
    const socket = connect({ host: hostname, port: Number(port), rejectUnauthorized: false }, () => {
      const key = socket.getPeerX509Certificate()!.publicKey.export({ type: 'spki', format: 'der' });
      socket.destroy();
      found(createHash('sha256').update(key).digest('base64'));
    });
    socket.once('error', failed);
  });
}

const office = (path: string, init?: RequestInit) =>
  fetch(`${said.address.replace(/\/$/, '')}/api${path}`, init);

describe('a phone on the same network, by HTTPS', () => {
  it('pairs by code, works without a network, and is out once it is turned away', async () => {
    const [{ id: job }] = (await (await office('/jobs')).json()) as [{ id: string }];
    const phone = new Phone(network, 'Ada', 0, [`--ignore-certificate-errors-spki-list=${await keyHash()}`]);
    await phone.start();
    const { page } = phone;

    // Without pairing there is a form and nothing else; a wrong code is told as such.
    await page.goto(`${network}/#/${job}/brief`);
    await page.getByRole('heading', { name: 'Pair this device' }).waitFor();
    await page.getByLabel('Code').fill('nnnn-nnnn');
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('alert').waitFor();

    // The square's address brings the code along; it is gone from the address at once.
    await page.goto(`${network}/mark.svg`);
    await page.goto(`${network}/#pair=${said.shared.code}`);
    await page.getByRole('heading', { name: 'Pair this device' }).waitFor();
    await page.waitForFunction(
      (code) => document.querySelector<HTMLInputElement>('input.code')?.value === code,
      said.shared.code,
    );
    expect(page.url()).not.toContain(said.shared.code);
    await page.getByLabel('What this device is called').fill('Site phone');
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('heading', { name: 'Jobs on this machine' }).waitFor();
    // What only the computer itself may do is not offered.
    expect(await page.getByRole('heading', { name: 'Phones and tablets' }).count()).toBe(0);

    // The origin is secure: the service worker is there, and the app opens without a network.
    await phone.take(job);
    expect(await page.evaluate(() => isSecureContext)).toBe(true);
    await phone.offline(true);
    await page.reload();
    await page.getByText('out of reach, works on').waitFor();
    await phone.reading(14.3);
    await phone.until(1);

    // Turned away meanwhile on the computer: what was entered waits, and is sent after pairing again.
    const devices = (await (await office('/devices')).json()) as { id: string; name: string }[];
    expect(devices.map((d) => d.name)).toEqual(['Site phone']);
    expect((await office(`/devices/${devices[0]!.id}`, { method: 'DELETE' })).status).toBe(204);
    await phone.offline(false);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.getByRole('alert').getByRole('link', { name: 'paired again' }).waitFor();
    expect(await phone.waiting()).toBe(1);
    await page.getByRole('alert').getByRole('link', { name: 'paired again' }).click();
    // The first code is used up; the computer shows the next.
    await page.getByLabel('Code').fill(said.shared.code);
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('alert').getByText('it has been used').waitFor();
    const { code } = (await (await office('/share')).json()) as { code: string };
    await page.getByLabel('Code').fill(code.toUpperCase());
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('heading', { name: 'Jobs on this machine' }).waitFor();
    await phone.open(job, 'measure');
    await phone.until(0);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 240_000);
});
