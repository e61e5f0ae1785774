import { describe, expect, it } from 'vitest';
import type { Finding } from '../api/shapes';
import { mendOf } from './mends';

const finding = (kind: string, mend: string | null): Finding => ({
  severity: 'error',
  subject: { kind, id: 'X1' },
  sentence: '',
  mend,
});

describe('one click', () => {
  it('sets the processing where a filter or a gain is missing', () => {
    expect(
      mendOf(finding('channels', 'Set a high-pass at 50 Hz or above before connecting the line.'))!.label,
    ).toBe('Set the processing');
    expect(
      mendOf(finding('loudspeakers', 'Set a high-pass of second order or steeper at 60 Hz on the channel.'))!
        .label,
    ).toBe('Set the processing');
    expect(mendOf(finding('areas', 'Lower the gain or the taps of its loudspeakers.'))!.label).toBe(
      'Set the processing',
    );
  });
  it('routes again where a run lies wrong', () =>
    expect(mendOf(finding('lines', 'Lead it round.'))!.label).toBe('Route again'));
  it('is not offered where a person has to decide', () => {
    expect(mendOf(finding('loudspeakers', 'Move it out.'))).toBeNull();
    expect(mendOf(finding('areas', null))).toBeNull();
  });
});
