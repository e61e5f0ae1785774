/** What there is to do, line by line from the rack outwards, with the ids of its ticks. */
import type { Done } from './document';
import { hash, tickId } from './ids';
import type { Pack, Stage } from './shapes';

export interface Task {
  id: string;
  done: Partial<Done> & Pick<Done, 'work'>;
  label: string;
  detail?: string | null;
}
/** A joint or loudspeaker of a line. */
export interface Stop {
  id: string;
  loudspeaker: boolean;
  tasks: Task[];
}

interface Model {
  hole?: unknown;
  description: string;
}

/** Work at a loudspeaker or joint. */
export function tasksAt(pack: Pack, id: string): Task[] {
  const l = pack.resolved.loudspeakers[id];
  const task = (
    work: Done['work'],
    label: string,
    more: Partial<Done> = {},
    detail: string | null = null,
  ): Task => ({
    id: tickId(id, work),
    done: { work, at: id, ...more },
    label,
    detail,
  });
  if (!l) {
    return [
      task('joint', `Joint ${id} made and closed`),
      task('opened', `Joint ${id} opened and found sound`, {}, 'tick only when nothing is to be seen'),
    ];
  }
  const model = pack.catalogue.loudspeakers[l.model] as Model | undefined;
  return [
    ...(model?.hole ? [task('hole', `Hole for ${id} dug`, {}, holeWords(model.hole))] : []),
    task(
      'placed',
      `${id} in its place`,
      {},
      `${model?.description ?? l.model}, faces ${Math.round(l.bearing)} deg`,
    ),
    task('joint', `Joint at ${id} made and closed`),
    ...(l.tap !== null
      ? [task('tap', `${id} is set to ${l.tap} W`, { tap: l.tap }, 'look at the switch')]
      : []),
  ];
}

function holeWords(hole: unknown): string | null {
  const { length, width, depth } = hole as Record<string, number | undefined>;
  const mm = [length, width, depth].map((m) => (m === undefined ? null : Math.round(m * 1000)));
  return mm.includes(null) ? null : `${mm[0]} by ${mm[1]} mm, ${mm[2]} mm deep`;
}

/** The stub, joints and loudspeakers of a line, from the rack outwards. */
export function stopsOf(pack: Pack, line: string): Stop[] {
  const ids = new Set<string>();
  for (const r of pack.runs) if (r.line === line) ids.add(r.to);
  for (const [id, l] of Object.entries(pack.resolved.loudspeakers)) if (l.line === line) ids.add(id);
  return [...ids]
    .filter((id) => pack.resolved.loudspeakers[id] || pack.resolved.joints[id] || pack.resolved.stubs?.[id])
    .map((id) => ({ id, loudspeaker: id in pack.resolved.loudspeakers, tasks: tasksAt(pack, id) }));
}

/** The runs of a line to lay. */
export const runTasks = (pack: Pack, line: string): Task[] =>
  pack.runs
    .filter((r) => r.line === line && !r.existing)
    .map((r) => ({
      id: tickId(line, r.id, 'laid'),
      done: { work: 'laid', line, run: r.id },
      label: `Run ${r.id} laid: ${r.from} to ${r.to}`,
      detail: `${r.order_m.toFixed(1)} m of ${pack.catalogue.cables[r.cable]?.description ?? r.cable}`,
    }));

/** The steps of a stage at the rack. A step is known by its words: it stays ticked when others come or go. */
export const stepTasks = (stage: Stage): Task[] =>
  stage.steps.map((s) => ({
    id: `step-${hash(`${stage.stage}|${s.about ?? ''}|${s.action}`)}`,
    done: { work: 'step', notes: s.action },
    label: s.action,
    detail: [s.about && `for ${s.about}`, s.confirm].filter(Boolean).join(': ') || null,
  }));
