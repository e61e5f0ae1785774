/** What can be drawn: for each thing its shape, and what it needs to make sense. */
import type { JobDocument, Table } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { centre, distance, inside, type Point } from '../lib/geometry';
import { fieldSpec, isRequired } from '../lib/schema';
import { rackBeside } from '../lib/start';
import { FT_M } from '../lib/units';
import { prefs } from '../state/prefs.svelte';
import type { IconName } from '../ui/Icon.svelte';
import { say } from '../words/spoken.svelte';

/** How an outline is drawn: corner by corner, by two opposite corners, by middle and edge, or smoothly through points. */
export type Form = 'corners' | 'rectangle' | 'circle' | 'curve';

export interface FormTool {
  form: Exclude<Form, 'corners'>;
  label: string;
  icon: IconName;
  hotkey: string;
  hint: string;
}

export const FORMS: readonly FormTool[] = [
  {
    form: 'rectangle',
    label: 'Rectangle',
    icon: 'rectangle',
    hotkey: 'r',
    hint: 'Click a corner and the one opposite, or drag across. Begun on a side it lies along that side.',
  },
  {
    form: 'circle',
    label: 'Circle',
    icon: 'circle',
    hotkey: 'c',
    hint: 'Click the middle, then a place on the edge.',
  },
  {
    form: 'curve',
    label: 'Curve',
    icon: 'curve',
    hotkey: 'u',
    hint: 'Click places along the edge; it is led smoothly through them. Enter ends it.',
  },
];

export type ShapeKind = 'outline' | 'line' | 'points' | 'position';

export interface Tool {
  key: string;
  label: string;
  /** Kinds there are of it, the usual one first: chosen before it is drawn. */
  kinds?: readonly string[];
  table: Table | 'site' | 'measure' | 'scale' | 'datum';
  shape: ShapeKind;
  /** Whether points lie where they are pressed and nowhere near: pixels of a picture. */
  exact?: boolean;
  /** Least number of points. */
  least: number;
  /** Stops by itself at this number. */
  most?: number;
  prefix: string;
  /** Values it cannot be without; a sentence when it cannot be made yet. */
  needs: Record<string, unknown> | ((of: Made) => Record<string, unknown> | string);
  hint: string;
}

/** A tool that stands in a strip. */
export interface ListedTool extends Tool {
  /** Its name where there is little room: part of its whole name. */
  short: string;
  icon: IconName;
  /** The letter that takes it. */
  hotkey: string;
}

/** What a tool may look at to fill in what a thing needs. */
export interface Made {
  doc: JobDocument;
  catalogue: Catalogue | null;
  points: readonly Point[];
}

/** What a thing begins with, as people of either unit would say it. */
const usual = (metric: string, imperial: string) => (prefs.unit === 'ft' ? imperial : metric);

/** What the schema has of kinds, the usual one first. */
function kindsOf(type: string, usually: string): string[] {
  const all = fieldSpec(type, 'kind').options!.map((o) => o.value);
  return [usually, ...all.filter((k) => k !== usually)];
}

/** The key that puts every tool down. */
export const CHOOSE_KEY = 'v';

export const TOOLS: ListedTool[] = [
  {
    key: 'property',
    label: 'Property',
    short: 'Property',
    icon: 'property',
    hotkey: 'p',
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
    short: 'Area',
    icon: 'area',
    hotkey: 'a',
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
    short: 'Surface',
    icon: 'surface',
    hotkey: 's',
    table: 'surfaces',
    shape: 'outline',
    least: 3,
    prefix: 'surface',
    kinds: kindsOf('Surface', 'bed'),
    needs: ({ doc, points }) => elevationUnder(doc, points),
    hint: 'Click the corners of the ground.',
  },
  {
    key: 'building',
    label: 'Building',
    short: 'Building',
    icon: 'building',
    hotkey: 'b',
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
    short: 'Wall',
    icon: 'wall',
    hotkey: 'w',
    table: 'walls',
    shape: 'line',
    least: 2,
    prefix: 'wall',
    kinds: kindsOf('Wall', 'masonry'),
    needs: () => ({ height: usual('1.8 m', '6 ft') }),
    hint: 'Click along the wall; Enter ends it.',
  },
  {
    key: 'neighbour',
    label: 'Neighbour',
    short: 'Neighbour',
    icon: 'neighbour',
    hotkey: 'n',
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
    short: 'Point',
    icon: 'window',
    hotkey: 'i',
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
    short: 'Rack',
    icon: 'rack',
    hotkey: 'k',
    table: 'racks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'R',
    needs: ({ doc }) => rackBeside(doc.racks),
    hint: 'Click where the cables leave the equipment.',
  },
  {
    key: 'stub',
    label: 'Stub-out',
    short: 'Stub-out',
    icon: 'stub',
    hotkey: 't',
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
    short: 'Passage',
    icon: 'passage',
    hotkey: 'h',
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
    short: 'Service',
    icon: 'service',
    hotkey: 'e',
    table: 'services',
    shape: 'line',
    least: 2,
    prefix: 'service',
    kinds: kindsOf('Service', 'unknown'),
    needs: {},
    hint: 'Click along the service; Enter ends it.',
  },
  {
    key: 'sleeve',
    label: 'Sleeve',
    short: 'Sleeve',
    icon: 'sleeve',
    hotkey: 'l',
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
    short: 'No-go',
    icon: 'noGo',
    hotkey: 'x',
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
    short: 'Mark',
    icon: 'mark',
    hotkey: 'f',
    table: 'marks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'M',
    needs: () => ({ name: say('Fixed point') }),
    hint: 'Click a corner or post that can be found again.',
  },
  {
    key: 'measure',
    label: 'Measure',
    short: 'Measure',
    icon: 'ruler',
    hotkey: 'd',
    table: 'measure',
    shape: 'line',
    least: 2,
    prefix: '',
    needs: {},
    hint: 'Click from point to point; Escape begins anew, and again ends it.',
  },
];

/** Drawn where the cable is seen: a click on a run puts it into that run. */
export const JOINT: ListedTool = {
  key: 'joint',
  label: 'Joint',
  short: 'Joint',
  icon: 'joint',
  hotkey: 'j',
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

/** A piece of ground drawn on another lies as high as that one: without a word it would be a pit in it. */
function elevationUnder(doc: JobDocument, points: readonly Point[]): Record<string, unknown> {
  const middle = centre(points);
  // Of several the last in the file is the ground there.
  const under = Object.values(doc.surfaces).filter((s) => inside(middle, s.outline));
  const elevation = under.at(-1)?.elevation ?? 0;
  return elevation === 0 ? {} : { elevation };
}

/** A stub-out leads to the nearest rack; where its length has to be stated, straight there is the least it can be. */
function stub({ doc, catalogue, points }: Made): Record<string, unknown> | string {
  const at = points[0]!;
  const [rack] = Object.entries(doc.racks).sort(
    ([, a], [, b]) => distance(a.position, at) - distance(b.position, at),
  );
  if (!rack) return say('A stub-out leads to a rack, and there is none: draw the rack first.');
  const straight_m = Math.max(0.5, distance(rack[1].position, at));
  return {
    cable: usualCable(catalogue),
    rack: rack[0],
    ...(isRequired('Stub', 'length')
      ? { length: usual(`${Math.ceil(10 * straight_m) / 10} m`, `${Math.ceil(straight_m / FT_M)} ft`) }
      : {}),
  };
}
