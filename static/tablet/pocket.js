// @ts-check
/**
 * The pocket: what this tablet holds, in strict IndexedDB. Its laws, each with a test of its name:
 *
 *  1. What is noted is written before it is said to be saved: `note` answers after the transaction is complete.
 *  2. A form's entries are noted together or not at all.
 *  3. Numbers have no gaps and none is used twice, however many pages write.
 *  4. An entry leaves only when the office has ruled on it and the office's own sheet holds it, or the job has gone.
 *  5. What the office sends never takes an entry away that is still to be sent; an office set back to an older copy of
 *     its records is given again what it had ruled on.
 *  6. Who signs out or in takes nothing along: the queue is the tablet's, each entry its person's.
 *  7. A write that fails is told, and leaves everything as it was.
 *  8. What the office could not take stays here, holds up nothing, and is offered again to a renewed office.
 *  9. What was written by an older form of the pocket is opened and sent by this one.
 */
import { canonical } from "./canonical.js";
import { asked, complete, giveUp, within } from "./transactions.js";

/** @typedef {import("./entry.js").Entry} Entry */
/** @typedef {{name: string, roles: string[], at_ms: number}} HeardHere */
/** @typedef {import("./case.js").Ruling & {order: number, words: string}} OfficeRuling */
/** @typedef {OfficeRuling|NotTaken|null} Answered */
/**
 * One entry made here. `text` is what is sent, byte for byte. `office`: its first ruling there, once it has one; or why
 * it could not be taken.
 *
 * @typedef {{kept: false, problem: string, words: string}} NotTaken
 * @typedef {{seq: number, id: string, job: string, text: string, heard: HeardHere, office: Answered}} Row
 */
/** @typedef {(store: string) => IDBObjectStore} At a store within a transaction */
/** @typedef {(jobs: string[], noted: boolean) => void} Listener which jobs changed, and whether entries were noted */

const NAME = "cotterpin";
const NO_SHOP = { name: "", timezone: "UTC" };
const BLOCKED_MS = 2_000;
/**
 * From each form of the pocket to the next. A form that was ever in use has its example in `tests/pocket_forms/`.
 *
 * @type {((db: IDBDatabase, transaction: IDBTransaction) => void)[]}
 */
const LADDER = [
  (db, transaction) => {
    const stores = { meta: "key", people: "id", jobs: "job", packets: "hash", entries: "seq", work: "person" };
    for (const [store, keyPath] of Object.entries(stores)) db.createObjectStore(store, { keyPath });
    transaction.objectStore("jobs").createIndex("number", "number", { unique: true });
    transaction.objectStore("entries").createIndex("id", "id", { unique: true });
    transaction.objectStore("entries").createIndex("job", "job");
  },
];

/** A write that was not kept. `code`: quota, closed, blocked, unknown. */
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
  return new NotKept(CODES[name] ?? "unknown", error);
};

/** @type {Record<string, string>} A newer page renewed the pocket: one connection closes, the next is too old. */
const CODES = { QuotaExceededError: "quota", InvalidStateError: "closed", VersionError: "closed" };

/**
 * Open the pocket of this tablet, and make it where there is none.
 *
 * @param {IDBFactory} factory
 * @param {BroadcastChannel|null} channel by which pages tell each other what changed
 */
export async function openPocket(factory, channel = channelOf(NAME)) {
  /** @type {IDBDatabase} */
  const db = await new Promise((resolve, reject) => {
    const request = factory.open(NAME, LADDER.length);
    let isGivenUp = false;
    request.onupgradeneeded = ({ oldVersion }) => {
      const transaction = /** @type {IDBTransaction} */ (request.transaction);
      for (const step of LADDER.slice(oldVersion)) step(request.result, transaction);
    };
    request.onsuccess = () => (isGivenUp ? request.result.close() : resolve(request.result));
    request.onerror = () => reject(notKept(request.error));
    // A page that is just writing lets go a moment later; one that does not would have this one wait for ever.
    request.onblocked = () => setTimeout(() => {
      isGivenUp = true;
      reject(new NotKept("blocked", null));
    }, BLOCKED_MS);
  });
  // A newer page brings a newer form: this one lets go, and says of a write that it was not kept.
  db.onversionchange = () => db.close();
  return pocketOf(db, channel);
}

/** @param {string} name */
const channelOf = (name) => (typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel(name));

/** Whether the office has ruled on an entry. @param {Row} row @returns {row is Row & {office: OfficeRuling}} */
export const isRuled = (row) => row.office !== null && !("kept" in row.office);

