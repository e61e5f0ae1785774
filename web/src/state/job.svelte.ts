/** The job that is open: its document, what others do to it, and the one way to change it. */
import { tick } from 'svelte';
import { drawable, sameThing, type JobDocument, type Table, type Thing } from '../api/document';
import { get, jobPath, problemWords, Refused, send, words } from '../api/client';
import { Live, type AreaFigures, type LiveMessage, type NeighbourFigures } from '../api/live';
import type { Alike, Catalogue, Finding, HistoryEntry, JobView } from '../api/shapes';
import { applied, at, beside, parts, pointer, type Patch } from '../lib/pointer';
import type { Point } from '../lib/geometry';
import { goneOn } from '../lib/proposing';
import type { Way } from '../lib/snapping';
import type { Said } from '../lib/told';
import { listing, say, spoken } from '../words/spoken.svelte';
import { LevelMap } from './map.svelte';
import { prefs } from './prefs.svelte';
import { holds } from './unsaved';
import { version } from './version.svelte';

/** Something that was done, told once, with the way back. */
export interface Notice {
  text: string;
  /** What the entry that undoes it is called; the way back is offered while it is the next to be undone. */
  note: string | null;
}

/** What goes along or changes with what was asked for: the person decides. */
export interface Question {
  title: string;
  /** What saying yes is called. */
  yes: string;
  along: string[];
  changed: string[];
  decide(goOn: boolean): void;
}

/** An edit of somebody else touched the same thing: the person decides. */
export interface Conflict {
  path: string;
  mine: unknown;
  theirs: unknown;
  theirs_who: string;
  decide(keepMine: boolean): void;
}

const RETRY_MS = 1500;

export class JobStore {
  name = $state('');
  revision = $state(-1);
  /** As typed: what edits address. */
  document = $state.raw<Record<string, unknown>>({});
  /** Checked, SI numbers, defaults filled in. */
  resolved = $state.raw<JobDocument | null>(null);
  undoNote = $state<string | null>(null);
  redoNote = $state<string | null>(null);
  /** What of the job is damaged where it is kept, a sentence each. */
  damaged = $state.raw<Said[]>([]);
  catalogue = $state.raw<Catalogue | null>(null);
  findings = $state.raw<Finding[]>([]);
  /** Which of the findings say the same of different things, by their places among them. */
  alike = $state.raw<Alike[]>([]);
  /** Whether the findings were told at all: none before that is not good news. */
  judged = $state(false);
  areas = $state.raw<Record<string, AreaFigures>>({});
  neighbours = $state.raw<Record<string, NeighbourFigures>>({});
  /** Everybody who looks at the job, one for each window, this one too. */
  people = $state.raw<string[]>([]);
  /** What this window is called among them. */
  calledHere = '';
  connected = $state(false);
  /** Whether the channel was ever open: before that there is nothing to be out of reach. */
  everConnected = $state(false);
  /** Edits on their way. */
  waiting = $state(0);
  /** Whether edits wait because the server is out of reach. */
  unreachable = $state(false);
  conflict = $state.raw<Conflict | null>(null);
  /** What went wrong outside any field, in words. */
  trouble = $state<string | null>(null);
  /** The thing it is about, where it is about one: its panel tells it, if it is open. */
  troubleAbout = $state.raw<Thing | null>(null);
  /** The thing whose panel is open: what is about it is told there. */
  panelOf = $state.raw<Thing | null>(null);
  notice = $state.raw<Notice | null>(null);
  /** What a thing that was just drawn began with though nobody said it: told in its panel. */
  begun = $state.raw<{ thing: Thing; told: string } | null>(null);
  question = $state.raw<Question | null>(null);
  /** The edge a form speaks of, shown on the plan. */
  pointed = $state.raw<Way | null>(null);
  /** Takes the place of the next click on the plan, where a form asks for one. */
  placeAsked = $state.raw<((at: Point, within_m: number) => void) | null>(null);
  /** Why the job cannot be opened. */
  failed = $state<string | null>(null);
  selected = $state.raw<Thing | null>(null);
  /** What is chosen where that is more than one thing; then nothing is selected by itself. */
  several = $state.raw<readonly Thing[]>([]);
  /** An edit that is drawn but not made: a drag under way. */
  preview = $state.raw<Patch | null>(null);
  /** Progress of proposals by run. */
  proposals = $state.raw<Record<string, Extract<LiveMessage, { kind: 'propose' }>>>({});
  drawn = $derived.by(() => {
    if (!this.preview || !this.resolved) return this.resolved;
    const tried = applied(this.resolved, this.preview);
    // A drag only replaces what is there; a whole design brings new things, as a person would type them.
    return this.preview.every((o) => o.op === 'replace') ? tried : drawable(tried);
  });
  readonly map: LevelMap;
  #live: Live;
  #chain: Promise<unknown> = Promise.resolve();
  #loading: Promise<void> | null = null;
  #again = false;
  #closed = false;
  /** How often something was told: an edit takes back only what was told before it was made. */
  #told = 0;
  /** Edits wait here alone, and so does what a hand drags and what a person is asked. */
  #letGo = holds(() => this.waiting > 0 || Boolean(this.preview ?? this.conflict ?? this.question));

