import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { World } from '../world';
import { Phone } from './phone';

const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

describe('the code on a label', () => {
  it('opens the thing it hangs on, without a network once the job was taken along', async () => {
    const job = await world.job('example');
    const view = await world.read<{ resolved: { job: { reference: string } } }>(`/jobs/${job}`);
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    // In reach of the office nothing has to be taken along before.
    await phone.page.goto(`${world.base}/#tag/${job}/loudspeaker/L1`);
    await phone.page.waitForURL(`**/#along/${job}/work/L1`);
    await phone.page.getByRole('heading', { name: 'L1', exact: true }).waitFor();
    await phone.take(job);
    await phone.offline(true);
    await phone.page.evaluate((id) => (location.hash = `#tag/${id}/cable/A1`), job);
    await phone.page.waitForURL(`**/#along/${job}/measure/A`);
    // By the firm's reference, which the job that was taken along has.
    const reference = encodeURIComponent(view.resolved.job.reference);
    await phone.page.evaluate((r) => (location.hash = `#tag/${r}/loudspeaker/L2`), reference);
    await phone.page.waitForURL(`**/#along/${job}/work/L2`);
    // What is there no more is said.
    await phone.page.evaluate((id) => (location.hash = `#tag/${id}/loudspeaker/L999`), job);
    await phone.page.getByText('has no loudspeaker L999 any more').waitFor();
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 240_000);
});
