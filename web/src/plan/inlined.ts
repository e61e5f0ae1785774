/** A drawing with its styles written into it: a file takes nothing from a style sheet. */

/** Styles that a drawing is drawn with, as attributes of the same names; inside a file nothing is taken from a sheet. */
const DRAWN = [
  'fill',
  'fill-opacity',
  'fill-rule',
  'stroke',
  'stroke-width',
  'stroke-opacity',
  'stroke-dasharray',
  'stroke-linecap',
  'stroke-linejoin',
  'vector-effect',
  'opacity',
  'paint-order',
  'filter',
] as const;
const WRITTEN = ['font-family', 'font-size', 'font-weight', 'text-anchor', 'dominant-baseline'] as const;

/** What is there for a hand alone. */
const FOR_HANDS = '.grab, .touch, .boundary';

/** How wide a text stands on the screen, in the units of its drawing; none where nothing is set or it has parts of its own. */
const widthOf = (text: Element): number =>
  'getComputedTextLength' in text && !text.children.length
    ? (text as SVGTextElement).getComputedTextLength()
    : 0;

/** Keeps a text as wide as it was given room for, whatever letters the reader of the file has. */
export function holdWidth(text: Element, width: number) {
  if (!(width > 0)) return;
  text.setAttribute('textLength', String(Math.round(10 * width) / 10));
  text.setAttribute('lengthAdjust', 'spacingAndGlyphs');
}

/** Copies a drawing with what its styles say written into it. */
export function inlined(drawing: Element): Element {
  const copy = drawing.cloneNode(true) as Element;
  const [from, to] = [
    [drawing, ...drawing.querySelectorAll('*')],
    [copy, ...copy.querySelectorAll('*')],
  ];
  from.forEach((element, i) => {
    const style = getComputedStyle(element);
    const written = element.tagName === 'text' || element.tagName === 'tspan';
    if (element.tagName === 'text') holdWidth(to[i]!, widthOf(element));
    for (const name of written ? [...DRAWN, ...WRITTEN] : DRAWN) {
      const value = style.getPropertyValue(name);
      // Patterns are found by their fragment alone, wherever the file lies.
      const own = element.getAttribute(name);
      if (value) to[i]!.setAttribute(name, own?.startsWith('url(#') ? own : fragment(value));
    }
    for (const name of [...to[i]!.getAttributeNames()])
      if (/^(class|style|role|aria-.*|data-.*)$/.test(name)) to[i]!.removeAttribute(name);
  });
  for (const element of from.filter((e) => e.matches(FOR_HANDS))) to[from.indexOf(element)]!.remove();
  return copy;
}

const fragment = (value: string) => value.replace(/url\("?[^"#)]*(#[^")]*)"?\)/g, 'url($1)');

/** A name for the file: what the job is called, in letters any machine takes. */
export const fileName = (job: string, view: string, kind: 'png' | 'svg') =>
  `${`${job} ${view}`
    .normalize('NFKD')
    .replace(/[^\w -]/g, '')
    .trim()
    .replace(/\s+/g, '-')
    .toLowerCase()}.${kind}`;
