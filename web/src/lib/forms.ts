/** Which fields of a thing are shown, in what order, under which name. Ranges, words and descriptions come from the schema. */
import type { JobDocument, Run } from '../api/document';
import type { Catalogue } from '../api/shapes';
import type { FormField } from '../ui/Fields.svelte';
import { called } from './called';
import { customOf } from './custom';
import { LANGUAGE_OPTIONS } from './languages';
import { fieldsOf, TYPE_OF } from './schema';
import { pairsOf, pairWords } from './starts';
import { supplyOf } from './supply';
import { say } from '../words/spoken.svelte';

/** What a person calls the things of a table: one, many. */
export const NAMES: Record<string, [string, string]> = {
  areas: ['listening area', 'Listening areas'],
  neighbours: ['neighbour', 'Neighbours'],
  surfaces: ['surface', 'Surfaces'],
  walls: ['wall, fence or hedge', 'Walls, fences, hedges'],
  buildings: ['building', 'Buildings'],
  no_go: ['no-go place', 'No-go places'],
  services: ['buried service', 'Buried services'],
  sleeves: ['sleeve', 'Sleeves'],
  passages: ['passage through a wall', 'Passages through walls'],
  stubs: ['stub-out', 'Stub-outs'],
  racks: ['rack', 'Racks'],
  marks: ['mark to tape from', 'Marks to tape from'],
  loudspeakers: ['loudspeaker', 'Loudspeakers'],
  joints: ['joint', 'Joints'],
  lines: ['line', 'Lines'],
  amplifiers: ['amplifier', 'Amplifiers'],
  channels: ['channel', 'Channels'],
  sources: ['source', 'Sources'],
  leads: ['lead', 'Leads'],
  links: ['link', 'Links'],
  programmes: ['programme', 'Programmes'],
  zones: ['zone', 'Zones'],
  phases: ['phase', 'Phases'],
  visits: ['visit', 'Visits'],
};

type Options = { value: string; text: string }[];
type Named = Record<string, { name?: string }>;
/** Things that carry a tag on site: by that, with the name somebody gave them. */
const tagged = (table: object | undefined): Options =>
  Object.entries((table ?? {}) as Named).map(([id, { name }]) => ({
    value: id,
    text: name ? `${id}: ${name}` : id,
  }));
/** Things without a tag: by name, with the id where two go by one name. */
function untagged(doc: JobDocument, table: 'programmes' | 'zones' | 'phases'): Options {
  const named = (id: string) => ({ value: id, text: called(doc, { table, id }) });
  const all = Object.keys(doc[table] ?? {}).map(named);
  const twice = (text: string) => all.filter((o) => o.text === text).length > 1;
  return all.map((o) => (twice(o.text) && o.text !== o.value ? { ...o, text: `${o.text} (${o.value})` } : o));
}
const programmes = (doc: JobDocument) => untagged(doc, 'programmes');
/** The mains of the job, for a rack that says none of its own. */
function asTheJob({ job }: JobDocument, key: 'mains' | 'circuit'): string {
  const stated = job[key];
  const value = stated == null ? customOf(job.units)[key] : `${stated} ${key === 'mains' ? 'V' : 'A'}`;
  return say('{value}, as the job', { value });
}
/** Whose a thing is, and when it is built: only where the job has zones, or phases. */
function owner(doc: JobDocument, zone: string | null, phase: string): FormField[] {
  const [zones, phases] = [untagged(doc, 'zones'), untagged(doc, 'phases')];
  return [
    ...(zones.length && zone !== null
      ? [{ field: 'zone', label: 'Zone', options: zones, unsaid: zone }]
      : []),
    ...(phases.length ? [{ field: 'phase', label: 'Phase', options: phases, unsaid: phase }] : []),
  ];
}
/** What plays where nobody says which: the first programme there is. */
const usualProgramme = (doc: JobDocument) => programmes(doc)[0]?.text;
const described = (table: Record<string, { description: string }> | undefined): Options =>
  Object.entries(table ?? {}).map(([id, m]) => ({ value: id, text: `${id}: ${m.description}` }));

/** The one thing of a table that has just one. */
const onlyOf = (table: object) => (Object.keys(table).length === 1 ? Object.keys(table)[0] : undefined);

/** Tables whose forms show whatever else the schema has: what is known of old cable grows. */
const GROWING = ['stubs', 'joints'];

