/** What there is to do, line by line from the rack outwards, with the ids of its ticks. */
import type { Done } from './document';
import { hash, tickId } from './ids';
import { cableName } from '../lib/cable-name';
import { cutLength, dug, type LengthUnit } from '../lib/units';
import type { Hole, LaidRun, Pack, Stage } from './shapes';
import { pairTasks } from './stub';
import { task as called, type Task } from './task';
import { say, type Values } from '../words/spoken.svelte';

export type { Task };

/** A joint or loudspeaker of a line. */
export interface Stop {
  id: string;
  loudspeaker: boolean;
  tasks: Task[];
}

interface Model {
  description: string;
}

/** Work at a loudspeaker or joint. */
export function tasksAt(pack: Pack, id: string, unit: LengthUnit): Task[] {
  const l = pack.resolved.loudspeakers[id];
  const task = (
    work: Done['work'],
    english: string,
    more: Partial<Done> = {},
    detail: string | null = null,
    values: Values = {},
  ): Task => ({
    id: tickId(id, work),
    done: { work, at: id, ...more },
    ...called(english, { id, ...values }),
    detail,
  });
  if (!l) {
    return [
      ...pairTasks(pack, id),
      task('joint', 'Joint {id} made and closed'),
      task('opened', 'Joint {id} opened and found good', {}, say('tick only when nothing is to be seen')),
    ];
  }
  const model = pack.catalogue.loudspeakers[l.model] as Model | undefined;
  const hole = pack.holes?.find((h) => h.loudspeaker === id);
  return [
    ...(hole ? [task('hole', 'Hole for {id} dug', {}, holeWords(hole, unit))] : []),
    task(
      'placed',
      '{id} in its place',
      {},
      say('{model}, faces {bearing} deg', {
        model: model?.description ?? l.model,
        bearing: Math.round(l.bearing),
      }),
    ),
    task('joint', 'Joint at {id} made and closed'),
    ...(l.tap !== null
      ? [
          task('tap', '{id} is set to {tap} W', { tap: l.tap }, say('look at the switch'), {
            tap: l.tap,
          }),
        ]
      : []),
  ];
}

const holeWords = (h: Hole, unit: LengthUnit): string =>
  say('{length} by {width}, {depth} deep', {
    length: dug(h.length_m, unit),
    width: dug(h.width_m, unit),
    depth: dug(h.depth_m, unit),
  });

/** The stub, joints and loudspeakers of a line, from the rack outwards. */
export function stopsOf(pack: Pack, line: string, unit: LengthUnit): Stop[] {
  const ids = new Set<string>();
  for (const r of pack.runs) if (r.line === line) ids.add(r.to);
  for (const [id, l] of Object.entries(pack.resolved.loudspeakers)) if (l.line === line) ids.add(id);
  return [...ids]
    .filter((id) => pack.resolved.loudspeakers[id] || pack.resolved.joints[id] || pack.resolved.stubs?.[id])
    .map((id) => ({ id, loudspeaker: id in pack.resolved.loudspeakers, tasks: tasksAt(pack, id, unit) }));
}

/** The tag on the cable of a run; a pack from before cables were told apart from runs has none. */
export const tagOf = (r: LaidRun): string => r.tag ?? r.id;

/** The runs of a line to lay. A cable that carries several lines is cut and laid with the first of them. */
export const runTasks = (pack: Pack, line: string, unit: LengthUnit): Task[] =>
  pack.runs
    .filter((r) => r.line === line && !r.existing)
    .map((r) => {
      const first = r.shared ? pack.runs.find((o) => tagOf(o) === tagOf(r)) : undefined;
      const cable = cableName(pack.catalogue, r.cable, unit);
      return {
        id: tickId(line, r.id, 'laid'),
        done: { work: 'laid', line, run: r.id },
        ...called('Run {run} laid: {from} to {to}', { run: tagOf(r), from: r.from, to: r.to }),
        detail: first
          ? say('the same cable as of line {line}', { line: first.line })
          : say('{length} of {cable}', { length: cutLength(r.order_m, unit), cable }),
      };
    });

/**
 * The steps of a stage at the rack. A step is known by its English words: it stays ticked when others come or go, and whatever
 * language it is shown in, which `spoken` is.
 */
export const stepTasks = (stage: Stage, spoken: Stage = stage): Task[] =>
  stage.steps.map((s, i) => {
    const { action, confirm } = spoken.steps[i] ?? s;
    return {
      id: `step-${hash(`${stage.stage}|${s.about ?? ''}|${s.action}`)}`,
      done: { work: 'step', notes: s.action },
      label: action,
      note: s.action,
      detail: [s.about && say('for {about}', { about: s.about }), confirm].filter(Boolean).join(': ') || null,
    };
  });
