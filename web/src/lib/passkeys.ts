/** Passkeys: what the server asks, as browsers take it, and what authenticators answer, as the server takes it. */
import type { PasskeyAsked, PasskeyWanted } from '../api/shapes';
import { say } from '../words/spoken.svelte';

/** Bytes of base64url. */
export const bytesOf = (text: string) =>
  Uint8Array.from(atob(text.replaceAll('-', '+').replaceAll('_', '/')), (c) => c.charCodeAt(0));

/** Bytes as base64url, without padding. */
export const textOf = (bytes: ArrayBuffer) =>
  btoa(String.fromCharCode(...new Uint8Array(bytes)))
    .replaceAll('+', '-')
    .replaceAll('/', '_')
    .replaceAll('=', '');

/** Whether this browser knows passkeys; by an address without a name it may say so and refuse all the same. */
export const known = () => typeof PublicKeyCredential !== 'undefined' && 'credentials' in navigator;

const KEY = 'public-key' as const;

/** A new passkey, as a browser is asked for it. */
export const wanted = (w: PasskeyWanted): PublicKeyCredentialCreationOptions => ({
  rp: { id: w.site, name: 'loamline' },
  user: { id: new TextEncoder().encode(w.person), name: w.name, displayName: w.name },
  challenge: bytesOf(w.challenge),
  pubKeyCredParams: w.algorithms.map((alg) => ({ type: KEY, alg })),
  excludeCredentials: w.have.map((id) => ({ type: KEY, id: bytesOf(id) })),
  authenticatorSelection: { residentKey: 'required', requireResidentKey: true, userVerification: 'required' },
  attestation: 'none',
  timeout: w.timeout_ms,
});

/** Whichever passkey somebody has for a name, as a browser is asked for it. */
export const asked = (a: PasskeyAsked): PublicKeyCredentialRequestOptions => ({
  rpId: a.site,
  challenge: bytesOf(a.challenge),
  allowCredentials: [],
  userVerification: 'required',
  timeout: a.timeout_ms,
});

/** Has a passkey made; what the server is told of it. */
export async function make(w: PasskeyWanted, name: string) {
  const made = (await navigator.credentials.create({ publicKey: wanted(w) })) as PublicKeyCredential | null;
  if (!made) throw new Error(say('No passkey was made.'));
  const { clientDataJSON, attestationObject } = made.response as AuthenticatorAttestationResponse;
  return { name, client_data: textOf(clientDataJSON), attestation: textOf(attestationObject) };
}

/** Has a passkey shown; what the server is told of it. */
export async function show(a: PasskeyAsked) {
  const shown = (await navigator.credentials.get({ publicKey: asked(a) })) as PublicKeyCredential | null;
  if (!shown) throw new Error(say('No passkey was shown.'));
  const answer = shown.response as AuthenticatorAssertionResponse;
  return {
    id: textOf(shown.rawId),
    client_data: textOf(answer.clientDataJSON),
    authenticator_data: textOf(answer.authenticatorData),
    signature: textOf(answer.signature),
    user: answer.userHandle ? textOf(answer.userHandle) : null,
  };
}

/** What a browser or authenticator says when it does not, as people read it (names of Web Authentication, sections 5.1.3 and 5.1.4). */
const SAID: Record<string, () => string> = {
  NotAllowedError: () =>
    say('No passkey was shown: it took too long, was cancelled, or there is none for this name.'),
  InvalidStateError: () => say('This device keeps a passkey of yours already.'),
  SecurityError: () => say('This browser gives no passkey to this address.'),
  NotSupportedError: () => say('This device makes no passkey of a kind that is taken here.'),
};

/** The same of an error; nothing where it is another's. */
export const saidOf = (e: unknown) => (e instanceof Error ? SAID[e.name]?.() : undefined);
