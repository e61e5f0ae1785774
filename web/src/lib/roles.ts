/** What a device may be let in for, as people say it. */
import { say } from '../words/spoken.svelte';

export type Role = 'owner' | 'designer' | 'crew';

export const ROLES: Record<Role, { name: string; may: string }> = {
  designer: { name: 'Designer', may: 'everything about a job but deleting it' },
  crew: { name: 'Crew', may: 'readings, ticks and photos; no prices' },
  owner: { name: 'Owner', may: 'everything, deleting jobs too' },
};

export const roleName = (role: string) => say(ROLES[role as Role]?.name ?? role);
