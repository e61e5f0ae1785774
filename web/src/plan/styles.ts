/** How lines of cable are told apart: colour, dashes (in pixels) and their letter, as on the papers. */
const STYLES: { light: string; dark: string; dash: string }[] = [
  { light: '#1f4e6b', dark: '#8ec3e6', dash: '' },
  { light: '#a3431f', dark: '#f0a07c', dash: '12 4' },
  { light: '#486a1e', dark: '#b3d184', dash: '14 4 2 4' },
  { light: '#6d2f57', dark: '#e3a3cd', dash: '5 3' },
  { light: '#8a6410', dark: '#e5c36a', dash: '14 3 2 3 2 3' },
  { light: '#1f6f68', dark: '#86d3cb', dash: '2.5 3' },
  { light: '#4b3a8c', dark: '#b8abf0', dash: '22 5' },
  { light: '#7a2b2b', dark: '#eba0a0', dash: '10 3 4 3' },
  { light: '#2f5d3a', dark: '#93cfa2', dash: '8 8' },
  { light: '#54493b', dark: '#cdbfae', dash: '18 3 6 3' },
];

export function lineStyle(ids: string[], id: string, dark: boolean): { colour: string; dash: string } {
  const style = STYLES[Math.max(0, ids.indexOf(id)) % STYLES.length]!;
  return { colour: dark ? style.dark : style.light, dash: style.dash };
}

export const SURFACES = ['lawn', 'bed', 'gravel', 'paving', 'deck', 'soil', 'woodland', 'water'] as const;
