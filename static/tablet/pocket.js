// @ts-check
/**
 * The pocket: what this tablet holds, in strict IndexedDB. Its laws, each with a test of its name:
 *
 *  1. What is noted is written before it is said to be saved: `note` answers after the transaction is complete.
 *  2. A form's entries are noted together or not at all.
 *  3. Numbers have no gaps and none is used twice, however many pages write.
 *  4. An entry leaves only when the office has ruled on it and the office's own sheet holds it.
 *  5. What the office sends never takes an entry away that is still to be sent.
 *  6. Who signs out or in takes nothing along: the queue is the tablet's, each entry its person's.
 *  7. A write that fails is told, and leaves everything as it was.
 */
import { canonical } from "./canonical.js";
import { entryFrom } from "./entry.js";

/** @typedef {import("./entry.js").Entry} Entry */
/** @typedef {{name: string, roles: string[], at_ms: number}} HeardHere */
/** @typedef {{order: number, accepted: boolean, reason: string, details: Record<string, string|number>, words: string}} OfficeRuling */
/**
 * One entry made here. `text` is what is sent, byte for byte. `office`: its first ruling there, once it has one.
 *
 * @typedef {{seq: number, id: string, job: string, text: string, heard: HeardHere, office: OfficeRuling|null}} Row
 */

const VERSION = 1;
const NAME = "cotterpin";
const STORES = { meta: "key", people: "id", jobs: "job", packets: "hash", entries: "seq", work: "person" };

/** A write that was not kept. `code`: quota, closed, unknown. */
export class NotKept extends Error {
  /** @param {string} code @param {unknown} cause */
  constructor(code, cause) {
    super(code, { cause });
    this.code = code;
  }
}

/** @param {unknown} error */
const notKept = (error) => {
  const name = error instanceof Error || error instanceof DOMException ? error.name : "";
  const code = name === "QuotaExceededError" ? "quota" : name === "InvalidStateError" ? "closed" : "unknown";
  return new NotKept(code, error);
};

/** @param {IDBRequest} request @returns {Promise<any>} */
const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/** @param {IDBTransaction} transaction @returns {Promise<void>} */
const complete = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error ?? new DOMException("given up", "AbortError"));
  });

/**
 * Open the pocket of this tablet, and make it where there is none.
 *
 * @param {IDBFactory} factory
 */
export async function openPocket(factory) {
  const request = factory.open(NAME, VERSION);
  request.onupgradeneeded = () => {
    const db = request.result;
    // One step a version; version 1 makes everything.
    for (const [store, keyPath] of Object.entries(STORES)) db.createObjectStore(store, { keyPath });
    const { transaction } = request;
    if (transaction === null) return;
    transaction.objectStore("jobs").createIndex("number", "number", { unique: true });
    transaction.objectStore("entries").createIndex("id", "id", { unique: true });
    transaction.objectStore("entries").createIndex("job", "job");
  };
  const db = await asked(request);
  // A newer page brings a newer form: this one lets go, and says of a write that it was not kept.
  db.onversionchange = () => db.close();
  return pocketOf(db);
}

