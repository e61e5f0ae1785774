/** Asks for one thing at a time: a list of pictures must not hold up what a person asks for. */
let last: Promise<unknown> = Promise.resolve();

export function oneByOne<T>(ask: () => Promise<T>): Promise<T> {
  const asked = last.then(ask, ask);
  last = asked.catch(() => undefined);
  return asked;
}
