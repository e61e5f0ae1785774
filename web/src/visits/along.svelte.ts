/** A job on this phone: what was taken along with everything entered since, and what of it has arrived. */
import { jobPath, get, Refused, words } from '../api/client';
import type { JobView } from '../api/shapes';
import { endOf } from '../plan/ways';
import { prefs } from '../state/prefs.svelte';
import { holds, holdsForNow } from '../state/unsaved';
import { version } from '../state/version.svelte';
import { today } from './clock';
import { applyPuts, joins, valueAt, visitsOf, type FullVisit, readingsOf } from './document';
import { ownId } from './ids';
import { keep, NoRoom } from './keep';
import { nextOf } from './next';
import { isEarlier, rulesOf, type Rules } from './rules';
import { rank, type Ground, type Ranking } from './ranking';
import { LOW, room, type Room } from './room';
import type { Edit, Pack, Photo, Put, VisitHead } from './shapes';
import { sync, type Outcome } from './sync';
import { take } from './take';
import { say, type Noted } from '../words/spoken.svelte';
import { inTable, type Insulation } from './evaluate';
import { latest, verdictOf, worst } from './verdict';
import { kindOfNext } from './words';

const RETRY_MS = 10_000;

/** Both forms of the document. */
type Forms = Pick<Pack, 'document' | 'resolved'>;

/** Whether the office machine answers, as far as is known. */
export type Reach = 'unknown' | 'in reach' | 'out of reach' | 'not paired' | 'gone';

export class Along {
  pack = $state.raw<Pack | null>(null);
  /** Everything not yet arrived, in the order it was entered. */
  edits = $state.raw<Edit[]>([]);
  reach = $state<Reach>('unknown');
  sending = $state(false);
  taking = $state(false);
  /** What went wrong, in words. */
  trouble = $state<string | null>(null);
  room = $state.raw<Room | null>(null);
  /** The visit things are entered under; `null` makes one for today with the first entry. */
  chosen = $state.raw<VisitHead | null>(null);
  opened = $state(false);