/** @param {IDBDatabase} db */
function pocketOf(db) {
  /** Packets never change under their hash; reading one anew at every tap would take longer than all the rest. @type {Map<string, any>} */
  const packets = new Map();
  /** @type {Set<(jobs: string[]) => void>} */
  const listeners = new Set();

  /** @param {string[]} stores @param {(at: (store: string) => IDBObjectStore) => Promise<any>} work */
  async function read(stores, work) {
    const transaction = db.transaction(stores, "readonly");
    return work((store) => transaction.objectStore(store));
  }

  /** All or nothing, and answered when it is on disk. @param {string[]} stores @param {(at: (store: string) => IDBObjectStore) => Promise<any>} work */
  async function write(stores, work) {
    let transaction;
    try {
      transaction = db.transaction(stores, "readwrite", { durability: "strict" });
      const over = complete(transaction);
      over.catch(() => {});
      const at = transaction;
      const found = await work((store) => at.objectStore(store));
      await over;
      return found;
    } catch (error) {
      try { transaction?.abort(); } catch { /* it is over already */ }
      throw notKept(error);
    }
  }

  /** @param {string} key @returns {Promise<any>} */
  const meta = async (key) => (await read(["meta"], (at) => asked(at("meta").get(key))))?.value ?? null;
  /** @param {string} key @param {unknown} value */
  const keepMeta = (key, value) => write(["meta"], (at) => asked(at("meta").put({ key, value })));

  /** @param {string[]} jobs */
  const tell = (jobs) => listeners.forEach((one) => one(jobs));

  return {
    tablet: () => meta("tablet"),
    /** @param {{id: string, name: string, secret: string}} tablet */
    keepTablet: (tablet) => keepMeta("tablet", tablet),
    me: () => meta("me"),
    /** @param {{person: string, name: string, roles: string[]}} me */
    signIn: (me) => keepMeta("me", me),
    signOut: () => keepMeta("me", null),
    clock: async () => (await meta("clock")) ?? { offset_ms: 0 },
    shop: async () => (await meta("shop")) ?? { name: "", timezone: "UTC" },
    /** When the office last answered, by this tablet's clock; `null` before it ever has. @returns {Promise<number|null>} */
    answeredAt: () => meta("answered"),

    people: () => read(["people"], (at) => asked(at("people").getAll())),
    /** What a person's sign-in on this tablet is checked by. @param {{id: string}} person @param {object} check */
    keepCheck: (person, check) => write(["people"], async (at) => {
      const known = await asked(at("people").get(person.id));
      await asked(at("people").put({ ...known, ...person, check }));
    }),

    /**
     * Number entries and write them down. One noted before (a second tap) keeps its number.
     *
     * @param {Entry[]} entries
     * @param {HeardHere} heard
     * @returns {Promise<Row[]>} after the write is complete
     */
    async note(entries, heard) {
      const rows = await write(["meta", "entries"], async (at) => {
        const [tablet, last] = await Promise.all([asked(at("meta").get("tablet")), asked(at("meta").get("seq"))]);
        let seq = last ? last.value : 0;
        const made = [];
        for (const entry of entries) {
          const known = await asked(at("entries").index("id").get(entry.id));
          if (known) { made.push(known); continue; }
          seq += 1;
          const numbered = { ...entry, tablet: tablet.value.id, seq };
          const row = { seq, id: entry.id, job: entry.job, text: canonical(numbered), heard, office: null };
          await asked(at("entries").add(row));
          made.push(row);
        }
        await asked(at("meta").put({ key: "seq", value: seq }));
        return made;
      });
      tell([...new Set(entries.map((one) => one.job))]);
      return rows;
    },

    /**
     * A job's sheet as the office last sent it, and what was noted here since. `null` for a job that is not here.
     *
     * @param {string} number
     */
    async sheet(number) {
      const [job, later, packet] = await read(["jobs", "entries", "packets"], async (at) => {
        const found = await asked(at("jobs").index("number").get(number));
        if (!found) return [null, [], null];
        const rows = await asked(at("entries").index("job").getAll(found.job));
        return [found, rows, packets.has(found.packet) ? null : await asked(at("packets").get(found.packet))];
      });
      if (job === null) return null;
      if (packet) packets.set(packet.hash, packet);
      const known = packets.get(job.packet);
      return {
        job: job.job,
        number: job.number,
        open: job.open,
        about: job.about,
        base: { through: job.through, state: job.state, packet: known ? known.packet : null },
        pictures: known ? known.pictures : null,
        later: later.sort((/** @type {Row} */ one, /** @type {Row} */ other) => one.seq - other.seq),
      };
    },
    jobs: () => read(["jobs"], (at) => asked(at("jobs").getAll())),
    /** For which packets the drawings are here. @returns {Promise<string[]>} */
    pictured: () => read(["packets"], (at) => asked(at("packets").getAllKeys())),
    /** The hash of each person's My work. @returns {Promise<Record<string, string>>} */
    works: () => read(["work"], async (at) =>
      Object.fromEntries((await asked(at("work").getAll())).map((/** @type {{person: string, hash: string}} */ one) => [one.person, one.hash]))),
    /** @param {string} person */
    work: (person) => read(["work"], (at) => asked(at("work").get(person))),

    /** The first entries that the office has not ruled on. @param {number} limit @returns {Promise<Row[]>} */
    waiting: (limit) => read(["entries"], async (at) =>
      (await asked(at("entries").getAll())).filter((/** @type {Row} */ one) => one.office === null).slice(0, limit)),
    /** What the office is told at every contact. */
    debt: () => read(["meta", "entries"], async (at) => {
      const seq = await asked(at("meta").get("seq"));
      const rows = await asked(at("entries").getAll());
      const owed = rows.filter((/** @type {Row} */ one) => one.office === null);
      return {
        said_seq: seq ? seq.value : 0,
        oldest: rows.length ? rows[0].seq : 0,
        waiting: { count: owed.length, from: owed.length ? owed[0].seq : 0 },
      };
    }),

    /** Keep the office's rulings. @param {any[]} answers */
    async heardBack(answers) {
      const jobs = await write(["entries"], async (at) => {
        const found = new Set();
        for (const one of answers.filter((answer) => answer.kept)) {
          const row = await asked(at("entries").index("id").get(one.id));
          if (!row) continue;
          const { order, accepted, reason, details, words } = one;
          await asked(at("entries").put({ ...row, office: { order, accepted, reason, details, words } }));
          found.add(row.job);
        }
        return [...found];
      });
      if (jobs.length) tell(jobs);
    },

    /**
     * Keep what the office sent, and let go of the entries that its own sheets hold now.
     *
     * @param {any} answer of `/sync/contact`
     * @param {number} atMs when it came, by this tablet's clock
     */
    async takeIn(answer, atMs) {
      await write(["meta", "people", "jobs", "packets", "entries", "work"], async (at) => {
        const rows = /** @type {Row[]} */ (await asked(at("entries").getAll()));
        for (const [hash, packet] of Object.entries(answer.packets)) {
          await asked(at("packets").put({ hash, packet, pictures: answer.pictures[hash] ?? null }));
        }
        for (const [job, one] of Object.entries(answer.jobs)) {
          await asked(at("jobs").put({ ...one, job }));
          for (const row of rows) {
            if (row.job === job && row.office !== null && row.office.order <= one.through) await asked(at("entries").delete(row.seq));
          }
        }
        for (const row of rows) {
          // An office that was set back to an older copy asks again for what it had ruled on.
          if (row.office !== null && row.seq >= answer.next_seq) await asked(at("entries").put({ ...row, office: null }));
        }
        for (const job of answer.gone) {
          const left = rows.filter((row) => row.job === job);
          if (left.some((row) => row.office === null)) continue;
          for (const row of left) await asked(at("entries").delete(row.seq));
          await asked(at("jobs").delete(job));
        }
        for (const person of answer.people) {
          const known = await asked(at("people").get(person.id));
          await asked(at("people").put({ ...known, ...person }));
        }
        const active = answer.people.map((/** @type {{id: string}} */ one) => one.id);
        for (const known of await asked(at("people").getAll())) {
          if (!active.includes(known.id)) await asked(at("people").delete(known.id));
        }
        for (const [person, one] of Object.entries(answer.work)) await asked(at("work").put({ ...one, person }));
        await asked(at("meta").put({ key: "clock", value: { offset_ms: answer.now_ms - atMs } }));
        await asked(at("meta").put({ key: "shop", value: answer.shop }));
        await asked(at("meta").put({ key: "answered", value: atMs }));
      });
      tell([...Object.keys(answer.jobs), ...answer.gone]);
    },

    /** Hear which jobs changed. @param {(jobs: string[]) => void} listener */
    onChange(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close: () => db.close(),
  };
}