/** Fields of a thing in a table. */
export function formOf(table: string, doc: JobDocument, catalogue: Catalogue | null): FormField[] {
  const named = namedOf(table, doc, catalogue);
  if (!GROWING.includes(table)) return named;
  const others = fieldsOf(TYPE_OF[table]!).filter((key) => !named.some((f) => f.field === key));
  const label = (key: string) => key[0]!.toUpperCase() + key.slice(1).replaceAll('_', ' ');
  return [...named, ...others.map((field) => ({ field, label: label(field) }))];
}

function namedOf(table: string, doc: JobDocument, catalogue: Catalogue | null): FormField[] {
  switch (table) {
    case 'areas':
      return [
        { field: 'name', label: 'Name' },
        { field: 'target', label: 'Level wanted', unit: 'dBA' },
        { field: 'listeners', label: 'Listeners' },
        { field: 'within', label: 'Tolerance' },
        { field: 'bass', label: 'Bass wanted' },
        { field: 'bass_at_most', label: 'Bass at most' },
        { field: 'programme', label: 'Programme', options: programmes(doc), unsaid: usualProgramme(doc) },
        { field: 'ear_height', label: 'Ear height' },
        ...owner(doc, say('none'), say('as its zone')),
      ];
    case 'neighbours':
      return [
        { field: 'name', label: 'Name' },
        { field: 'day', label: 'Limit by day', unit: 'dBA' },
        { field: 'night', label: 'Limit by night', unit: 'dBA' },
        { field: 'height', label: 'Height' },
        { field: 'day_63hz', label: '63 Hz limit by day' },
        { field: 'night_63hz', label: '63 Hz limit by night' },
      ];
    case 'surfaces':
      return [
        { field: 'name', label: 'Name' },
        { field: 'kind', label: 'Ground' },
        { field: 'laying', label: 'Laying of cable' },
        { field: 'flow_class', label: 'Ground class' },
        { field: 'elevation', label: 'Elevation' },
        { field: 'loudspeakers', label: 'Loudspeakers may stand here' },
      ];
    case 'walls':
      return [
        { field: 'name', label: 'Name' },
        { field: 'kind', label: 'Kind' },
        { field: 'height', label: 'Height' },
        { field: 'foot', label: 'Foot above datum' },
        { field: 'top', label: 'Top above datum' },
        { field: 'absorption', label: 'Absorption' },
        { field: 'clip', label: 'Cable may be clipped' },
        { field: 'loudspeakers', label: 'Loudspeakers may be fixed' },
      ];
    case 'buildings':
      return [
        { field: 'name', label: 'Name' },
        { field: 'height', label: 'Height' },
        { field: 'absorption', label: 'Absorption' },
        { field: 'clip', label: 'Cable may be clipped' },
        { field: 'loudspeakers', label: 'Loudspeakers may be fixed' },
        { field: 'holes', label: 'New holes may be made' },
      ];
    case 'no_go':
      return [{ field: 'reason', label: 'Reason', wide: true }];
    case 'services':
      return [
        { field: 'kind', label: 'Carries' },
        { field: 'depth', label: 'Depth' },
        { field: 'clearance', label: 'Clearance' },
      ];
    case 'sleeves':
      return [
        { field: 'name', label: 'Name' },
        { field: 'inside_diameter', label: 'Inside diameter' },
      ];
    case 'passages':
      return [
        { field: 'name', label: 'Name' },
        { field: 'inside_diameter', label: 'Inside diameter' },
      ];
    case 'stubs':
      return [
        { field: 'name', label: 'Name' },
        { field: 'cable', label: 'Cable', options: described(catalogue?.cables) },
        { field: 'rack', label: 'Rack', options: tagged(doc.racks), unsaid: onlyOf(doc.racks) },
        { field: 'length', label: 'Length' },
        { field: 'free_pairs', label: 'Free pairs' },
        { field: 'free_conductors', label: 'Free conductors' },
        { field: 'marking', label: 'Marking' },
        { field: 'tail', label: 'Spare length here' },
      ];
    case 'racks':
      return [
        { field: 'name', label: 'Name' },
        { field: 'height', label: 'Cable leaves at' },
        { field: 'mains', label: 'Mains', unsaid: asTheJob(doc, 'mains') },
        { field: 'circuit', label: 'Circuit', unsaid: asTheJob(doc, 'circuit') },
        { field: 'units', label: 'Height units' },
        ...owner(doc, say('none'), say('as its zone')),
      ];
    case 'marks':
      return [{ field: 'name', label: 'Name', wide: true }];
    case 'loudspeakers':
      return [
        { field: 'model', label: 'Model', options: described(catalogue?.loudspeakers), wide: true },
        { field: 'bearing', label: 'Bearing' },
        { field: 'pitch', label: 'Tilt' },
        { field: 'height', label: 'Height' },
        { field: 'line', label: 'Line', options: tagged(doc.lines) },
        { field: 'tap', label: 'Tap' },
        { field: 'mount', label: 'Fixing' },
        { field: 'polarity', label: 'Polarity' },
        { field: 'coils', label: 'Voice coils' },
        { field: 'pinned', label: 'Pinned: proposals keep it' },
        { field: 'serial', label: 'Serial number' },
        { field: 'note', label: 'Note for the crew', wide: true },
      ];
    case 'joints':
      return [
        { field: 'kind', label: 'Kind' },
        { field: 'note', label: 'Note for the crew' },
      ];
    case 'lines':
      return [
        { field: 'channel', label: 'Channel', options: tagged(doc.channels) },
        { field: 'cable', label: 'Cable', options: described(catalogue?.cables) },
        { field: 'topology', label: 'Branching' },
        { field: 'supply', label: 'Line voltage' },
        ...owner(doc, say('as its rack'), say('as its zone')),
      ];
    case 'amplifiers':
      return [
        { field: 'model', label: 'Model', options: described(catalogue?.amplifiers), wide: true },
        { field: 'rack', label: 'Rack', options: tagged(doc.racks) },
        { field: 'serial', label: 'Serial number' },
        ...owner(doc, null, say('as its rack')),
      ];
    case 'channels':
      return [
        { field: 'amplifier', label: 'Amplifier', options: tagged(doc.amplifiers) },
        { field: 'output', label: 'Output' },
        { field: 'programme', label: 'Programme', options: programmes(doc), unsaid: usualProgramme(doc) },
        { field: 'gain', label: 'Gain' },
        { field: 'delay', label: 'Delay' },
        { field: 'polarity', label: 'Polarity' },
        { field: 'bridged', label: 'Bridged with the next output' },
      ];
    case 'sources':
      return [
        { field: 'name', label: 'Name' },
        { field: 'kind', label: 'Kind' },
        { field: 'rack', label: 'Rack', options: tagged(doc.racks) },
        { field: 'signal', label: 'Signal' },
        { field: 'output', label: 'Output' },
        { field: 'connector', label: 'Connector' },
        { field: 'nominal', label: 'Usual level' },
        { field: 'highest', label: 'Highest level' },
        { field: 'noise', label: 'Noise' },
        { field: 'priority', label: 'Priority' },
        { field: 'turns_down', label: 'Turns others down by' },
        { field: 'note', label: 'Note for the crew', wide: true },
      ];
    case 'leads':
      return [
        { field: 'side', label: 'Brings' },
        { field: 'amplifier', label: 'To amplifier', options: tagged(doc.amplifiers) },
        { field: 'input', label: 'Input' },
        { field: 'length', label: 'Length' },
        ...(Object.keys(doc.links ?? {}).length
          ? [{ field: 'link', label: 'Through link', options: tagged(doc.links) }]
          : []),
        { field: 'note', label: 'Note for the crew', wide: true },
      ];
    case 'links':
      return [
        { field: 'name', label: 'Name' },
        { field: 'from', label: 'From rack', options: tagged(doc.racks) },
        { field: 'to', label: 'To rack', options: tagged(doc.racks) },
        { field: 'kind', label: 'Kind' },
        { field: 'delay', label: 'Delay' },
        { field: 'length', label: 'Length' },
        { field: 'note', label: 'Note for the crew', wide: true },
      ];
    case 'programmes':
      return [
        { field: 'name', label: 'Name' },
        { field: 'spectrum', label: 'Spectrum' },
        { field: 'crest_factor', label: 'Crest factor' },
        { field: 'speech', label: 'Speech, to be understood' },
        { field: 'low_cut', label: 'Played from' },
        {
          field: 'supply',
          label: 'Line voltage',
          unsaid: say('{supply}, as the brief', { supply: say(doc.brief.supply) }),
        },
      ];
    case 'zones':
      return [
        { field: 'name', label: 'Name' },
        {
          field: 'phase',
          label: 'Phase',
          options: untagged(doc, 'phases'),
          unsaid: say('from the beginning'),
        },
        { field: 'budget', label: 'Budget' },
        { field: 'allowance', label: 'Set aside' },
      ];
    case 'phases':
      return [
        { field: 'name', label: 'Name' },
        { field: 'first_day', label: 'First day' },
        { field: 'budget', label: 'Budget' },
        { field: 'allowance', label: 'Set aside' },
      ];
    default:
      return [];
  }
}