  /** How many are on this phone's disk and wait; what is just being written is not promised yet. */
  readonly waiting = $derived(this.edits.filter((e) => e.n !== Infinity).length);
  readonly held = $derived(this.edits.filter((e) => e.held));
  /** Both forms of the document with everything entered, what waits for a decision excepted. */
  readonly now = $derived.by(() => this.#entered());
  readonly visits = $derived<Record<string, FullVisit>>(this.now ? visitsOf(this.now.resolved) : {});
  /** Whether room is still kept free for readings. */
  reserved = $state(true);
  readonly roomIsLow = $derived(!this.reserved || (this.room !== null && this.room.free < LOW));
  /** The rules readings are judged by; `null` where the job was taken along by another version of the app. */
  readonly rules = $derived<Rules | null>(rulesOf(this.pack));
  /** What every line should read, and the tables of explanations: none of a pack whose rules are not known. */
  readonly expect = $derived<Pack['expect']>(this.rules ? this.pack!.expect : {});
  readonly tables = $derived<Pack['tables']>(this.rules ? this.pack!.tables : {});
  readonly ground = $derived.by((): Ground => {
    const doc = this.now?.resolved;
    const racks = Object.keys(doc?.racks ?? {});
    return { runs: this.pack?.runs ?? [], racks, place: (id) => (doc ? endOf(doc, id) : null) };
  });
  /** The visit under way. */
  readonly visit = $derived.by((): VisitHead => {
    const day = today(this.pack?.clock_ms ?? 0);
    const kind = kindOfNext(Object.values(this.visits));
    const apart = this.#another ? { apart: true } : {};
    const head = this.chosen ?? { id: this.#fresh, date: day, kind, ...apart };
    // What the office began today is gone on with, its readings with it.
    return joins(this.visits, head) ?? head;
  });
  /** Whether a visit of its own was begun on purpose. */
  #another = $state(false);
  #fresh = ownId(`V-${today(0).replaceAll('-', '')}`);
  /** The overlay as it was last: entries come at the end, so most of the time only one is new. */
  #overlay: { pack: Pack; edits: Edit[]; now: Forms } | null = null;
  #timer: ReturnType<typeof setTimeout> | null = null;
  #again = false;
  #closed = false;
  /** What is being written is not on the disk yet; what is being sent or fetched had better be let finish. */
  #letGo = holds(() => this.edits.some((e) => e.n === Infinity));
  #letGoToo = holdsForNow(() => this.sending || this.taking);

  constructor(readonly id: string) {
    void this.#open();
    addEventListener('online', this.#wake);
    document.addEventListener('visibilitychange', this.#wake);
  }

  #entered(): Forms | null {
    const pack = this.pack;
    if (!pack) return null;
    const edits = this.edits.filter((e) => !e.held);
    const last = this.#overlay;
    const grown = last?.pack === pack && last.edits.every((e, i) => e.edit_id === edits[i]?.edit_id);
    const start: Forms = grown ? last.now : pack;
    const now = edits.slice(grown ? last.edits.length : 0).reduce<Forms>(applyPuts, start);
    this.#overlay = { pack, edits, now };
    return now;
  }

  async #open() {
    try {
      this.pack = (await keep.pack(this.id)) ?? null;
      const chosen = await keep.chosen(this.id);
      // Yesterday's visit is over.
      if (chosen?.date === today(this.pack?.clock_ms ?? 0)) this.chosen = chosen;
      await this.#refresh();
    } catch (e) {
      this.trouble = words(e);
    }
    this.opened = true;
    this.#warm();
    void this.send();
  }

  /** Ranks once before it is needed: the first time is the slowest, and a crew waits for it. */
  #warm() {
    const { rules, expect, tables, ground } = this;
    if (!rules) return;
    for (const [line, table] of Object.entries(tables)) {
      setTimeout(() => {
        const shown = (expect[line]?.readings ?? [])
          .filter((e) => e.at === null)
          .map((e) => ({ at: null, frequency_hz: e.frequency_hz, ohm: (e.ohm ?? 1) * 0.7 }));
        for (const r of shown) rank(table, rules, [r], [], ground);
        nextOf(table, rules, shown.slice(0, 1), [], []);
      }, 0);
    }
  }

  choose(head: VisitHead | null) {
    this.chosen = head;
    if (!head) {
      this.#fresh = ownId(`V-${today(0).replaceAll('-', '')}`);
      this.#another = true;
    }
    // Without it the next start makes a visit of its own: nothing is lost.
    void keep.choose(this.id, head).catch(() => undefined);
  }

  /** Reads again what is kept: something else changed it. */
  reread = () => this.#refresh();

  async #refresh() {
    this.pack = (await keep.pack(this.id)) ?? this.pack;
    this.#kept(await keep.edits(this.id));
    // Once there is room again, some of it is kept free again.
    if (this.pack) await keep.reserve();
    await this.#look();
  }

