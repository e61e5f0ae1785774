/** How loudspeakers are fed: as their line says, else the programme it plays, else the brief. */
import type { JobDocument } from '../api/document';

type Fed = {
  brief: Pick<JobDocument['brief'], 'supply'>;
  programmes: Record<string, Pick<JobDocument['programmes'][string], 'supply'>>;
  channels: Record<string, Pick<JobDocument['channels'][string], 'programme'>>;
  lines: Record<string, Pick<JobDocument['lines'][string], 'supply' | 'channel'>>;
};

export function supplyOf(doc: Fed, lineId: string | null | undefined): string {
  const line = lineId ? doc.lines[lineId] : undefined;
  const channel = line?.channel ? doc.channels[line.channel] : undefined;
  const programme = channel
    ? channel.programme
      ? doc.programmes[channel.programme]
      : Object.values(doc.programmes)[0]
    : undefined;
  return line?.supply ?? programme?.supply ?? doc.brief.supply;
}
