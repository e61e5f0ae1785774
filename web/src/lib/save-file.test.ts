import { afterEach, expect, it, vi } from 'vitest';
import { nameOf, saveFile } from './save-file';

afterEach(() => {
  vi.unstubAllGlobals();
  vi.restoreAllMocks();
});

it('a file is kept by the name the server gives it', async () => {
  const answer = new Response('PK', {
    headers: { 'content-disposition': 'attachment; filename="a-garden-papers.zip"' },
  });
  vi.stubGlobal('fetch', () => Promise.resolve(answer));
  const kept: string[] = [];
  vi.spyOn(HTMLAnchorElement.prototype, 'click').mockImplementation(function (this: HTMLAnchorElement) {
    kept.push(this.download);
  });
  await saveFile('/jobs/a/papers.zip', 'papers.zip');
  expect(kept).toEqual(['a-garden-papers.zip']);
  expect(nameOf(null, 'papers.zip')).toBe('papers.zip');
});

it('what is refused is told, and nothing is kept', async () => {
  const why = { error: { code: 'not_allowed', message: 'This device is not let in for this.' } };
  vi.stubGlobal('fetch', () => Promise.resolve(new Response(JSON.stringify(why), { status: 403 })));
  const click = vi.spyOn(HTMLAnchorElement.prototype, 'click');
  await expect(saveFile('/jobs/a/papers.zip', 'papers.zip')).rejects.toThrow('not let in');
  expect(click).not.toHaveBeenCalled();
});
