/** Where music comes from and how it gets into the amplifiers: choices of inputs, and edits that keep what belongs together. */
import type { JobDocument, Lead } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { say } from '../words/spoken.svelte';
import { applied, freeId, pointer, put, takeOut, type Patch } from './pointer';

type Document = Record<string, unknown>;

/** What a catalogue says of the inputs of an amplifier. */
interface Inputs {
  count: number;
  connector: string;
  optical?: number;
}
/** One input of an amplifier. */
export interface Input {
  /** From 1; the optical ones count on after the others. */
  number: number;
  optical: boolean;
  connector: string;
}

/** The inputs of an amplifier; none where the catalogue knows nothing of them. */
export function inputsOf(doc: JobDocument, catalogue: Catalogue | null, amplifier: string): Input[] {
  const model = catalogue?.amplifiers[doc.amplifiers[amplifier]?.model ?? ''];
  const inputs = model?.inputs as Inputs | undefined;
  return Array.from({ length: (inputs?.count ?? 0) + (inputs?.optical ?? 0) }, (_, i) => {
    const optical = i >= inputs!.count;
    return { number: i + 1, optical, connector: optical ? 'optical' : inputs!.connector };
  });
}

/** The lead that goes to an input. */
export const leadAt = (doc: JobDocument, amplifier: string, input: number): [string, Lead] | undefined =>
  Object.entries(doc.leads).find(([, l]) => l.amplifier === amplifier && l.input === input);

export const leadsOf = (doc: JobDocument, source: string): [string, Lead][] =>
  Object.entries(doc.leads).filter(([, l]) => l.source === source);

/** What a lead brings: "left of Q1, Player in the bar". */
export function bringsWords(doc: JobDocument, lead: Lead): string {
  const source = doc.sources[lead.source];
  const named = source?.name ? `${lead.source}, ${source.name}` : lead.source;
  if (lead.side === 'left') return say('left of {source}', { source: named });
  if (lead.side === 'right') return say('right of {source}', { source: named });
  return source?.signal === 'stereo' ? say('both sides of {source}', { source: named }) : named;
}

/** Channels that add an input of their amplifier. */
export const channelsAdding = (doc: JobDocument, amplifier: string, input: number): string[] =>
  Object.entries(doc.channels)
    .filter(([, c]) => c.amplifier === amplifier && c.inputs.includes(input))
    .map(([id]) => id);

/** Inputs of an amplifier that no lead but one's own goes to. */
export const freeInputs = (
  doc: JobDocument,
  catalogue: Catalogue | null,
  amplifier: string,
  own?: string,
): Input[] =>
  inputsOf(doc, catalogue, amplifier).filter(({ number }) => {
    const at = leadAt(doc, amplifier, number);
    return !at || at[0] === own;
  });

/** The connector an output usually has; one that fits stays. */
function fitting(output: string, connector: string): string {
  if (output === 'optical') return 'optical';
  if (output === 'balanced') return ['phono', 'optical'].includes(connector) ? 'XLR' : connector;
  return connector === 'optical' ? 'phono' : connector;
}

/** The edit that changes a source's output, connector or signal with all that cannot stay as it is. */
export function sourceEdit(
  document: Document,
  doc: JobDocument,
  id: string,
  field: 'output' | 'connector' | 'signal',
  value: string,
): Patch {
  const was = doc.sources[id]!;
  const next: Record<'output' | 'connector' | 'signal', string> = {
    output: was.output,
    connector: was.connector,
    signal: was.signal,
    [field]: value,
  };
  if (field === 'output') next.connector = fitting(value, was.connector);
  if (field === 'connector' && (value === 'optical') !== (was.output === 'optical'))
    next.output = value === 'optical' ? 'optical' : value === 'XLR' ? 'balanced' : 'unbalanced';
  if (field === 'connector' && value === 'phono') next.output = 'unbalanced';
  const path = pointer('sources', id);
  const patch: Patch = [];
  for (const key of ['output', 'connector', 'signal'] as const)
    if (next[key] !== was[key]) patch.push(...put(document, `${path}/${key}`, next[key]));
  // Light has no voltage, and carries both sides.
  const light = next.output === 'optical';
  if (light)
    for (const key of ['nominal', 'highest', 'noise']) patch.push(...takeOut(document, `${path}/${key}`));
  const leads = leadsOf(doc, id);
  if (light || next.signal === 'mono') {
    for (const [lead] of leads) patch.push(...takeOut(document, `${pointer('leads', lead)}/side`));
  } else if (was.signal === 'mono' || was.output === 'optical') {
    leads.slice(0, 2).forEach(([lead], i) => {
      patch.push(...put(document, `${pointer('leads', lead)}/side`, i === 0 ? 'left' : 'right'));
    });
  }
  return patch;
}

/** The edit that adds a lead: the next side of its source, to the next free input in its rack. */
export function addLead(
  document: Document,
  doc: JobDocument,
  catalogue: Catalogue | null,
  source: string,
): { patch: Patch; id: string } | string {
  const s = doc.sources[source]!;
  const light = s.output === 'optical';
  const sided = !light && s.signal === 'stereo';
  const near = (a: { rack: string }) => (a.rack === s.rack ? 0 : 1);
  const amplifiers = Object.entries(doc.amplifiers).sort(([, a], [, b]) => near(a) - near(b));
  for (const [amplifier] of amplifiers) {
    const input = freeInputs(doc, catalogue, amplifier).find((i) => i.optical === light);
    if (!input) continue;
    const has = (side: string) => leadsOf(doc, source).some(([, l]) => l.side === side);
    const side = sided ? { side: has('left') && !has('right') ? 'right' : 'left' } : {};
    const id = freeId(document.leads as object | undefined, 'K');
    return {
      patch: put(document, pointer('leads', id), { source, ...side, amplifier, input: input.number }),
      id,
    };
  }
  if (!amplifiers.length) return say('A lead goes to an amplifier, and there is none yet.');
  return light
    ? say('No amplifier has an optical input that is free.')
    : say(
        'No amplifier has an input that is free, or nothing is known of the inputs: the catalogue states none for its model.',
      );
}

/** The edit that takes a lead to another amplifier: to its first free input. */
export function moveLead(
  document: Document,
  doc: JobDocument,
  catalogue: Catalogue | null,
  lead: string,
  amplifier: string,
): Patch | string {
  const light = doc.sources[doc.leads[lead]!.source]?.output === 'optical';
  const free = freeInputs(doc, catalogue, amplifier, lead);
  const input = free.find((i) => i.optical === light) ?? free[0];
  if (!input)
    return say('Amplifier {amplifier} has no input that is free, or nothing is known of its inputs.', {
      amplifier,
    });
  const path = pointer('leads', lead);
  const first = put(document, `${path}/amplifier`, amplifier);
  return [...first, ...put(applied(document, first), `${path}/input`, input.number)];
}