  constructor(readonly id: string) {
    this.#live = new Live(() => this.#liveUrl(), {
      message: (m) => this.#heard(m),
      frame: (f) => this.map.arrived(f),
      state: (connected) => {
        this.connected = connected;
        this.map.connection(connected);
        if (connected) {
          // What changed of the equipment while nobody could tell is asked for.
          if (this.everConnected) void this.loadCatalogue();
          this.everConnected = true;
          void this.load();
        }
      },
    });
    this.map = new LevelMap(this.#live, () => this.preview);
    void this.load();
  }

  /** Fetches the equipment the job draws on, described in the language that is spoken; and again whenever the job's own has changed. */
  async loadCatalogue() {
    try {
      const language = spoken.language;
      const found = await get<Catalogue>(jobPath(this.id, `/catalogue?language=${language}`));
      // Another language may have been asked for meanwhile.
      if (language === spoken.language) this.catalogue = found;
    } catch (e) {
      this.complain(words(e));
    }
  }

  #liveUrl() {
    const url = new URL(`/api${jobPath(this.id, '/live')}`, location.href);
    url.protocol = url.protocol === 'https:' ? 'wss:' : 'ws:';
    this.calledHere = prefs.who;
    url.searchParams.set('client', this.calledHere);
    return url.href;
  }

  /** Fetches the job as it is now; calls during a fetch lead to one more. */
  load(): Promise<void> {
    if (this.#loading) {
      this.#again = true;
      return this.#loading;
    }
    this.#loading = this.#fetch().finally(() => {
      this.#loading = null;
    });
    return this.#loading;
  }

  async #fetch() {
    do {
      this.#again = false;
      try {
        // What can be undone is one's own.
        const view = await get<JobView>(jobPath(this.id, `?who=${encodeURIComponent(prefs.who)}`));
        if (this.#closed) return;
        const news = view.revision !== this.revision;
        this.name = view.name;
        this.document = view.document as Record<string, unknown>;
        const resolved = view.resolved as unknown as JobDocument;
        // Before anything of it is shown.
        prefs.reads(resolved.job?.units);
        prefs.speaks({ job: resolved.job?.language, crews: resolved.job?.crew_language });
        this.resolved = resolved;
        this.undoNote = view.undo?.note ?? null;
        this.redoNote = view.redo?.note ?? null;
        this.damaged = view.damaged ?? [];
        const before = this.revision;
        this.revision = view.revision;
        this.#forgetGone(before);
        this.failed = null;
        if (news) {
          this.map.changed(view.revision);
          // The page that is open says whether it shows the map. With one on, the live channel tells the findings after it: worked
          // out beside it, they would hold it up.
          await tick();
          if (!this.map.on) void this.#findings();
        }
      } catch (e) {
        if (this.revision < 0) this.failed = words(e);
      }
    } while (this.#again && !this.#closed);
  }

  async #findings() {
    const found = await get<{ revision: number; findings: Finding[]; alike: Alike[] }>(
      jobPath(this.id, '/findings'),
    ).catch(() => null);
    if (found && found.revision >= this.revision) {
      this.findings = found.findings;
      this.alike = found.alike;
      this.judged = true;
    }
  }

  #heard(message: LiveMessage) {
    switch (message.kind) {
      case 'edit':
        if (message.revision > this.revision) void this.load();
        // An entry that changes nothing of the document stands for a change of the job's own equipment.
        if (!message.patch.length) void this.loadCatalogue();
        break;
      case 'figures':
        if (this.map.isOld(message.request)) break;
        this.areas = message.areas;
        this.neighbours = message.neighbours;
        if (message.findings) {
          this.findings = message.findings as Finding[];
          this.alike = message.alike ?? [];
          this.judged = true;
        }
        break;
      case 'people':
        this.people = message.names;
        break;
      case 'propose':
        this.proposals = {
          ...this.proposals,
          [message.run]: goneOn(this.proposals[message.run], message),
        };
        break;
      case 'waiting':
        this.map.waits(message.before);
        break;
      case 'refused':
        this.map.refused(message.request, message.problems.map(problemWords).join('; '));
        // No map, no figures: the findings are asked for by themselves.
        if (!this.preview) void this.#findings();
        break;
      case 'behind':
        void this.load();
        break;
      case 'gone':
        this.failed = say('The job was taken away.');
        this.resolved = null;
        break;
      case 'hello':
        version.heard(message.app);
        if (message.revision > this.revision) void this.load();
        break;
    }
  }

  /**
   * Makes an edit. Resolves when the server has kept it; throws [`Refused`] when the job would make no sense. While the
   * server is out of reach the edit waits and is sent again, once only (the server knows its number).
   */
  edit(patch: Patch, note: string): Promise<void> {
    if (patch.length === 0) return Promise.resolve();
    // Somebody has put in what holds.
    if (this.begun && sameThing(aboutOf(patch), this.begun.thing)) this.begun = null;
    this.waiting++;
    const told = this.#told;
    const made = this.#chain
      .then(() => this.#send(patch, note))
      .then(() => {
        // What an edit made meanwhile was refused for has not been read yet.
        if (this.#told === told) this.complain(null);
      });
    this.#chain = made.catch(() => undefined);
    return made.finally(() => {
      this.waiting--;
    });
  }

  async #send(patch: Patch, note: string) {
    let edit_id = crypto.randomUUID();
    let base_revision = this.revision;
    while (!this.#closed) {
      try {
        await send('POST', jobPath(this.id, '/edits'), {
          edit_id,
          base_revision,
          // Edits made one after the other before the first was kept know nothing of each other.
          patch: beside(this.document, patch),
          who: prefs.who,
          note,
        });
        this.unreachable = false;
        await this.load();
        return;
      } catch (e) {
        if (!(e instanceof Refused)) throw e;
        if (e.status === 0 || e.status >= 502) {
          this.unreachable = true;
          await new Promise((r) => setTimeout(r, RETRY_MS));
        } else if (e.code === 'conflict') {
          const keepMine = await this.#ask(e.more);
          if (!keepMine) {
            await this.load();
            return;
          }
          await this.load();
          edit_id = crypto.randomUUID();
          base_revision = this.revision;
        } else throw e;
      }
    }
  }

  #ask(more: Record<string, unknown>): Promise<boolean> {
    return new Promise((resolve) => {
      this.conflict = {
        path: String(more.path ?? ''),
        mine: more.mine,
        theirs: more.theirs,
        theirs_who: String(more.theirs_who ?? 'somebody'),
        decide: (keepMine) => {
          this.conflict = null;
          resolve(keepMine);
        },
      };
    });
  }

  /** Makes an edit whose refusal is told beside what it is about; returns whether it was made. */
  async try(patch: Patch, note: string): Promise<boolean> {
    try {
      await this.edit(patch, note);
      return true;
    } catch (e) {
      this.complain(words(e), aboutOf(patch));
      return false;
    } finally {
      this.preview = null;
    }
  }

  /** Tells what went wrong, and what it is about; `null` when all is well again. */
  complain(text: string | null, about: Thing | null = null) {
    this.trouble = text;
    this.troubleAbout = text === null ? null : about;
    if (text === null) return;
    this.#told++;
    this.notice = null;
  }

  async undo() {
    await this.#step('/undo');
  }

  async redo() {
    await this.#step('/redo');
  }

  async #step(path: string) {
    try {
      await this.#chain;
      await send('POST', jobPath(this.id, path), { who: prefs.who });
      this.complain(null);
      this.notice = null;
    } catch (e) {
      this.complain(words(e));
    }
    await this.load();
  }

  /** Puts the job back as it was at a revision, as an edit; what there is against it, in words. */
  async goBack(revision: number, base_revision: number): Promise<string | null> {
    try {
      await this.#chain;
      const wish = { edit_id: crypto.randomUUID(), base_revision, revision, who: prefs.who };
      await send('POST', jobPath(this.id, '/go-back'), wish);
      this.complain(null);
      return null;
    } catch (e) {
      return words(e);
    } finally {
      await this.load();
    }
  }

  history(before?: number) {
    const query = before === undefined ? '' : `&before=${before}`;
    return get<HistoryEntry[]>(jobPath(this.id, `/history?limit=50${query}`));
  }

  select(thing: Thing | null) {
    this.selected = thing;
    this.several = [];
    if (!sameThing(thing, this.begun?.thing ?? null)) this.begun = null;
  }

  /** Chooses all of these and nothing else. */
  choose(things: readonly Thing[]) {
    const [first, ...more] = things;
    this.select(more.length ? null : (first ?? null));
    if (more.length) this.several = things;
  }

  /** Everything that is chosen: one thing or several. */
  get chosen(): readonly Thing[] {
    return this.several.length ? this.several : this.selected ? [this.selected] : [];
  }

  /** What was chosen and taken out, by whomever, is chosen no more; who else did it is told. */
  #forgetGone(before: number) {
    const isThere = (t: Thing) =>
      t.table === 'site' || at(this.document, pointer(t.table, t.id)) !== undefined;
    const gone = this.chosen.filter((t) => !isThere(t));
    // Before the job was first read nothing can have gone.
    if (!gone.length || before < 0) return;
    if (this.several.length) this.choose(this.several.filter(isThere));
    void this.#tellGone(gone, before);
  }

  /** Tells whoever had things chosen which somebody else took out, and who it was; what one did oneself is no news. */
  async #tellGone(gone: readonly Thing[], before: number) {
    const entries = await this.history().catch((): HistoryEntry[] => []);
    const news = entries.filter((e) => e.revision > before);
    const away = (t: Thing) => [pointer(t.table, t.id), `/${t.table}`];
    const taken = (t: Thing) =>
      news.find((e) => e.patch.some((o) => o.op === 'remove' && away(t).includes(o.path)));
    const told = gone.flatMap((t) => {
      const entry = taken(t);
      return entry && entry.who !== prefs.who ? [{ id: t.id, who: entry.who || say('somebody') }] : [];
    });
    const [first] = told;
    if (!first || this.#closed) return;
    if (this.selected && gone.some((t) => sameThing(t, this.selected))) this.select(null);
    const things = listing(told.map(({ id }) => id));
    // It is not this person's to undo: no way back is offered.
    this.notice = { text: say('{who} took out {things}.', { who: first.who, things }), note: null };
  }

  close() {
    this.#closed = true;
    prefs.reads(null);
    prefs.speaks({ job: null, crews: null });
    this.#letGo();
    this.#live.close();
  }
}

/** The thing an edit is about: the one all of it is of. */
function aboutOf(patch: Patch): Thing | null {
  const things = patch
    .map((o) => parts(o.path))
    .map(([table, id]): Thing =>
      table === 'site' ? { table, id: '' } : { table: table as Table, id: id ?? '' },
    );
  const [first, ...rest] = things;
  return first && rest.every((t) => sameThing(t, first)) ? first : null;
}
