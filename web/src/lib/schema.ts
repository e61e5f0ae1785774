/** What the schema of the job document says about a field: quantity, range, words, default, description. */
import schema from '../../../docs/schema/job.schema.json';

export interface FieldSpec {
  kind: 'quantity' | 'text' | 'choice' | 'flag' | 'whole' | 'wholes' | 'list' | 'money' | 'other';
  quantity?: string;
  unit?: string;
  /** The least and the most it may be, in the unit of the schema. */
  min?: number;
  max?: number;
  /** Quantity of each, where it is a list of them. */
  each?: string;
  example?: string;
  default?: unknown;
  description: string;
  options?: { value: string; description: string }[];
  required: boolean;
}

interface Raw {
  type?: string;
  anyOf?: { type?: string; minimum?: number; maximum?: number }[];
  oneOf?: { const: string; description: string }[];
  'x-quantity'?: string;
  'x-unit'?: string;
  examples?: string[];
  default?: unknown;
  description?: string;
  items?: Raw;
  prefixItems?: Raw[];
}

/** Types of a schema, by name. */
export type Definitions = Record<string, { properties: Record<string, Raw>; required?: string[] }>;

const definitions = schema.$defs as unknown as Definitions;

/** Type of the things in a table. */
export const TYPE_OF: Record<string, string> = {
  job: 'About',
  brief: 'Brief',
  site: 'Site',
  phases: 'Phase',
  zones: 'Zone',
  areas: 'Area',
  programmes: 'Programme',
  neighbours: 'Neighbour',
  surfaces: 'Surface',
  walls: 'Wall',
  buildings: 'Building',
  no_go: 'NoGo',
  services: 'Service',
  sleeves: 'Sleeve',
  passages: 'Passage',
  stubs: 'Stub',
  racks: 'Rack',
  marks: 'Mark',
  loudspeakers: 'Loudspeaker',
  joints: 'Joint',
  lines: 'Line',
  amplifiers: 'Amplifier',
  channels: 'Channel',
  sources: 'Source',
  leads: 'Lead',
  links: 'Link',
  visits: 'Visit',
};

/** How far east, west, north or south of the datum a corner may lie, m. */
export const FARTHEST_M =
  definitions.Area?.properties.outline?.items?.prefixItems?.[0]?.anyOf?.[0]?.maximum ?? Infinity;

export const isRequired = (type: string, key: string) => definitions[type]?.required?.includes(key) ?? false;

/** Fields of a type that a form can show, in the order of the schema. */
export const fieldsOf = (type: string): string[] =>
  Object.keys(definitions[type]?.properties ?? {}).filter((key) =>
    ['quantity', 'text', 'choice', 'flag', 'whole', 'wholes'].includes(fieldSpec(type, key).kind),
  );

export const fieldSpec = (type: string, key: string): FieldSpec => specIn(definitions, type, key);

/**
 * Examples where a field takes less than `below`, in the unit of the schema, and the usual one of its quantity would be refused or
 * out of all proportion: 85 dB is how loud a place is, 3.8 m how wide, 30 min what work takes. The smallest first.
 */
const SMALLER: Record<string, { below: number; example: string }[]> = {
  level: [{ below: 85, example: '6 dB' }],
  time: [{ below: 1800, example: '15 ms' }],
  length: [
    { below: 1.5, example: '50 mm or 2 in' },
    { below: 3.9, example: '0.3 m or 1 ft' },
  ],
  temperature: [{ below: 40, example: '-10 C or 14 F' }],
  frequency: [{ below: 1200, example: '250 Hz' }],
  'signal voltage': [{ below: 2, example: '0.1 mV' }],
};
/** The same where a field takes nothing below `above`: mains are no line, and a day is longer than a task. */
const LARGER: Record<string, { above: number; example: string }> = {
  voltage: { above: 71, example: '120 V or 230 V' },
  time: { above: 1800, example: '8 h' },
};

/** An example of what may stand in a field: that of its quantity where the field takes it. */
function exampleOf(raw: Raw): string | undefined {
  const { minimum = -Infinity, maximum = Infinity } = raw.anyOf?.[0] ?? {};
  const quantity = raw['x-quantity'] ?? '';
  const larger = LARGER[quantity];
  if (larger && minimum > larger.above) return larger.example;
  return SMALLER[quantity]?.find(({ below }) => maximum < below)?.example ?? raw.examples?.[0];
}

/** The same of a field of another schema. */
export function specIn(definitions: Definitions, type: string, key: string): FieldSpec {
  const of = definitions[type];
  const raw = of?.properties[key];
  if (!raw) throw new Error(`the schema has no ${type}.${key}`);
  const kind: FieldSpec['kind'] = raw.oneOf
    ? 'choice'
    : raw['x-quantity']
      ? 'quantity'
      : raw.type === 'boolean'
        ? 'flag'
        : raw.type === 'integer'
          ? 'whole'
          : raw.type === 'string'
            ? 'text'
            : raw.type === 'array' && raw.items?.type === 'integer'
              ? 'wholes'
              : raw.type === 'array'
                ? 'list'
                : raw.anyOf
                  ? 'money'
                  : 'other';
  return {
    kind,
    quantity: raw['x-quantity'],
    unit: raw['x-unit'],
    min: raw.anyOf?.[0]?.minimum,
    max: raw.anyOf?.[0]?.maximum,
    each: raw.items?.['x-quantity'],
    example: exampleOf(raw),
    default: raw.default,
    // Its words, without the marks of a file.
    description: (raw.description ?? '').replaceAll('`', '').replace(/\s+/g, ' '),
    options: (raw.oneOf ?? raw.items?.oneOf)?.map((o) => ({ value: o.const, description: o.description })),
    required: of.required?.includes(key) ?? false,
  };
}