/** @param {IDBDatabase} db @param {BroadcastChannel|null} channel */
function pocketOf(db, channel) {
  /**
   * Packets never change under their hash; reading one anew at every tap would take longer than all the rest.
   *
   * @type {Map<string, any>}
   */
  const packets = new Map();
  /** @type {Set<Listener>} */
  const listeners = new Set();
  if (channel) channel.onmessage = ({ data }) => hear(data.jobs, data.noted);

  /** @param {string[]} stores @param {(at: At) => Promise<any>} work */
  async function read(stores, work) {
    try {
      return await within(db.transaction(stores, "readonly"), work);
    } catch (error) {
      throw notKept(error);
    }
  }

  /**
   * All or nothing, and answered when it is on disk. What the office said may be lost with the power: it says it again.
   *
   * @param {string[]} stores
   * @param {(at: At) => Promise<any>} work
   * @param {IDBTransactionDurability} durability
   * @param {((found: any) => void)|null} meanwhile is done while the disk is; nothing of it counts before the answer
   */
  async function write(stores, work, durability = "strict", meanwhile = null) {
    let transaction;
    try {
      transaction = db.transaction(stores, "readwrite", { durability });
      const over = complete(transaction);
      over.catch(() => {});
      const started = transaction;
      return await within(started, async (at) => {
        const found = await work(at);
        if (meanwhile !== null) {
          // Else the disk would wait for what is done meanwhile.
          started.commit();
          meanwhile(found);
        }
        await over;
        return found;
      });
    } catch (error) {
      giveUp(transaction);
      throw notKept(error);
    }
  }

  /** @param {string} key @returns {Promise<any>} */
  const meta = async (key) => (await read(["meta"], (at) => asked(at("meta").get(key))))?.value ?? null;
  /** @param {string} key @param {unknown} value */
  const keepMeta = (key, value) => write(["meta"], (at) => asked(at("meta").put({ key, value })));

  /** @type {Listener} */
  const hear = (jobs, noted) => listeners.forEach((one) => one(jobs, noted));
  /** @type {Listener} */
  const tell = (jobs, noted) => {
    channel?.postMessage({ jobs, noted });
    hear(jobs, noted);
  };

  return {
    tablet: () => meta("tablet"),
    /** @param {{id: string, name: string, secret: string}} tablet */
    keepTablet: (tablet) => keepMeta("tablet", tablet),
    me: () => meta("me"),
    /** @param {{person: string, name: string, roles: string[], language: string}} me */
    signIn: (me) => keepMeta("me", me),
    signOut: () => keepMeta("me", null),
    /** What an answer of this tablet begins with, read at once: each reading more would be felt at every tap. */
    async here() {
      const rows = /** @type {{key: string, value: any}[]} */ (await read(["meta"], (at) => asked(at("meta").getAll())));
      const { tablet, me, clock, shop, seen } = Object.fromEntries(rows.map(({ key, value }) => [key, value]));
      return { tablet: tablet ?? null, me: me ?? null, clock: clock ?? { offset_ms: 0 }, shop: shop ?? NO_SHOP, seen: seen ?? "" };
    },
    /** The breaks that were put away, by the last act before each. @param {string} seen */
    keepSeen: (seen) => keepMeta("seen", seen),
    shop: async () => (await meta("shop")) ?? NO_SHOP,
    /**
     * The number of a contact, in which this tablet never goes back, and up to which the office had heard it when it
     * found that it had: an older copy of the pocket was put in its place.
     *
     * @param {number} heard by the office, of which this tablet may know nothing
     * @returns {Promise<{number: number, went_back: number}>}
     */
    counts: (heard) => write(["meta"], async (at) => {
      const { number, went_back } = (await asked(at("meta").get("contacts")))?.value ?? { number: 0, went_back: 0 };
      const value = { number: Math.max(number, heard) + 1, went_back: number < heard ? heard : went_back };
      await asked(at("meta").put({ key: "contacts", value }));
      return value;
    }),
    /** The same of the last contact. @returns {Promise<{number: number, went_back: number}>} */
    counted: async () => (await meta("contacts")) ?? { number: 0, went_back: 0 },
    /** When the office last answered, by this tablet's clock; `null` if never. @returns {Promise<number|null>} */
    answeredAt: () => meta("answered"),
    /** The bundle that the office has, by its last answer. */
    bundle: () => meta("bundle"),
    /** How many photos taken here the office never keeps, and nobody has settled. @returns {Promise<number>} */
    photosRefused: async () => (await meta("photos_refused")) ?? 0,

    people: () => read(["people"], (at) => asked(at("people").getAll())),
    /**
     * Keep what a person's sign-in on this tablet is checked by: as given, or as made from the one that is kept, so
     * that two pages cannot count one wrong try between them.
     *
     * @param {{id: string}} person
     * @param {object|null|((check: any) => object|null)} check
     */
    keepCheck: (person, check) => write(["people"], async (at) => {
      const known = await asked(at("people").get(person.id));
      const kept = typeof check === "function" ? check(known?.check ?? null) : check;
      await asked(at("people").put({ ...known, ...person, check: kept }));
      return kept;
    }),

    /**
     * Number entries and write them down. One noted before (a second tap) keeps its number.
     *
     * @param {Entry[]} entries
     * @param {HeardHere} heard
     * @param {((rows: Row[]) => void)|null} meanwhile is told the rows that are on their way to the disk; it must not throw
     * @returns {Promise<Row[]>} after the write is complete
     */
    async note(entries, heard, meanwhile = null) {
      const rows = await write(["meta", "entries"], async (at) => {
        const known = entries.map((entry) => asked(at("entries").index("id").get(entry.id)));
        const [tablet, last, ...before] = await Promise.all([asked(at("meta").get("tablet")), asked(at("meta").get("seq")), ...known]);
        let seq = last ? last.value : 0;
        /** @type {Map<string, Row>} A form may hold one entry twice. */
        const made = new Map();
        for (const [place, entry] of entries.entries()) {
          if (before[place] || made.has(entry.id)) continue;
          seq += 1;
          const numbered = { ...entry, tablet: tablet.value.id, seq };
          made.set(entry.id, { seq, id: entry.id, job: entry.job, text: canonical(numbered), heard, office: null });
        }
        // What goes wrong with one of these ends the transaction, which is waited for.
        for (const row of made.values()) at("entries").add(row);
        at("meta").put({ key: "seq", value: seq });
        return entries.map((entry, place) => before[place] ?? made.get(entry.id));
      }, "strict", meanwhile);
      tell([...new Set(entries.map((one) => one.job))], true);
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
        texts: job.texts ?? {},
        texts_mark: job.texts_mark,
        later: later.sort((/** @type {Row} */ one, /** @type {Row} */ other) => one.seq - other.seq),
      };
    },
    jobs: () => read(["jobs"], (at) => asked(at("jobs").getAll())),
    /** For which packets the drawings are here. @returns {Promise<string[]>} */
    pictured: () => read(["packets"], (at) => asked(at("packets").getAllKeys())),
    /** The hash of each person's My work. @returns {Promise<Record<string, string>>} */
    works: () => read(["work"], async (at) => {
      const works = /** @type {{person: string, hash: string}[]} */ (await asked(at("work").getAll()));
      return Object.fromEntries(works.map(({ person, hash }) => [person, hash]));
    }),
    /** @param {string} person */
    work: (person) => read(["work"], (at) => asked(at("work").get(person))),

    /** The first entries that the office has not ruled on. @param {number} limit @returns {Promise<Row[]>} */
    waiting: (limit) => read(["entries"], async (at) =>
      (await asked(at("entries").getAll())).filter((/** @type {Row} */ one) => one.office === null).slice(0, limit)),
    /** What the office is told at every contact, and how many entries it could not take. */
    debt: () => read(["meta", "entries"], async (at) => {
      const seq = await asked(at("meta").get("seq"));
      const rows = /** @type {Row[]} */ (await asked(at("entries").getAll()));
      const owed = rows.filter((row) => row.office === null);
      // What it could not take will not come: the office is not to wait for it.
      const first = rows.find((row) => row.office === null || isRuled(row));
      return {
        said_seq: seq ? seq.value : 0,
        oldest: first ? first.seq : 0,
        waiting: { count: owed.length, from: owed.length ? owed[0].seq : 0 },
        not_taken: rows.filter((row) => row.office !== null && !isRuled(row)).length,
      };
    }),

    /** Keep the office's rulings, and why it could not take what it could not. @param {any[]} answers */
    async heardBack(answers) {
      const jobs = await write(["entries"], async (at) => {
        const found = new Set();
        for (const one of answers) {
          // Beyond a gap: it is sent again when the gap is filled.
          if (!one.kept && one.problem === "seq_gap") continue;
          const row = await asked(at("entries").index("id").get(one.id));
          if (!row) continue;
          const { order, accepted, reason, details, words, problem } = one;
          const office = one.kept ? { order, accepted, reason, details, words } : { kept: false, problem, words };
          await asked(at("entries").put({ ...row, office }));
          found.add(row.job);
        }
        return [...found];
      }, "relaxed");
      if (jobs.length) tell(jobs, false);
    },

    /**
     * Keep what the office sent, and let go of the entries that its own sheets hold now.
     *
     * @param {any} answer of `/sync/contact`
     * @param {number} atMs when it came, by this tablet's clock
     */
    async takeIn(answer, atMs) {
      await write(["meta", "people", "jobs", "packets", "entries", "work"], async (at) => {
        await offerAgain(at, answer);
        await keepSheets(at, answer);
        await letGo(at);
        await keepPeople(at, answer);
        const seq = await asked(at("meta").get("seq"));
        const kept = {
          // A tablet that was set back to an older state goes on behind the numbers the office has.
          seq: Math.max(seq ? seq.value : 0, answer.next_seq - 1),
          clock: { offset_ms: answer.now_ms - atMs },
          shop: answer.shop,
          bundle: answer.bundle,
          answered: atMs,
          photos_refused: answer.photos_refused,
        };
        // What an older office does not say stays as it was.
        for (const [key, value] of Object.entries(kept)) if (value !== undefined) await asked(at("meta").put({ key, value }));
      }, "relaxed");
      const changed = [...Object.keys(answer.jobs), ...answer.gone];
      // What is placed with somebody may change alone.
      if (changed.length || Object.keys(answer.work).length) tell(changed, false);
    },

    /** Hear what changed, on this page or another. @param {Listener} listener */
    onChange(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close() {
      channel?.close();
      db.close();
    },
  };
}

