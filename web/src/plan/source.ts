/** What the plan needs of whatever it draws: an open job, or one taken along on a phone. */
import type { JobDocument, Thing } from '../api/document';
import type { NeighbourFigures } from '../api/live';
import type { Catalogue } from '../api/shapes';
import type { Way } from '../lib/snapping';
import type { LevelMap } from '../state/map.svelte';

export interface PlanSource {
  readonly id: string;
  readonly drawn: JobDocument | null;
  readonly resolved: JobDocument | null;
  readonly selected: Thing | null;
  /** What is chosen where that is more than one thing. */
  readonly several?: readonly Thing[];
  /** The edge a form speaks of. */
  readonly pointed?: Way | null;
  /** Whether the next click is a place a form asks for. */
  readonly placeAsked?: unknown;
  readonly catalogue: Catalogue | null;
  readonly map?: LevelMap;
  /** Levels at neighbours, where they are worked out. */
  readonly neighbours?: Readonly<Record<string, NeighbourFigures>>;
  /** Address of the plan picture where it is not the office's. */
  readonly underlay?: string | null;
}
