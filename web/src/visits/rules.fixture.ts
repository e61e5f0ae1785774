/**
 * Rules for tests of the app by itself, of no job; those of the engine come with a job, and e2e/visits/engine.spec.ts holds
 * the app to them. The figures are those the closed forms in the tests are worked out with.
 */
import type { Rules } from './rules';

export const RULES: Rules = {
  taken: { tester_range_ohm: 2e8 },
  weigh: {
    seen: 0.95,
    leaks: 0.5,
    leaks_doubtfully: 0.002,
    leaks_badly: 0.0002,
    range_edge: 0.05,
    contradiction: 20,
  },
  rank: { listed: 1e-4, far_off: 5, alike: 1, allowed: 2, tail: 0.025, placed: 1.5 },
  next: {
    rack_min: 2,
    joint_min: 25,
    same_hz: 1,
    meter_floor_ohm: 0.05,
    steers: 5e-4,
    worth: 0.01,
    listed: 5,
    bins: 240,
    margin: 0.3,
    reach: 4,
  },
  judge: {
    leakage_mohm: 1,
    leakage_doubtful_mohm: 0.1,
    insulation_test_v: 250,
    insulation_caution: 'Amplifier off the line.',
    line_good: 0.8,
    line_doubtful: 0.3,
  },
  years: {
    days_a_year: 365.25,
    sure: 1.96,
    ahead_years: 10,
    meter: 0.01,
    temperature: 0.03,
    meter_floor_ohm: 0.05,
    leakage: 0.2,
  },
};
