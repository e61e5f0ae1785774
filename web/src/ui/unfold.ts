/**
 * A part of a list that unfolds and comes into sight once what it is of is gone to: `goal` tells what it is gone to by, as the
 * same value as long as nobody goes there anew. What changes meanwhile moves nothing.
 */
export const unfold = (goal: () => unknown) => {
  let reached: unknown = null;
  return (part: HTMLDetailsElement) => {
    const now = goal() || null;
    const isNew = now !== null && now !== reached;
    reached = now;
    if (!isNew) return;
    part.open = true;
    part.scrollIntoView({ block: 'nearest' });
  };
};
