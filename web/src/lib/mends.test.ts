import { describe, expect, it } from 'vitest';
import type { Finding } from '../api/shapes';
import { mendOf } from './mends';

const finding = (more: Partial<Finding>): Finding => ({
  severity: 'error',
  about: { table: 'loudspeakers', id: 'L1' },
  sentence: '',
  mend: 'Set a high-pass. Lead it round.',
  ...more,
});

describe('one click', () => {
  it('is what the finding says, whatever its words are', () => {
    expect(mendOf(finding({ remedy: 'processing' }))!.label).toBe('Set the processing');
    expect(mendOf(finding({ remedy: 'routes' }))!.label).toBe('Route again');
    expect(mendOf(finding({}))).toBeNull();
  });
  it('is the edit itself where that is known', async () => {
    const patch = [{ op: 'add', path: '/loudspeakers/L1/tap', value: 15 } as const];
    expect(await mendOf(finding({ remedy: { edit: patch } }))!.patch('j')).toEqual(patch);
    expect(mendOf(finding({ remedy: { edit: [] } }))).toBeNull();
  });
});
