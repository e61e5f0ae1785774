/** Figures of visits as people read them. */
import { parts } from '../lib/pointer';
import { hertz, ohms } from '../lib/units';
import { say } from '../words/spoken.svelte';
import type { FullVisit, MeterReading } from './document';
import type { Expected } from './shapes';

/** What a good line reads: "14.1 to 15.2 ohm", "open line". */
export function interval(e: Expected): string {
  if (e.ohm === null || e.low_ohm === null || e.high_ohm === null) return say('open line');
  const [low, high] = [ohms(e.low_ohm), ohms(e.high_ohm)];
  const [value, unit] = low.split(' ') as [string, string];
  return say('{low} to {high}', { low: high.endsWith(` ${unit}`) ? value : low, high });
}

/** Why somebody came, as people say it. */
export const KINDS: Record<string, string> = {
  building: 'while building',
  handover: 'handover',
  maintenance: 'maintenance',
  fault: 'a fault',
};

/** Why somebody comes next where nobody says it: until something is handed over they build on. */
export const kindOfNext = (visits: readonly Pick<FullVisit, 'kind'>[]) =>
  visits.some((v) => v.kind === 'handover') ? 'maintenance' : 'building';

/** A visit by its day and what it was for. */
export const visitWords = ({ date, kind }: Pick<FullVisit, 'date' | 'kind'>) =>
  `${date}, ${say(KINDS[kind] ?? kind)}`;

export const atWords = (hz: number) => (hz === 0 ? say('DC') : hertz(hz));

/** A reading: "14.3 ohm, DC", "open line, DC", "above 20 kohm, 1 kHz". */
export function said(r: MeterReading): string {
  const beyond = (ohm: string) => (r.above ? say('above {ohm}', { ohm }) : ohm);
  const shown = (value: number | 'open') => (value === 'open' ? say('open line') : beyond(ohms(value)));
  if (r.dc !== null) return `${shown(r.dc)}, ${say('DC')}`;
  if (r.impedance !== null)
    return [shown(r.impedance), r.frequency && hertz(r.frequency)].filter(Boolean).join(', ');
  if (r.leakage !== null) return say('{ohm} to earth', { ohm: beyond(ohms(r.leakage)) });
  return r.level !== null ? `${r.level.toFixed(1)} dBA` : '–';
}

/** A value of an edit in words, for people who have to choose between two. */
export function valueWords(value: unknown): string {
  if (value === undefined || value === null) return say('nothing (taken out)');
  if (typeof value !== 'object') return String(value);
  const parts = Object.entries(value).map(([k, v]) => `${k.replaceAll('_', ' ')}: ${valueWords(v)}`);
  return parts.join(', ') || say('an empty entry');
}

export const TABLES: Record<string, string> = { readings: 'reading', done: 'tick', photos: 'photo' };

/** A place under a visit in words: "reading A-7k2m", "notes". */
export function placeWords(path: string): string {
  const [table, id, field, more] = parts(path);
  if (table === 'amplifiers')
    return say('record of amplifier {id} ({what})', {
      id: id ?? '',
      what: (more ?? '').replaceAll('_', ' '),
    });
  if (!id) return (table ?? '').replaceAll('_', ' ');
  return [say(TABLES[table!] ?? table!), id, field && `(${field})`].filter(Boolean).join(' ');
}

/** So many readings, ticks and photos, each in words. */
export const entriesWords = (readings: number, ticks: number, photos: number): string[] => [
  readings === 1 ? say('1 reading') : say('{count} readings', { count: readings }),
  ticks === 1 ? say('1 tick') : say('{count} ticks', { count: ticks }),
  photos === 1 ? say('1 photo') : say('{count} photos', { count: photos }),
];

/** What visits have of a thing, the oldest first; a thing that was taken out meanwhile keeps it. */
export function enteredOf(visits: Record<string, FullVisit>, id: string) {
  const of = (entries: Record<string, { at: string | null }>) =>
    Object.values(entries).filter((e) => e.at === id).length;
  return Object.entries(visits)
    .map(([visit, v]) => ({
      visit,
      date: v.date,
      counts: [of(v.readings), of(v.done), of(v.photos)] as const,
    }))
    .filter(({ counts }) => counts.some((n) => n > 0))
    .sort((a, b) => a.date.localeCompare(b.date))
    .map(({ visit, date, counts }) => ({
      visit,
      date,
      what: entriesWords(...counts)
        .filter((_, i) => counts[i]! > 0)
        .join(', '),
    }));
}