/** Fields of a run: the cable it is of and the pair it takes there, each its line's where it says nothing. */
export function runForm(doc: JobDocument, catalogue: Catalogue | null, line: string, run: Run): FormField[] {
  const { cable, pair } = doc.lines[line]!;
  const pairs = pairsOf(catalogue, run.cable ?? cable);
  const options = pairs.map((p) => ({ value: String(p.number), text: `${p.number}: ${pairWords(p)}` }));
  return [
    { field: 'cable', label: 'Cable', options: described(catalogue?.cables), unsaid: cable },
    ...(pairs.length > 1 || run.pair !== null
      ? [{ field: 'pair', label: 'Pair', options, unsaid: say('{pair}, as line {line}', { pair, line }) }]
      : []),
    { field: 'length', label: 'Length as measured' },
    ...(run.in_series || supplyOf(doc, line) === 'low impedance'
      ? [{ field: 'in_series', label: 'In series with the loudspeaker it leaves' }]
      : []),
  ];
}

export const BRIEF: FormField[] = [
  { field: 'supply', label: 'Line voltage' },
  { field: 'budget', label: 'Budget' },
  { field: 'night_hours', label: 'Night, from when to when' },
  { field: 'night_turn_down', label: 'Turned down at night by' },
  { field: 'evening_turn_down', label: 'Turned down in the evening by' },
  { field: 'neighbour_margin', label: 'Margin to neighbours' },
  { field: 'loss_limit', label: 'Loss along a line, at most' },
  { field: 'load_share', label: 'Load on a channel, at most' },
  { field: 'nearest_listener', label: 'Nearest listener' },
  { field: 'laying', label: 'Laying allowed', wide: true },
];

