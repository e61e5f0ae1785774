/** Asking the server: JSON over fetch, with its errors as one type. */
import { mendTold, told, type Placed, type Said } from '../lib/told';
import { pairing } from '../state/pairing.svelte';
import { prefs } from '../state/prefs.svelte';
import { holdsForNow, isLeaving } from '../state/unsaved';
import { version, VERSION_HEADER } from '../state/version.svelte';
import { say } from '../words/spoken.svelte';

/** One thing wrong with what was sent. */
export interface Problem {
  path: string;
  message: string;
  measures?: Placed[];
  expected?: string;
  suggestion?: string | null;
  /** The message and the way out in the languages that say them otherwise. */
  spoken?: Said['spoken'];
}

/** What is wrong, with the way out, in the language and the units of whoever reads it. */
export function problemWords({ message, measures, suggestion, spoken }: Problem): string {
  const said: Said = { sentence: message, measures, mend: suggestion, spoken };
  return [told(said, prefs.unit), mendTold(said)].filter(Boolean).join('; ');
}

/** The server said no, or could not be reached (`status` 0). */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
    readonly problems: Problem[] = [],
    /** The rest of what the server said, for conflicts. */
    readonly more: Record<string, unknown> = {},
  ) {
    super(message);
  }
}

/** Everything a refusal says, as one text. */
export function words(error: unknown): string {
  if (error instanceof Refused) {
    if (error.problems.length) return error.problems.map(problemWords).join('\n');
    const { measures, spoken } = error.more as Pick<Problem, 'measures' | 'spoken'>;
    return problemWords({ path: '', message: error.message, measures, spoken });
  }
  return error instanceof Error ? error.message : String(error);
}

async function refusal(response: Response): Promise<Refused> {
  const text = await response.text().catch(() => '');
  try {
    const { code, message, problems, ...more } = (JSON.parse(text) as { error: Record<string, unknown> })
      .error;
    return new Refused(response.status, String(code), String(message), (problems as Problem[]) ?? [], more);
  } catch {
    return new Refused(
      response.status,
      'unknown',
      text || say('the server answered {status}', { status: response.status }),
    );
  }
}

/** How often a request that met a full queue is made again before the person is told. */
const AGAIN = 3;
const later = (s: number) => new Promise((done) => setTimeout(done, 1000 * s));

/** A request that throws [`Refused`] on anything but success. Where too many wait, it waits as long as it is told to. */
export async function request(
  method: string,
  path: string,
  body?: BodyInit,
  type?: string,
): Promise<Response> {
  for (let left = AGAIN; ; left--) {
    try {
      return await once(method, path, body, type);
    } catch (e) {
      const after = e instanceof Refused && e.code === 'busy' ? Number(e.more.retry_after_s) : NaN;
      if (!left || !(after < 60)) throw e;
      // Not all who were turned away come again at the same moment.
      await later(after * (1 + Math.random() / 2));
    }
  }
}

/** Requests under way that change something. */
let changing = 0;
holdsForNow(() => changing > 0);

/** What is sent by a window that closes may be so long, characters: a browser carries 64 kB at most after it is gone. */
const CARRIED = 16_000;

async function once(method: string, path: string, body?: BodyInit, type?: string): Promise<Response> {
  let response: Response;
  const changes = method !== 'GET';
  if (changes) changing++;
  try {
    response = await fetch(`/api${path}`, {
      method,
      ...(body === undefined ? {} : { body }),
      headers: type ? { 'content-type': type } : {},
      keepalive: changes && isLeaving() && typeof body === 'string' && body.length <= CARRIED,
    });
  } catch {
    throw new Refused(0, 'unreachable', say('the machine that runs loamline is out of reach'));
  } finally {
    if (changes) changing--;
  }
  version.heard(response.headers.get(VERSION_HEADER));
  if (!response.ok) {
    const refused = await refusal(response);
    if (refused.code === 'not_paired') pairing.needed = true;
    throw refused;
  }
  return response;
}

export async function get<T>(path: string): Promise<T> {
  return (await request('GET', path)).json() as Promise<T>;
}

export async function send<T>(method: 'POST' | 'PUT' | 'DELETE', path: string, value?: unknown): Promise<T> {
  const response =
    value === undefined
      ? await request(method, path)
      : await request(method, path, JSON.stringify(value), 'application/json');
  const text = await response.text();
  return (text ? JSON.parse(text) : undefined) as T;
}

/** Sends a file as it is. */
export async function upload<T>(method: 'POST' | 'PUT', path: string, file: Blob, type: string): Promise<T> {
  return (await request(method, path, file, type)).json() as Promise<T>;
}

export const jobPath = (id: string, rest = '') => `/jobs/${encodeURIComponent(id)}${rest}`;
