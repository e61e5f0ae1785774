/** Where sound levels are measured: listening areas, neighbours and their floors. */
import type { JobDocument, MeasuredLevel } from '../../api/document';
import type { ExpectAnswer } from '../../api/shapes';

export interface LevelPlace {
  key: string;
  text: string;
  area?: string;
  neighbour?: string;
  floor?: string;
}

/** Every place a level may be of, by the names people gave them. */
export function placesOf(doc: JobDocument): LevelPlace[] {
  const named = (id: string, name: string | undefined) => name || id;
  const areas = Object.entries(doc.areas).map(([area, a]) => ({
    key: `area ${area}`,
    text: named(area, a.name),
    area,
  }));
  const neighbours = Object.entries(doc.neighbours).flatMap(([neighbour, n]): LevelPlace[] => {
    const floors = Object.entries((n as { floors?: Record<string, { name: string }> }).floors ?? {});
    const text = named(neighbour, n.name);
    if (!floors.length) return [{ key: `neighbour ${neighbour}`, text, neighbour }];
    return floors.map(([floor, f]) => ({
      key: `neighbour ${neighbour} ${floor}`,
      text: `${text}, ${named(floor, f.name)}`,
      neighbour,
      floor,
    }));
  });
  return [...areas, ...neighbours];
}

/** What of a place goes into the document. */
export const spotOf = ({ area, neighbour, floor }: LevelPlace): Record<string, string> => ({
  ...(area !== undefined && { area }),
  ...(neighbour !== undefined && { neighbour }),
  ...(floor !== undefined && { floor }),
});

/** The place of a level in words; its id where there is none of it any more. */
export function placeWords(doc: JobDocument, l: MeasuredLevel): string {
  const same = (p: LevelPlace) =>
    (p.area ?? null) === l.area && (p.neighbour ?? null) === l.neighbour && (p.floor ?? null) === l.floor;
  return placesOf(doc).find(same)?.text ?? [l.area ?? l.neighbour, l.floor].filter(Boolean).join(', ');
}

/** What is to be said of the levels of a visit, by the level: every verdict on it, and whether all of it is as asked for. */
export function verdictsOf(
  judged: Pick<ExpectAnswer['levels'][number], 'visit' | 'level' | 'kept' | 'verdict'>[],
  visit: string,
): Record<string, { kept: boolean; verdict: string }> {
  const all: Record<string, { kept: boolean; verdict: string }> = {};
  for (const one of judged.filter((l) => l.visit === visit)) {
    const before = all[one.level];
    all[one.level] = {
      kept: one.kept && (before?.kept ?? true),
      verdict: before ? `${before.verdict}; ${one.verdict}` : one.verdict,
    };
  }
  return all;
}

/** What is typed, with its unit where a person left it out. */
export const bareLevel = (typed: string, unit: 'dBA' | 'dB') =>
  /^[\d.]+$/.test(typed.trim()) ? `${typed.trim()} ${unit}` : typed.trim();
