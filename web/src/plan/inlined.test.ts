import { afterEach, describe, expect, it } from 'vitest';
import { fileName, inlined } from './inlined';

afterEach(() => void (document.body.innerHTML = ''));

describe('a picture of the plan', () => {
  it('carries what its style sheet says, and nothing a file cannot find', () => {
    document.body.innerHTML = `
      <style>.wall { stroke: rgb(1, 2, 3); stroke-width: 4px } text { font-size: 13px }</style>
      <svg><g data-table="walls" data-id="w" aria-hidden="true"><path class="grab" d="M0 0H9"></path>
        <path class="wall" d="M0 0H9"></path><path fill="url(#p-bed)" d="M0 0H9"></path></g><text>Wall</text></svg>`;
    const copy = inlined(document.querySelector('svg')!);
    const [wall, patterned, ...more] = copy.querySelectorAll('path');
    expect(more).toEqual([]);
    expect(wall!.getAttribute('stroke')).toBe('rgb(1, 2, 3)');
    expect(wall!.getAttribute('stroke-width')).toBe('4px');
    expect(patterned!.getAttribute('fill')).toBe('url(#p-bed)');
    expect(copy.querySelector('text')!.getAttribute('font-size')).toBe('13px');
    for (const element of copy.querySelectorAll('*'))
      expect(element.getAttributeNames().filter((n) => /^(class|style|data-|aria-)/.test(n))).toEqual([]);
    // The plan itself is as it was.
    expect(document.querySelectorAll('svg .grab, svg .wall').length).toBe(2);
  });
  it('keeps each text as wide as it stands, whatever letters a reader has', () => {
    document.body.innerHTML = '<svg><text>Kitchen wing</text><text></text></svg>';
    const [named, empty] = document.querySelectorAll('text');
    Object.assign(named!, { getComputedTextLength: () => 83.26 });
    Object.assign(empty!, { getComputedTextLength: () => 0 });
    const [held, nothing] = inlined(document.querySelector('svg')!).querySelectorAll('text');
    expect(held!.getAttribute('textLength')).toBe('83.3');
    expect(held!.getAttribute('lengthAdjust')).toBe('spacingAndGlyphs');
    expect(nothing!.hasAttribute('textLength')).toBe(false);
  });
  it('is named in letters any machine takes', () => {
    expect(fileName('Café “Quince” / Yard', 'sound', 'png')).toBe('cafe-quince-yard-sound.png');
  });
});
