/** A part of a list that unfolds and comes into sight once what it is of is gone to. */
export const unfold = (wanted: boolean) => (part: HTMLDetailsElement) => {
  if (!wanted) return;
  part.open = true;
  part.scrollIntoView({ block: 'nearest' });
};
