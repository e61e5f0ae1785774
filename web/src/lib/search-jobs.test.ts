import { expect, it } from 'vitest';
import { found, ofStatus } from './search-jobs';

it('finds jobs by every word of what is typed, without accents and capitals', () => {
  const jobs = [
    { name: 'Café Tramhof', summary: 'A terrace under plane trees' },
    { name: 'Quince Yard', summary: 'Two lawns and a terrace', client: 'The Ö. family' },
  ];
  const names = (typed: string) => found(jobs, typed).map((j) => j.name);
  expect(names('cafe')).toEqual(['Café Tramhof']);
  expect(names('terrace')).toEqual(['Café Tramhof', 'Quince Yard']);
  expect(names('terrace QUINCE')).toEqual(['Quince Yard']);
  expect(names('quince trees')).toEqual([]);
  expect(names('o family')).toEqual(['Quince Yard']);
  expect(names('  ')).toHaveLength(2);
});

it('shows jobs of one status, and those of none', () => {
  const jobs = [{ status: 'sold' }, { status: '' }, { status: 'offered' }];
  expect(ofStatus(jobs, 'all')).toEqual(jobs);
  expect(ofStatus(jobs, 'sold')).toEqual([{ status: 'sold' }]);
  expect(ofStatus(jobs, '')).toEqual([{ status: '' }]);
});
