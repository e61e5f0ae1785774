/**
 * What the phone keeps: packs, edits not yet sent, photos. IndexedDB by `idb`; every write is on the disk before it is
 * called kept (`durability: 'strict'`).
 */
import { say } from '../words/spoken.svelte';
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import { applyPuts } from './document';
import { RESERVE } from './room';
import type { Edit, Pack, Photo, VisitHead } from './shapes';

interface Kept extends DBSchema {
  packs: { key: string; value: Pack };
  edits: { key: number; value: Edit; indexes: { job: string } };
  photos: { key: string; value: Photo; indexes: { job: string } };
  /** The visit under way, by job. */
  visits: { key: string; value: VisitHead };
  /** Room kept free for readings and ticks: given up when nothing else fits. */
  reserve: { key: number; value: Uint8Array };
}

/** The phone has no room: nothing was kept, what was kept before is whole. */
export class NoRoom extends Error {
  constructor() {
    super(
      say(
        'This phone has no room left: this is not kept. Make room, or send what waits, then enter it again.',
      ),
    );
  }
}

const STRICT = { durability: 'strict' } as const;
let opened: Promise<IDBPDatabase<Kept>> | null = null;

function base(): Promise<IDBPDatabase<Kept>> {
  opened ??= openDB<Kept>('loamline', 1, {
    upgrade(db) {
      db.createObjectStore('packs', { keyPath: 'id' });
      db.createObjectStore('edits', { keyPath: 'n', autoIncrement: true }).createIndex('job', 'job');
      db.createObjectStore('photos', { keyPath: 'name' }).createIndex('job', 'job');
      db.createObjectStore('visits');
      db.createObjectStore('reserve');
    },
    // The browser may close the base under us (storage pressure, another tab): open it again next time.
    terminated: () => (opened = null),
  }).catch((e: unknown) => {
    opened = null;
    throw told(e);
  });
  return opened;
}

function told(e: unknown): unknown {
  const name = (e as { name?: string } | null)?.name;
  // Which of the two is seen first differs between browsers; nothing here aborts on its own.
  return name === 'QuotaExceededError' || name === 'AbortError' ? new NoRoom() : e;
}

/** A transaction that is given up half way says so through what was asked of it; its end alone is nobody's surprise. */
function quiet<T extends { done: Promise<void> }>(transaction: T): T {
  transaction.done.catch(() => undefined);
  return transaction;
}

/** Does small but dear work; where it does not fit, in the room that was kept for it. */
async function dear<T>(work: (db: IDBPDatabase<Kept>) => Promise<T>): Promise<T> {
  try {
    return await guarded(work);
  } catch (e) {
    if (!(e instanceof NoRoom) || (await keep.reserved()) === false) throw e;
    await guarded((db) => db.clear('reserve'));
    return guarded(work);
  }
}

async function guarded<T>(work: (db: IDBPDatabase<Kept>) => Promise<T>): Promise<T> {
  try {
    return await work(await base());
  } catch (e) {
    throw told(e);
  }
}