  async #look() {
    this.room = await room();
    this.reserved = await keep.reserved();
  }

  /**
   * Keeps an entry, and sends it when it can. Once this returns, it is on the phone's disk. Throws [`NoRoom`] when it
   * could not be kept.
   */
  async enter(puts: Omit<Put, 'was'>[], { note, said }: Noted, photo?: Blob): Promise<void> {
    const pack = this.pack;
    const now = this.now;
    if (!pack || !now) throw new Error(say('This job is not on this phone.'));
    const visit = this.visit;
    const kept: Photo | undefined = photo && {
      name: puts.map((p) => (p.typed as { file?: string } | undefined)?.file).find(Boolean)!,
      job: this.id,
      blob: photo,
      sent: false,
    };
    const edit: Omit<Edit, 'n'> = {
      job: this.id,
      edit_id: crypto.randomUUID(),
      base_revision: pack.revision,
      visit,
      puts: puts.map((p) => ({ ...p, was: valueAt(now.document, { visit }, p) })),
      photo: kept?.name ?? null,
      who: prefs.who,
      note: note.slice(0, 200),
      said,
      at: new Date().toISOString(),
      sent: null,
      held: null,
    };
    // Shown at once: the verdict does not wait for the disk.
    this.edits = [...this.edits, { ...edit, n: Infinity }];
    try {
      const { n } = await keep.add(edit, kept);
      this.edits = this.edits.map((e) => (e.edit_id === edit.edit_id ? { ...e, n } : e));
    } catch (e) {
      this.edits = this.edits.filter((e) => e.edit_id !== edit.edit_id);
      if (e instanceof NoRoom) this.reserved = false;
      throw e;
    }
    if (!this.chosen && puts.some((p) => !p.in)) this.choose(visit);
    void this.#look();
    void this.send();
  }

  /** Sends what waits, then looks whether the office has news. */
  async send(): Promise<void> {
    if (this.#closed || !this.pack) return;
    if (this.sending) {
      this.#again = true;
      return;
    }
    this.sending = true;
    try {
      do {
        this.#again = false;
        const outcome = await sync(this.id, { changed: () => void this.#moved() });
        await this.#moved();
        this.#reached(outcome);
        if (outcome === 'all sent') await this.#news();
      } while (this.#again && this.reach === 'in reach');
    } catch (e) {
      this.trouble = words(e);
    } finally {
      this.sending = false;
      this.#later();
    }
  }

  /** What arrived is in the pack now, and out of the queue. */
  async #moved() {
    const [pack, edits] = [await keep.pack(this.id), await keep.edits(this.id)];
    if (pack) this.pack = pack;
    this.#kept(edits);
  }

  /** The queue as it is on the disk, with what is just being written. */
  #kept(edits: Edit[]) {
    const known = new Set(edits.map((e) => e.edit_id));
    this.edits = [...edits, ...this.edits.filter((e) => e.n === Infinity && !known.has(e.edit_id))];
  }

  #reached(outcome: Outcome) {
    if (outcome === 'out of reach' || outcome === 'not paired' || outcome === 'gone') this.reach = outcome;
  }

  async #news() {
    try {
      const { revision } = await get<JobView>(jobPath(this.id));
      this.reach = 'in reach';
      // A page that is about to load itself anew leaves that to the one that comes.
      if (version.state === 'waits') return;
      // What an earlier version of the app took along is brought up to date as well.
      if (revision !== this.pack?.revision || isEarlier(this.pack)) await this.take();
    } catch (e) {
      if (!(e instanceof Refused)) throw e;
      this.reach =
        e.status === 404 ? 'gone' : e.status === 401 || e.status === 403 ? 'not paired' : 'out of reach';
    }
  }

  /** Takes the job along, or brings it up to date. */
  async take() {
    this.taking = true;
    try {
      this.pack = await take(this.id);
      this.reach = 'in reach';
      this.trouble = null;
    } catch (e) {
      this.trouble =
        e instanceof NoRoom ? e.message : say('The job could not be taken along: {why}', { why: words(e) });
    }
    this.taking = false;
    await this.#refresh();
  }

  #later() {
    if (this.#timer) clearTimeout(this.#timer);
    if (this.#closed) return;
    // Only what waits is worth asking for again and again.
    const open = this.edits.some((e) => !e.held);
    this.#timer = open ? setTimeout(this.#wake, RETRY_MS) : null;
  }

  #wake = () => {
    if (document.visibilityState === 'visible') void this.send();
  };

  /** The readings of a line in the visit under way, as the ranking takes them. */
  shown(line: string) {
    return latest(readingsOf(this.visits[this.visit.id], line).map(([, r]) => r));
  }

  /** Joints opened and found good in the visit under way. */
  get openedJoints() {
    const done = Object.values(this.visits[this.visit.id]?.done ?? {});
    return done.filter((d) => d.work === 'opened' && d.at).map((d) => d.at!);
  }

  /** Those of them that the table of the line knows. */
  weighed(line: string) {
    const table = this.tables[line];
    return table ? this.shown(line).filter((r) => inTable(table, r)) : [];
  }

  /** What explains the readings of a line; `null` when there are none it could explain. */
  ranking(line: string): Ranking | null {
    const [table, rules] = [this.tables[line], this.rules];
    if (!table || !rules) return null;
    const readings = this.weighed(line);
    const { openedJoints, ground } = this;
    return readings.length
      ? rank(table, rules, readings, openedJoints, ground, prefs.unit, this.insulation(line))
      : null;
  }

  /** What the visit under way measured of a line's insulation to earth: the worst of what stands. */
  insulation(line: string): Insulation {
    const { rules } = this;
    const visit = this.visits[this.visit.id];
    if (!rules || !visit) return null;
    const last = new Map<string | null, Insulation>();
    for (const [, r] of readingsOf(visit, line)) {
      const grade = r.leakage === null ? null : verdictOf(r, undefined, rules);
      if (grade) last.set(r.at, grade);
    }
    return worst([...last.values()]);
  }

  close() {
    this.#closed = true;
    this.#letGo();
    this.#letGoToo();
    if (this.#timer) clearTimeout(this.#timer);
    removeEventListener('online', this.#wake);
    document.removeEventListener('visibilitychange', this.#wake);
  }
}
