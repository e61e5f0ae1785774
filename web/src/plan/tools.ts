/** What can be drawn: for each thing its shape, and what it needs to make sense. */
import type { JobDocument, Table } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { CUSTOMS } from '../lib/custom';
import { distance, type Point } from '../lib/geometry';
import { isRequired } from '../lib/schema';
import { FT_M } from '../lib/units';
import { prefs } from '../state/prefs.svelte';

export type ShapeKind = 'outline' | 'line' | 'points' | 'position';

export interface Tool {
  key: string;
  label: string;
  table: Table | 'site' | 'measure' | 'scale' | 'datum';
  shape: ShapeKind;
  /** Least number of points. */
  least: number;
  /** Stops by itself at this number. */
  most?: number;
  prefix: string;
  /** Values it cannot be without; a sentence when it cannot be made yet. */
  needs: Record<string, unknown> | ((of: Made) => Record<string, unknown> | string);
  hint: string;
}

/** What a tool may look at to fill in what a thing needs. */
export interface Made {
  doc: JobDocument;
  catalogue: Catalogue | null;
  points: readonly Point[];
}

/** What a thing begins with, as people of either unit would say it. */
const usual = (metric: string, imperial: string) => (prefs.unit === 'ft' ? imperial : metric);

export const TOOLS: Tool[] = [
  {
    key: 'property',
    label: 'Property',
    table: 'site',
    shape: 'outline',
    least: 3,
    prefix: '',
    needs: {},
    hint: 'Click the corners of the property.',
  },
  {
    key: 'area',
    label: 'Listening area',
    table: 'areas',
    shape: 'outline',
    least: 3,
    prefix: 'area',
    needs: { target: '65 dBA', listeners: 'standing' },
    hint: 'Click the corners of the place where people listen.',
  },
  {
    key: 'surface',
    label: 'Surface',
    table: 'surfaces',
    shape: 'outline',
    least: 3,
    prefix: 'surface',
    needs: { kind: 'bed' },
    hint: 'Click the corners; then say what the ground is.',
  },
  {
    key: 'building',
    label: 'Building',
    table: 'buildings',
    shape: 'outline',
    least: 3,
    prefix: 'building',
    needs: () => ({ height: usual('5 m', '16 ft') }),
    hint: 'Click the corners of the building.',
  },
  {
    key: 'wall',
    label: 'Wall or hedge',
    table: 'walls',
    shape: 'line',
    least: 2,
    prefix: 'wall',
    needs: () => ({ height: usual('1.8 m', '6 ft'), kind: 'masonry' }),
    hint: 'Click along the wall; Enter ends it.',
  },
  {
    key: 'neighbour',
    label: 'Neighbour',
    table: 'neighbours',
    shape: 'line',
    least: 2,
    prefix: 'neighbour',
    needs: { day: '50 dBA', night: '40 dBA' },
    hint: 'Click along the boundary or the windows; Enter ends it.',
  },
  {
    key: 'window',
    label: 'Neighbour point',
    table: 'neighbours',
    shape: 'points',
    least: 1,
    most: 1,
    prefix: 'neighbour',
    needs: { day: '50 dBA', night: '40 dBA' },
    hint: 'Click the window or balcony.',
  },
  {
    key: 'rack',
    label: 'Rack',
    table: 'racks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'R',
    needs: () => CUSTOMS[prefs.unit].rack,
    hint: 'Click where the cables leave the equipment.',
  },
  {
    key: 'stub',
    label: 'Stub-out',
    table: 'stubs',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'T',
    needs: stub,
    hint: 'Click where the cable that lies there comes out; then say which cable it is and how long.',
  },
  {
    key: 'passage',
    label: 'Passage',
    table: 'passages',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'W',
    needs: () => ({ inside_diameter: usual('30 mm', '1.25 in') }),
    hint: 'Click the place in the outer wall where cable can be drawn through; then say how wide it is inside.',
  },
  {
    key: 'service',
    label: 'Buried service',
    table: 'services',
    shape: 'line',
    least: 2,
    prefix: 'service',
    needs: { kind: 'unknown' },
    hint: 'Click along the service; Enter ends it.',
  },
  {
    key: 'sleeve',
    label: 'Sleeve',
    table: 'sleeves',
    shape: 'line',
    least: 2,
    prefix: 'sleeve',
    needs: () => ({ inside_diameter: usual('50 mm', '2 in') }),
    hint: 'Click from one end of the sleeve to the other; Enter ends it.',
  },
  {
    key: 'no-go',
    label: 'No-go place',
    table: 'no_go',
    shape: 'outline',
    least: 3,
    prefix: 'no-go',
    needs: {},
    hint: 'Click the corners of the place to keep clear.',
  },
  {
    key: 'mark',
    label: 'Mark',
    table: 'marks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'M',
    needs: { name: 'Fixed point' },
    hint: 'Click a corner or post that can be found again.',
  },
  {
    key: 'measure',
    label: 'Measure',
    table: 'measure',
    shape: 'line',
    least: 2,
    prefix: '',
    needs: {},
    hint: 'Click from point to point; Escape ends it.',
  },
];

/** Drawn where the cable is seen: a click on a run puts it into that run. */
export const JOINT: Tool = {
  key: 'joint',
  label: 'Joint',
  table: 'joints',
  shape: 'position',
  least: 1,
  most: 1,
  prefix: 'J',
  needs: {},
  hint: 'Click where the joint is; on a run of cable it goes into that run.',
};

/** The cable new lines and stub-outs begin with. */
export const usualCable = (catalogue: Catalogue | null): string | undefined => {
  const cables = Object.keys(catalogue?.cables ?? {});
  return cables.find((c) => c.includes('2x14awg')) ?? cables[0];
};

/** A stub-out leads to the nearest rack; where its length has to be stated, straight there is the least it can be. */
function stub({ doc, catalogue, points }: Made): Record<string, unknown> | string {
  const at = points[0]!;
  const [rack] = Object.entries(doc.racks).sort(
    ([, a], [, b]) => distance(a.position, at) - distance(b.position, at),
  );
  if (!rack) return 'A stub-out leads to a rack, and there is none: draw the rack first.';
  const straight_m = Math.max(0.5, distance(rack[1].position, at));
  return {
    cable: usualCable(catalogue),
    rack: rack[0],
    ...(isRequired('Stub', 'length')
      ? { length: usual(`${Math.ceil(10 * straight_m) / 10} m`, `${Math.ceil(straight_m / FT_M)} ft`) }
      : {}),
  };
}
