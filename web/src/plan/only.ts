/**
 * A part of a large job that is looked at: by zone, phase, rack, programme. Whose a thing is follows crates/model
 * (document/owners.rs): what a line says, else the rack it comes from; a loudspeaker is its line's, without a line that of the
 * area it stands in.
 */
import type { JobDocument, Line, Thing } from '../api/document';
import { inside } from '../lib/geometry';

/** What is looked at; everything where nothing is said. */
export interface Only {
  zone: string | null;
  phase: string | null;
  rack: string | null;
  programme: string | null;
}

export const EVERYTHING: Only = { zone: null, phase: null, rack: null, programme: null };
export const KINDS = ['zone', 'phase', 'rack', 'programme'] as const;

/** Whether everything is looked at. */
export const isWhole = (only: Only) => KINDS.every((kind) => only[kind] === null);

/** What there is to choose from, by kind: id and name. A kind with one of it tells nothing apart. */
export function choices(doc: JobDocument): [(typeof KINDS)[number], [string, string][]][] {
  const tables: Record<(typeof KINDS)[number], Record<string, { name?: string }>> = {
    zone: doc.zones,
    phase: doc.phases,
    rack: doc.racks,
    programme: doc.programmes,
  };
  return KINDS.map((kind): [(typeof KINDS)[number], [string, string][]] => [
    kind,
    Object.entries(tables[kind] ?? {}).map(([id, { name }]): [string, string] => [id, name || id]),
  ]).filter(([kind, list]) => list.length > (kind === 'zone' || kind === 'phase' ? 0 : 1));
}

const nothing = (): Only => ({ ...EVERYTHING });

/** The rack a line comes from: where it starts, where its stub leads, or where its channel's amplifier stands. */
function rackOf(doc: JobDocument, line: Line): string | null {
  if (line.start) {
    const stub = doc.stubs[line.start];
    if (!stub) return line.start;
    const racks = Object.keys(doc.racks);
    return stub.rack ?? (racks.length === 1 ? racks[0]! : null);
  }
  const channel = line.channel ? doc.channels[line.channel] : undefined;
  return (channel && doc.amplifiers[channel.amplifier]?.rack) ?? null;
}

function owned(doc: JobDocument, zone: string | null, phase: string | null) {
  return { zone, phase: phase ?? (zone === null ? null : (doc.zones[zone]?.phase ?? null)) };
}

function ownerOfRack(doc: JobDocument, id: string | null): Only {
  const rack = id === null ? undefined : doc.racks[id];
  if (!rack) return nothing();
  return { ...owned(doc, rack.zone ?? null, rack.phase ?? null), rack: id, programme: null };
}

function ownerOfLine(doc: JobDocument, line: Line): Only {
  const rack = rackOf(doc, line);
  const channel = line.channel ? doc.channels[line.channel] : undefined;
  const of = ownerOfRack(doc, rack);
  const own = line.zone
    ? owned(doc, line.zone, line.phase ?? null)
    : { zone: of.zone, phase: line.phase ?? of.phase };
  return { ...own, rack, programme: channel?.programme ?? null };
}

/** What belongs to what is looked at, by thing; a thing without an owner (a house, a service) is always seen. */
export class Seen {
  #lines = new Map<string, boolean>();
  #nodes = new Map<string, boolean>();

  constructor(
    readonly doc: JobDocument,
    readonly only: Only,
  ) {
    if (isWhole(only)) return;
    for (const [id, line] of Object.entries(doc.lines)) {
      const holds = this.#holds(ownerOfLine(doc, line));
      this.#lines.set(id, holds);
      // What lines share is seen with any of them.
      for (const { from, to } of Object.values(line.runs))
        for (const end of [from, to]) this.#nodes.set(end, holds || (this.#nodes.get(end) ?? false));
    }
  }

  #holds = (owner: Only) =>
    KINDS.every((kind) => this.only[kind] === null || owner[kind] === this.only[kind]);

  has({ table, id }: Thing): boolean {
    if (isWhole(this.only)) return true;
    const { doc, only } = this;
    switch (table) {
      case 'lines':
        return this.#lines.get(id) ?? true;
      case 'loudspeakers': {
        const l = doc.loudspeakers[id];
        if (!l) return true;
        if (l.line) return this.#lines.get(l.line) ?? false;
        const area = Object.values(doc.areas).find((a) => inside(l.position, a.outline));
        return this.#holds({ ...nothing(), ...owned(doc, area?.zone ?? null, area?.phase ?? null) });
      }
      case 'joints':
      case 'stubs':
        return this.#nodes.get(id) ?? true;
      case 'racks':
        return (
          this.#nodes.get(id) === true || this.#holds({ ...ownerOfRack(doc, id), programme: only.programme })
        );
      case 'areas': {
        const a = doc.areas[id];
        if (!a || (only.zone === null && only.phase === null)) return true;
        const { zone, phase } = owned(doc, a.zone ?? null, a.phase ?? null);
        return (only.zone === null || zone === only.zone) && (only.phase === null || phase === only.phase);
      }
      default:
        return true;
    }
  }
}