// --- What becomes of a contact's answer, inside its one transaction ---

/**
 * An office that was set back to an older copy asks again for what it had ruled on; a renewed one is offered again what
 * it could not take.
 *
 * @param {At} at @param {any} answer
 */
async function offerAgain(at, answer) {
  const bundle = await asked(at("meta").get("bundle"));
  const isRenewed = bundle !== undefined && bundle.value !== answer.bundle;
  for (const row of await asked(at("entries").getAll())) {
    if (row.office !== null && (isRuled(row) ? row.seq >= answer.next_seq : isRenewed)) {
      await asked(at("entries").put({ ...row, office: null }));
    }
  }
}

/** @param {At} at @param {any} answer */
async function keepSheets(at, answer) {
  for (const [hash, packet] of Object.entries(answer.packets)) {
    await asked(at("packets").put({ hash, packet, pictures: answer.pictures[hash] ?? null }));
  }
  for (const [job, one] of Object.entries(answer.jobs)) {
    // What its packet says in other languages comes once.
    const texts = one.texts ?? (await asked(at("jobs").get(job)))?.texts;
    await asked(at("jobs").put({ ...one, ...(texts && { texts }), job }));
  }
  for (const job of answer.gone) {
    const rows = await asked(at("entries").index("job").getAll(job));
    if (rows.every(isRuled)) await asked(at("jobs").delete(job));
  }
  const used = new Set((await asked(at("jobs").getAll())).map((/** @type {{packet: string}} */ one) => one.packet));
  for (const hash of await asked(at("packets").getAllKeys())) {
    if (!used.has(hash)) await asked(at("packets").delete(hash));
  }
}

