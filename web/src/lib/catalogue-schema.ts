/** What the schema of the catalogue says about a field. Loaded with the equipment's own page. */
import schema from '../../../docs/schema/catalogue.schema.json';
import { specIn, type Definitions, type FieldSpec } from './schema';

const definitions = schema.$defs as unknown as Definitions;

export const modelSpec = (type: string, key: string): FieldSpec => specIn(definitions, type, key);

/** Tables of the catalogue that the app shows, with the type of what is in them and what people call it: one, many. */
export const TABLES = {
  loudspeakers: { type: 'LoudspeakerModel', one: 'loudspeaker', many: 'Loudspeakers' },
  amplifiers: { type: 'AmplifierModel', one: 'amplifier', many: 'Amplifiers' },
  cables: { type: 'Cable', one: 'cable', many: 'Cable' },
  connectors: { type: 'Connector', one: 'connector', many: 'Connectors' },
  conduits: { type: 'Conduit', one: 'conduit', many: 'Conduits' },
} as const;
export type CatalogueTable = keyof typeof TABLES;

/** A field of a model: where its value stands below the model, and what it is called. */
export interface ModelField {
  path: string;
  /** Type in the schema, and the key in it. */
  type: string;
  key: string;
  label: string;
}

const field = (type: string, path: string, label: string): ModelField => ({
  path,
  type,
  key: path.split('/').at(-1)!,
  label,
});

/** Figures of each table, in the order they are shown and typed in. */
export const FIELDS: Record<CatalogueTable, ModelField[]> = {
  loudspeakers: [
    field('LoudspeakerModel', '/kind', 'Kind'),
    field('LoudspeakerModel', '/sensitivity', 'Sensitivity, 1 W at 1 m'),
    field('LoudspeakerModel', '/reference', 'Measured in'),
    field('LoudspeakerModel', '/nominal', 'Nominal impedance'),
    field('LoudspeakerModel', '/rated', 'Rated power'),
    field('LoudspeakerModel', '/high_pass', 'High-pass, lowest corner'),
    field('TransformerModel', '/transformer/taps_25v', 'Taps at 25 V'),
    field('TransformerModel', '/transformer/taps_70v', 'Taps at 70.7 V'),
    field('TransformerModel', '/transformer/taps_100v', 'Taps at 100 V'),
    field('LoudspeakerModel', '/low_impedance', 'Low impedance too'),
    field('LoudspeakerModel', '/mount', 'Usually fixed'),
    field('LoudspeakerModel', '/centre_height', 'Height of its centre'),
    field('LoudspeakerModel', '/mass', 'Mass'),
    field('LoudspeakerModel', '/price', 'Price'),
    field('LoudspeakerModel', '/labour', 'Labour to put it up'),
  ],
  amplifiers: [
    field('AmplifierModel', '/channels', 'Channels'),
    field('AmplifierModel', '/line_voltages', 'Line voltages'),
    field('AmplifierModel', '/line_power', 'Power of a channel, on a line'),
    field('AmplifierModel', '/power_8ohm', 'Power into 8 ohm'),
    field('AmplifierModel', '/power_4ohm', 'Power into 4 ohm'),
    field('AmplifierModel', '/power_2ohm', 'Power into 2 ohm'),
    field('AmplifierModel', '/minimum_load', 'Lowest load'),
    field('AmplifierModel', '/maximum_voltage', 'Highest voltage'),
    field('AmplifierModel', '/maximum_current', 'Highest current'),
    field('AmplifierModel', '/high_pass', 'High-pass asked for'),
    field('AmplifierModel', '/processing', 'Processing of its own'),
    field('AmplifierModel', '/bridges', 'Can be bridged'),
    field('AmplifierModel', '/noise', 'Noise'),
    field('AmplifierModel', '/idle', 'Mains power at idle'),
    field('AmplifierModel', '/rack_units', 'Rack units'),
    field('AmplifierModel', '/price', 'Price'),
    field('AmplifierModel', '/labour', 'Labour to mount and set it'),
  ],
  cables: [
    field('Cable', '/conductor', 'Conductor'),
    field('Cable', '/conductors', 'Conductors'),
    field('Cable', '/strands', 'Strands'),
    field('Cable', '/outside_diameter', 'Outside diameter'),
    field('Cable', '/coldest', 'Coldest air'),
    field('Cable', '/hottest', 'Hottest air'),
    field('Cable', '/spools', 'Sold in lengths of'),
    field('Cable', '/price_per_m', 'Price of a metre'),
  ],
  connectors: [
    field('Connector', '/smallest', 'Smallest conductor'),
    field('Connector', '/largest', 'Largest conductor'),
    field('Connector', '/conductors', 'Most conductors'),
    field('Connector', '/gel_filled', 'Filled with gel'),
    field('Connector', '/price', 'Price'),
  ],
  conduits: [
    field('Conduit', '/inside_diameter', 'Inside diameter'),
    field('Conduit', '/price_per_m', 'Price of a metre'),
  ],
};
