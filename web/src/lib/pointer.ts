/** JSON pointers (RFC 6901) and patches (RFC 6902) on plain values. */

export interface Operation {
  op: 'add' | 'remove' | 'replace' | 'move' | 'copy' | 'test';
  path: string;
  from?: string;
  value?: unknown;
  before?: string;
}
export type Patch = Operation[];

export const escape = (key: string) => key.replaceAll('~', '~0').replaceAll('/', '~1');
export const unescape = (key: string) => key.replaceAll('~1', '/').replaceAll('~0', '~');
export const pointer = (...keys: (string | number)[]) => keys.map((k) => `/${escape(String(k))}`).join('');
export const parts = (path: string) => path.split('/').slice(1).map(unescape);

/** The value at a pointer; `undefined` when there is none. */
export function at(value: unknown, path: string): unknown {
  let here = value;
  for (const key of parts(path)) {
    if (typeof here !== 'object' || here === null) return undefined;
    here = (here as Record<string, unknown>)[key];
  }
  return here;
}

/** The operations that put a value at a pointer, making the tables above it that are missing. */
export function put(document: unknown, path: string, value: unknown): Patch {
  const patch: Patch = [];
  const keys = parts(path);
  for (let n = 1; n < keys.length; n++) {
    const above = pointer(...keys.slice(0, n));
    if (at(document, above) === undefined) {
      // One operation that adds the whole missing branch.
      const branch = keys.slice(n).reduceRight<unknown>((inner, key) => ({ [key]: inner }), value);
      return [{ op: 'add', path: above, value: branch }];
    }
  }
  patch.push({ op: at(document, path) === undefined ? 'add' : 'replace', path, value });
  return patch;
}

const isTable = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/**
 * A patch made while tables were missing, on a document that has them by now: what it adds goes into such a table beside what is
 * there, so that two answers given at once under one missing table are both kept.
 */
export function beside(document: unknown, patch: Patch): Patch {
  return patch.flatMap((one) => {
    const there = one.op === 'add' ? at(document, one.path) : undefined;
    if (!isTable(there) || !isTable(one.value)) return [one];
    const put = Object.entries(one.value).map(([key, value]): Operation => {
      const path = one.path + pointer(key);
      return isTable(there[key]) && isTable(value)
        ? { op: 'add', path, value }
        : { op: key in there ? 'replace' : 'add', path, value };
    });
    return put.flatMap((inner) => (inner.op === 'add' ? beside(document, [inner]) : [inner]));
  });
}

/** The operations that take a value away, if it is there. */
export const takeOut = (document: unknown, path: string): Patch =>
  at(document, path) === undefined ? [] : [{ op: 'remove', path }];

/** An id that is not taken: the prefix with the lowest free number. */
export function freeId(table: object | undefined, prefix: string, bare = false): string {
  if (bare && !(prefix in (table ?? {}))) return prefix;
  for (let n = 1; ; n++) {
    const id = /\d$/.test(prefix) ? `${prefix}-${n}` : `${prefix}${n}`;
    if (!(id in (table ?? {}))) return id;
  }
}

/** Tables whose things share one set of tags: runs of cable end at any of them. */
const TAGGED = ['loudspeakers', 'joints', 'racks', 'stubs'];
/** Outputs and inputs: what labels at an amplifier say. */
const AT_AMPLIFIERS = ['channels', 'leads'];

/** An id for a new thing of a table that is not taken, nor by a thing it shares its tags with. */
export function freeTag(document: Record<string, unknown>, table: string, prefix: string): string {
  const tables = TAGGED.includes(table) ? TAGGED : [table];
  return freeId(Object.assign({}, ...tables.map((t) => document[t] ?? {})) as object, prefix);
}

/**
 * A tag for one more run of a line, as a route would give it: the line's with a number, a hyphen between where the line's ends in
 * a digit or a hyphen, where something a run can end at has such a tag, or where an output or an input has one and the line no
 * run without it, so that no two lines give one tag.
 */
export function freeRunTag(document: Record<string, unknown>, line: string, runs: object): string {
  const all = (tables: string[]) => Object.assign({}, ...tables.map((t) => document[t] ?? {})) as object;
  const [ends, atAmplifiers] = [all(TAGGED), all(AT_AMPLIFIERS)];
  const alike = (tag: string) => tag.startsWith(line) && /^\d+$/.test(tag.slice(line.length));
  const has = (things: object) => Object.keys(things).some(alike);
  const between = /[\d-]$/.test(line) || has(ends) || (has(atAmplifiers) && !has(runs)) ? '-' : '';
  for (let n = Object.keys(runs).length + 1; ; n++) {
    const tag = `${line}${between}${n}`;
    if (!(tag in runs) && !(tag in ends) && !(tag in atAmplifiers)) return tag;
  }
}

/** A copy of a value with adds, replaces and removes of a patch carried out; what is not touched is shared. */
export function applied<T>(value: T, patch: Patch): T {
  return patch.reduce((whole, { op, path, value }) => changed(whole, parts(path), op, value) as T, value);
}

function changed(here: unknown, keys: string[], op: Operation['op'], value: unknown): unknown {
  const [key, ...rest] = keys;
  if (key === undefined) return value;
  if (Array.isArray(here)) {
    const copy = [...here];
    const i = key === '-' ? copy.length : Number(key);
    if (rest.length) copy[i] = changed(copy[i], rest, op, value);
    else if (op === 'add') copy.splice(i, 0, value);
    else if (op === 'remove') copy.splice(i, 1);
    else copy[i] = value;
    return copy;
  }
  const copy = { ...(here as Record<string, unknown> | null) };
  if (rest.length) copy[key] = changed(copy[key], rest, op, value);
  else if (op === 'remove') delete copy[key];
  else copy[key] = value;
  return copy;
}
