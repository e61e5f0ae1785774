/** How far a job has come, page by page: what the guide and the dots beside the pages show. */
import type { JobDocument } from '../api/document';
import type { Finding } from '../api/shapes';
import type { WorkPage } from '../state/route.svelte';

const any = (table: object) => Object.keys(table).length > 0;

export function progressOf(doc: JobDocument, findings: Finding[]): Record<WorkPage, boolean> {
  const speakers = Object.values(doc.loudspeakers);
  const errors = findings.some((f) => f.severity === 'error');
  const wired =
    any(doc.lines) && speakers.every((l) => l.line) && Object.values(doc.lines).every((l) => any(l.runs));
  return {
    brief: any(doc.areas),
    site: Boolean(doc.site.outline) && any(doc.racks),
    sound: speakers.length > 0,
    cable: speakers.length > 0 && wired,
    processing: any(doc.channels) && Object.values(doc.channels).every((c) => c.high_pass && c.limiter),
    papers: speakers.length > 0 && wired && !errors,
    visits: Object.values(doc.visits).some((v) => v.kind === 'handover'),
  };
}