export const keep = {
  packs: () => guarded((db) => db.getAll('packs')),
  pack: (id: string) => guarded((db) => db.get('packs', id)),
  savePack: (pack: Pack) =>
    guarded(async (db) => {
      const t = quiet(db.transaction('packs', 'readwrite', STRICT));
      await Promise.all([t.store.put(pack), t.done]);
    }),

  chosen: (job: string) => guarded((db) => db.get('visits', job)),
  choose: (job: string, head: VisitHead | null) =>
    guarded(async (db) => {
      const t = quiet(db.transaction('visits', 'readwrite', STRICT));
      await Promise.all([head ? t.store.put({ ...head }, job) : t.store.delete(job), t.done]);
    }),

  edits: (job: string) => guarded((db) => db.getAllFromIndex('edits', 'job', job)),

  /** Adds an edit at the end of the queue, with its photo, both or neither. */
  add: (edit: Omit<Edit, 'n'>, photo?: Photo) =>
    (photo ? guarded : dear)(async (db) => {
      const t = quiet(db.transaction(['edits', 'photos'], 'readwrite', STRICT));
      // The photo first: where it does not fit, nothing else is under way.
      const work: Promise<unknown>[] = photo ? [t.objectStore('photos').put(photo)] : [];
      const n = t.objectStore('edits').add(edit as Edit);
      await Promise.all([...work, n, t.done]);
      return { ...edit, n: await n } satisfies Edit;
    }),

  saveEdit: (edit: Edit) =>
    dear(async (db) => {
      const t = quiet(db.transaction('edits', 'readwrite', STRICT));
      await Promise.all([t.store.put(edit), t.done]);
    }),

  dropEdit: (n: number) =>
    guarded(async (db) => {
      const t = quiet(db.transaction('edits', 'readwrite', STRICT));
      await Promise.all([t.store.delete(n), t.done]);
    }),

  /**
   * An edit is in the job: out of the queue, and into the pack, in one step. `revision` is the one it made; `null` when
   * it was there already.
   */
  arrived: (edit: Edit, revision: number | null) =>
    dear(async (db) => {
      const t = quiet(db.transaction(['edits', 'packs'], 'readwrite', STRICT));
      const packs = t.objectStore('packs');
      const pack = await packs.get(edit.job);
      const work: Promise<unknown>[] = [t.objectStore('edits').delete(edit.n)];
      if (pack) {
        // With a gap before it the pack lacks somebody else's edit: its old number says that it has to be fetched again.
        const known = revision === pack.revision + 1 ? revision : pack.revision;
        work.push(packs.put({ ...pack, ...applyPuts(pack, edit), revision: known }));
      }
      work.push(t.done);
      await Promise.all(work);
    }).catch((e: unknown) => {
      // A full phone: the queue matters, the pack is fetched again.
      if (e instanceof NoRoom) return keep.dropEdit(edit.n);
      throw e;
    }),

  /** Whether room is kept free. */
  reserved: () => guarded(async (db) => (await db.count('reserve')) > 0),
  /** Keeps room free where there is room; whether it is. */
  reserve: async (): Promise<boolean> => {
    try {
      if (await keep.reserved()) return true;
      const block = () => crypto.getRandomValues(new Uint8Array(65536));
      await guarded(async (db) => {
        const t = quiet(db.transaction('reserve', 'readwrite', STRICT));
        for (let i = 0; i < RESERVE / 65536; i++) await t.store.put(block(), i);
        await t.done;
      });
      return true;
    } catch (e) {
      if (e instanceof NoRoom) return false;
      throw e;
    }
  },

  photo: (name: string) => guarded((db) => db.get('photos', name)),
  photos: (job: string) => guarded((db) => db.getAllFromIndex('photos', 'job', job)),
  savePhoto: (photo: Photo) =>
    guarded(async (db) => {
      const t = quiet(db.transaction('photos', 'readwrite', STRICT));
      await Promise.all([t.store.put(photo), t.done]);
    }),

  /** Takes photos off the phone that have arrived; how many. */
  dropSentPhotos: () =>
    guarded(async (db) => {
      const t = quiet(db.transaction('photos', 'readwrite', STRICT));
      let dropped = 0;
      for (let at = await t.store.openCursor(); at; at = await at.continue()) {
        if (!at.value.sent) continue;
        void at.delete();
        dropped++;
      }
      await t.done;
      return dropped;
    }),

  /** Takes a job off the phone. Refused while anything of it waits. */
  forget: (id: string) =>
    guarded(async (db) => {
      const t = quiet(db.transaction(['packs', 'edits', 'photos'], 'readwrite', STRICT));
      const waits = await t.objectStore('edits').index('job').count(id);
      if (waits === 0) {
        void t.objectStore('packs').delete(id);
        const photos = t.objectStore('photos');
        for (let at = await photos.index('job').openCursor(id); at; at = await at.continue())
          void at.delete();
      }
      await t.done;
      return waits === 0;
    }),
};
