/** The likeliest of the addresses under which a phone finds this computer, without the code; `null` where there is none but its own. */
export function phoneAddress(explainedAt: readonly string[]): string | null {
  const reached = explainedAt.find((address) => {
    const { hostname } = new URL(address);
    return !hostname.startsWith('127.') && hostname !== 'localhost' && hostname !== '[::1]';
  });
  return reached?.split('#')[0] ?? null;
}