/** What is to be left spare for later. */
export const SPARE: FormField[] = [
  { field: 'channels', label: 'Outputs free in each rack' },
  { field: 'power', label: 'Power left on each channel' },
  { field: 'ducts', label: 'Room left in each sleeve' },
  { field: 'units', label: 'Height units free in each rack' },
];

/** How the work is laid into days. */
export const WORK: FormField[] = [
  { field: 'crew', label: 'People on site' },
  { field: 'hours', label: 'Working hours of a day' },
  { field: 'daylight', label: 'Daylight, from when to when' },
  { field: 'first_day', label: 'First day' },
];

/** A floor of a neighbour. */
export const FLOOR: FormField[] = [
  { field: 'name', label: 'Name' },
  { field: 'height', label: 'Height' },
];

export const ABOUT: FormField[] = [
  { field: 'name', label: 'Name of the job' },
  { field: 'status', label: 'Status' },
  { field: 'reference', label: 'Reference' },
  { field: 'date', label: 'Date' },
  { field: 'units', label: 'Units' },
  { field: 'paper', label: 'Paper' },
  { field: 'mains', label: 'Mains' },
  { field: 'circuit', label: 'Circuit' },
  { field: 'language', label: 'Language of the papers', options: LANGUAGE_OPTIONS },
  { field: 'crew_language', label: 'Language of the crew', options: LANGUAGE_OPTIONS },
  { field: 'currency', label: 'Currency' },
  { field: 'rounding', label: 'Total rounded to' },
  { field: 'tax', label: 'Tax' },
  { field: 'summary', label: 'Summary', wide: true },
  { field: 'notes', label: 'Notes for the crew', wide: true },
];

/** The same with what holds in this job while nothing is said. */
export function aboutOf({ job }: JobDocument): FormField[] {
  const { mains, circuit, paper } = customOf(job.units);
  const unsaid: Record<string, string> = { mains, circuit, paper };
  return ABOUT.map((f) => ({ ...f, unsaid: unsaid[f.field] }));
}

/** Whom the job is for. */
export const CLIENT: FormField[] = [
  { field: 'name', label: 'Name' },
  { field: 'address', label: 'Address', wide: true },
];

/** Somebody to speak to. */
export const CONTACT: FormField[] = [
  { field: 'name', label: 'Name' },
  { field: 'role', label: 'What they are there' },
  { field: 'telephone', label: 'Telephone' },
  { field: 'mail', label: 'Mail' },
];

/** How an amplifier was left. */
export const COMMISSIONED: FormField[] = [
  { field: 'network_name', label: 'Name on the network' },
  { field: 'address', label: 'Address on the network' },
  { field: 'reached', label: 'Reached how, without a network', wide: true },
  { field: 'firmware', label: 'Firmware' },
  { field: 'backup_date', label: 'Settings saved on' },
  { field: 'backup_file', label: 'Saved to file' },
  { field: 'password_held_by', label: 'Who holds the password' },
];
