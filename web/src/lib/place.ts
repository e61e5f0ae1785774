import type { components } from '../api/schema';

/** Where a meter is connected, as the server says it. */
export type Place = components['schemas']['Place'];

/** The joint a meter is connected at; `null` at the rack. */
export const jointOf = (place: Place): string | null => (place === 'rack' ? null : place.downstream);

/** The same in a word: `rack`, or the joint. */
export const placeWord = (place: Place): string => jointOf(place) ?? 'rack';
