/** Answers of the server by their short names, from its own description (schema.ts is generated from it). */
import type { Patch } from '../lib/pointer';
import type { components } from './schema';

type Schemas = components['schemas'];

export type JobSummary = Schemas['JobSummary'];
export type ShareView = Schemas['SharingView'];
export type DeviceView = Schemas['DeviceView'];
export type PersonView = Schemas['PersonView'];
export type MeView = Schemas['MeView'];
export type SignInView = Schemas['SignInView'];
export type PasskeyAsked = Schemas['PasskeyAsked'];
export type PasskeyWanted = Schemas['PasskeyWanted'];
export type DeletedView = Schemas['DeletedView'];
export type JobView = Schemas['JobView'];
export type HistoryEntry = Schemas['EntryView'];
export type BassView = Schemas['BassAnswer'];
export type LinesView = Schemas['LinesAnswer'];
export type RunAnswer = Schemas['RunAnswer'];
export type AtPlaceView = Schemas['AtPlaceAnswer'];
export type ProcessingView = Omit<Schemas['ProcessingAnswer'], 'edit'> & { edit: Patch };
export type LocateAnswer = Schemas['LocateAnswer'];
export type ExpectAnswer = Schemas['ExpectAnswer'];
/** What a loop reading says about existing cable, with the edit that stores it. */
export type StubLengthView = Omit<Schemas['StubLengthAnswer'], 'edit'> & { edit: Patch };
/** The gain structure, and that of one channel. */
export type SourcesView = Omit<Schemas['SourcesAnswer'], 'findings'> & { findings: Finding[] };
export type GainView = Schemas['GainStructure'];
/** What the firm puts on its papers: everything is told, what is not sent is empty. */
export type FirmText = Required<Schemas['FirmText']>;
export type FirmView = Omit<Schemas['FirmView'], 'profile'> & { profile: FirmText };
export type OwnFileView = Schemas['OwnFileView'];
export type PaperView = Schemas['PaperView'];
export type PapersView = Schemas['PapersView'];
export type LinkView = Schemas['LinkView'];
export type LinkMade = Schemas['LinkMade'];
export type QueuesView = Schemas['QueuesView'];
export type ChecksView = Schemas['ChecksView'];
export type CheckView = Schemas['CheckView'];
export type PlaceView = Schemas['PlaceView'];
export type RouteView = Omit<Schemas['RouteAnswer'], 'edit'> & { edit: Patch };
export type TakenOutView = Omit<Schemas['TakenOutView'], 'patch'> & { patch: Patch };
export type PutOnView = Omit<Schemas['PutOnView'], 'patch'> & { patch: Patch };
/** A finding, with the edit that would mend it where the server knows one. */
export type Finding = Omit<Schemas['Finding'], 'remedy'> & {
  remedy?: Extract<Schemas['Remedy'], string> | { edit: Patch };
};

/** Findings that say the same of different things, by their places among all: the first speaks for all. */
export interface Alike {
  severity: Finding['severity'];
  table: string;
  findings: number[];
}

/** The equipment of a job: keys as in the catalogue's own files. */
export interface Catalogue {
  loudspeakers: Record<string, Equipment & { kind: string; mount: string }>;
  amplifiers: Record<string, Equipment>;
  cables: Record<string, Equipment>;
  connectors?: Record<string, Equipment>;
  conduits?: Record<string, Equipment>;
}
export interface Equipment {
  description: string;
  price?: number | string | null;
  [more: string]: unknown;
}

/** One proposed design, and what it is best at. */
export type Proposal = Omit<Schemas['Proposed'], 'edit' | 'findings'> & { edit: Patch; findings: Finding[] };
type Change = Omit<Schemas['Change'], 'edit'> & { edit: Patch };
type Failure = Omit<Schemas['Failure'], 'relax' | 'changes'> & { relax?: Patch | null; changes: Change[] };
/** A proposal being made or made; `words` stand in the order of its options. */
export type ProposalAnswer = Omit<Schemas['ProposalAnswer'], 'proposal'> & {
  proposal?:
    | (Omit<Schemas['Proposal'], 'options' | 'failure'> & { options: Proposal[]; failure?: Failure | null })
    | null;
};
