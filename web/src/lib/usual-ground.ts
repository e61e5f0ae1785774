/** What is usual for a kind of ground while nothing is said of it, as in crates/model/src/document/site.rs. */
import type { FormField } from '../ui/Fields.svelte';
import { say } from '../words/spoken.svelte';

interface Usual {
  flow_class: string;
  /** `null` where cable is not laid. */
  laying: string | null;
  loudspeakers: boolean;
}

export const USUAL: Record<string, Usual> = {
  lawn: { flow_class: 'E', laying: 'slit', loudspeakers: false },
  bed: { flow_class: 'D', laying: 'staked', loudspeakers: true },
  gravel: { flow_class: 'E', laying: 'staked', loudspeakers: true },
  paving: { flow_class: 'G', laying: 'lifted', loudspeakers: false },
  deck: { flow_class: 'G', laying: 'clipped', loudspeakers: false },
  soil: { flow_class: 'D', laying: 'trench', loudspeakers: true },
  woodland: { flow_class: 'B', laying: 'staked', loudspeakers: true },
  water: { flow_class: 'H', laying: null, loudspeakers: false },
};

function usually(kind: string): string {
  switch (kind) {
    case 'lawn':
      return say('as usual for a lawn');
    case 'bed':
      return say('as usual for a bed');
    case 'gravel':
      return say('as usual for gravel');
    case 'paving':
      return say('as usual for paving');
    case 'deck':
      return say('as usual for a deck');
    case 'soil':
      return say('as usual for soil');
    case 'woodland':
      return say('as usual for woodland');
    default:
      return say('as usual for water');
  }
}

/** A field of a piece of ground with what holds while nothing is said. */
export function withUsual(field: FormField, kind: string | undefined): FormField {
  const usual = kind === undefined ? undefined : USUAL[kind];
  if (!usual || !(field.field in usual)) return field;
  const value = usual[field.field as keyof Usual];
  const words = usually(kind!);
  if (typeof value === 'boolean') return { ...field, usually: words, holds: value };
  return { ...field, usually: words, unsaid: value === null ? say('none') : say(value) };
}
