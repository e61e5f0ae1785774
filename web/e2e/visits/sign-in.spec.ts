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
  shared: { addresses: string[]; code: string };
}

const data = mkdtempSync(join(tmpdir(), 'loamline-sign-in-'));
let server: ChildProcess;
let said: Said;
let port = '';

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
  port = new URL(said.shared.addresses[0]!).port;
});
afterAll(async () => {
  const gone = new Promise((done) => server.once('exit', done));
  server.kill('SIGKILL');
  await gone;
  rmSync(data, { recursive: true, force: true });
});

/** SHA-256 of the public key of the certificate a phone sees: what stands for taking the certificate in. */
async function keyHash(): Promise<string> {
  return new Promise((found, failed) => {
    const socket = connect({ host: '127.0.0.1', port: Number(port), rejectUnauthorized: false }, () => {
      const key = socket.getPeerX509Certificate()!.publicKey.export({ type: 'spki', format: 'der' });
      socket.destroy();
      found(createHash('sha256').update(key).digest('base64'));
    });
    socket.once('error', failed);
  });
}

const office = async <T>(path: string, init?: RequestInit) => {
  const answer = await fetch(`${said.address.replace(/\/$/, '')}/api${path}`, init);
  return (answer.status === 204 ? undefined : await answer.json()) as T;
};

describe('signing in by a passkey, on a device in the network', () => {
  it('makes one after pairing, signs in with it, and is out at once when turned away', async () => {
    const flags = [`--ignore-certificate-errors-spki-list=${await keyHash()}`];
    const phone = new Phone(`https://localhost:${port}`, 'Ada', 0, flags);
    await phone.start();
    const { page } = phone;

    // By a number nobody signs in, and it is said why; a code does.
    await page.goto(`https://127.0.0.1:${port}/`);
    await page.getByRole('heading', { name: 'Pair this device' }).waitFor();
    await page.getByText('Sign in instead').click();
    await page.getByText("Signing in needs the server's name").waitFor();
    expect(await page.getByRole('button', { name: 'Sign in by a passkey' }).count()).toBe(0);

    // By a name it is offered. An authenticator of the browser's own making checks who uses it and keeps what it makes.
    await page.goto(`https://localhost:${port}/`);
    await page.getByRole('button', { name: 'Sign in by a passkey' }).waitFor();
    const browser = await phone.cdp();
    await browser.send('WebAuthn.enable');
    const { authenticatorId } = await browser.send('WebAuthn.addVirtualAuthenticator', {
      options: {
        protocol: 'ctap2',
        transport: 'internal',
        hasResidentKey: true,
        hasUserVerification: true,
        isUserVerified: true,
        automaticPresenceSimulation: true,
      },
    });

    // Nobody has a passkey yet.
    await page.getByRole('button', { name: 'Sign in by a passkey' }).click();
    await page.getByRole('alert').getByText('No passkey was shown').waitFor();
    await page.getByLabel('Code').fill(said.shared.code);
    await page.getByLabel('What this device is called').fill('Site phone');
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('heading', { name: 'You on this device' }).waitFor();
    await page.getByText('Let in by a code as Site phone: Designer').waitFor();
    await page.getByLabel('Your name').fill('Ada');
    await page.getByRole('button', { name: 'Make a passkey' }).click();
    await page.getByText('Signed in as Ada: Designer').waitFor();
    const { credentials } = await browser.send('WebAuthn.getCredentials', { authenticatorId });
    expect(credentials.map((c) => [c.rpId, c.isResidentCredential])).toEqual([['localhost', true]]);
    // A second one on the same device is not made.
    await page.getByRole('button', { name: 'Make a passkey' }).click();
    await page.getByRole('alert').getByText('keeps a passkey of yours already').waitFor();

    // Signed out, the passkey alone lets her in, as herself.
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.getByRole('button', { name: 'Sign in by a passkey' }).click();
    await page.getByText('Signed in as Ada: Designer').waitFor();
    const [ada] = await office<{ id: string; name: string; role: string; passkeys: number }[]>('/people');
    expect(ada).toMatchObject({ name: 'Ada', role: 'designer', passkeys: 1 });
    const devices = await office<{ name: string; person: string }[]>('/devices');
    expect(devices.map((d) => [d.name, d.person])).toEqual([['Ada', ada!.id]]);

    // Another role holds at once; turned away, she is out, and her passkey lets nobody in.
    const headers = { 'content-type': 'application/json' };
    await office(`/people/${ada!.id}`, { method: 'PUT', headers, body: JSON.stringify({ role: 'crew' }) });
    await page.reload();
    await page.getByText('Signed in as Ada: Crew').waitFor();
    await office(`/people/${ada!.id}`, { method: 'DELETE' });
    await page.reload();
    await page.getByRole('button', { name: 'Sign in by a passkey' }).click();
    await page.getByRole('alert').getByText('This passkey is not known here').waitFor();
    expect(await office<unknown[]>('/devices')).toEqual([]);
    const doings = await office<{ what: string; who: string }[]>('/doings');
    expect(doings.map((d) => d.what).reverse()).toEqual([
      'paired',
      'passkey_made',
      'signed_out',
      'signed_in',
      'role',
      'turned_away',
    ]);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 240_000);
});