/** @param {At} at */
async function letGo(at) {
  /** @type {Map<string, number>} */
  const through = new Map((await asked(at("jobs").getAll())).map((/** @type {any} */ one) => [one.job, one.through]));
  for (const row of await asked(at("entries").getAll())) {
    const isHeld = isRuled(row) && row.office.order <= (through.get(row.job) ?? Infinity);
    if (isHeld) await asked(at("entries").delete(row.seq));
  }
}

/** Who is no longer of this shop is signed out, and cannot sign in here. @param {At} at @param {any} answer */
async function keepPeople(at, answer) {
  const people = new Map(answer.people.map((/** @type {{id: string}} */ one) => [one.id, one]));
  for (const known of await asked(at("people").getAll())) {
    if (!people.has(known.id)) await asked(at("people").delete(known.id));
    else people.set(known.id, { ...known, .../** @type {object} */ (people.get(known.id)) });
  }
  for (const person of people.values()) await asked(at("people").put(person));
  for (const [person, one] of Object.entries(answer.work)) await asked(at("work").put({ ...one, person }));
  for (const person of await asked(at("work").getAllKeys())) {
    if (!people.has(person)) await asked(at("work").delete(person));
  }
  const me = await asked(at("meta").get("me"));
  if (!me?.value) return;
  const { name, roles, language } = people.get(me.value.person) ?? {};
  await asked(at("meta").put({ key: "me", value: name === undefined ? null : { ...me.value, name, roles, language } }));
}
