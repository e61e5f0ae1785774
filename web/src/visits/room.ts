/** How much room the phone has left for what is entered. */

export interface Room {
  used: number;
  free: number;
}

/** Below this a warning is shown: some twenty photos. */
export const LOW = 10 << 20;
/** Kept free for readings and ticks, some thousand of them: photos do not take the last room. Browsers tell little of how much there is. */
export const RESERVE = 2 << 20;

/** `null` where the browser does not tell. */
export async function room(): Promise<Room | null> {
  const { quota, usage } = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
  if (quota === undefined || usage === undefined) return null;
  return { used: usage, free: Math.max(0, quota - usage) };
}

/** Asks the browser not to clear what is kept when the phone runs short; whether it agreed. */
export const hold = async () => (await navigator.storage?.persist?.().catch(() => false)) ?? false;

export const megabytes = (bytes: number) => `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
