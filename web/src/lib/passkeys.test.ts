import { describe, expect, it } from 'vitest';
import { asked, bytesOf, saidOf, textOf, wanted } from './passkeys';

const text = (of: BufferSource) => new TextDecoder().decode(of as ArrayBuffer);

describe('bytes as browsers and servers write them', () => {
  it('are those of RFC 4648, section 10, in letters of a name and without padding', () => {
    const written = (plain: string) => textOf(Uint8Array.from(new TextEncoder().encode(plain)).buffer);
    for (const [plain, coded] of [
      ['', ''],
      ['f', 'Zg'],
      ['fo', 'Zm8'],
      ['foo', 'Zm9v'],
      ['foobar', 'Zm9vYmFy'],
    ] as const) {
      expect(written(plain)).toBe(coded);
      expect(text(bytesOf(coded))).toBe(plain);
    }
    // The two letters that differ, by the table of section 5 there.
    expect(textOf(new Uint8Array([0xfb, 0xff]).buffer)).toBe('-_8');
    expect([...bytesOf('-_8')]).toEqual([0xfb, 0xff]);
  });
});

describe('what a browser is asked', () => {
  it('is a passkey that checks who uses it, for this name and person', () => {
    const question = wanted({
      challenge: 'Zm9v',
      site: 'jobs.example',
      person: 'ann',
      name: 'Ann',
      algorithms: [-7, -8],
      have: ['Zm8'],
      timeout_ms: 1000,
    });
    expect(question.rp).toEqual({ id: 'jobs.example', name: 'loamline' });
    expect([text(question.challenge), text(question.user.id)]).toEqual(['foo', 'ann']);
    expect(question.pubKeyCredParams.map((p) => p.alg)).toEqual([-7, -8]);
    expect(question.excludeCredentials!.map((c) => text(c.id))).toEqual(['fo']);
    expect(question.authenticatorSelection).toMatchObject({
      residentKey: 'required',
      userVerification: 'required',
    });
    expect(question.attestation).toBe('none');
  });
  it('names no passkey when somebody signs in: it is told by whichever they show', () => {
    const question = asked({ challenge: 'Zm9v', site: 'jobs.example', timeout_ms: 1000 });
    expect([question.rpId, question.allowCredentials]).toEqual(['jobs.example', []]);
    expect(question.userVerification).toBe('required');
  });
});

describe('what a browser says when it does not', () => {
  it('is a sentence, and nothing for what the server says', () => {
    expect(saidOf(new DOMException('', 'NotAllowedError'))).toContain('cancelled');
    expect(saidOf(new Error('the server'))).toBeUndefined();
    expect(saidOf('text')).toBeUndefined();
  });
});
