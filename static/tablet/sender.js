// @ts-check
/**
 * Sends what the pocket holds and takes in what the office has: entries in the order of their numbers, then a contact.
 * Nothing leaves the pocket here; it lets go by itself when the office's own sheet holds an entry.
 *
 * Whether there is a network is never asked: the only way to know is to try.
 */

import { NotKept } from "./pocket.js";

/** @typedef {{status: number, json: () => Promise<any>}} Answer */
/** @typedef {(path: string, body: string) => Promise<Answer>} Post rejects where nothing came back */
/**
 * silent: no answer, or not the office's. unknown: the office does not know this tablet. refused: it did not take what
 * was said. stuck: it answers, but takes none of the entries, not for a gap. full: this tablet could not keep what the
 * office said.
 *
 * @typedef {"answered"|"silent"|"unknown"|"refused"|"stuck"|"full"} Outcome
 */

const BATCH = 100;
export const QUIET_MS = 5_000;
const LONGEST_MS = 30_000;
/** Entries the office does not take are offered again after so many exchanges: 1, 2, 4 … and then each time as many. */
const SELDOM = 32;

/** @typedef {{send: (tablet: {id: string, secret: string}) => Promise<string>, owed: () => Promise<number>}} Photos */

/** For a tablet that takes none. @type {Photos} */
const NO_PHOTOS = { send: async () => "answered", owed: async () => 0 };

/**
 * One whole exchange: entries, a few pieces of photos, then the contact. Entries beyond a gap are not taken: then the
 * contact tells the office what still comes, and they are sent again. A second time, since what the first contact has let
 * this tablet forget may have hidden the gap.
 *
 * @param {any} pocket
 * @param {Post} post
 * @param {() => number} now
 * @param {string} bundle
 * @param {Photos} photos
 * @param {boolean} isOffered whether entries are sent, or left until later since the office has just not taken them
 * @returns {Promise<Outcome>}
 */
export async function exchange(pocket, post, now, bundle, photos = NO_PHOTOS, isOffered = true) {
  const tablet = await pocket.tablet();
  if (tablet === null) return "unknown";
  try {
    for (let tries = 1; ; tries += 1) {
      const sent = isOffered ? await sendEntries(pocket, post, tablet.id) : "stuck";
      if (sent === "silent" || sent === "unknown") return sent;
      // A photo that cannot be sent now holds up nothing else.
      if ((await photos.send(tablet).catch(() => "silent")) === "unknown") return "unknown";
      const met = await meet(pocket, post, tablet.id, now, bundle, photos);
      if (met !== "answered" || sent !== "gap" || tries === 3) return met !== "answered" ? met : sent === "gap" ? "stuck" : sent;
    }
  } catch (error) {
    if (error instanceof NotKept && error.code === "quota") return "full";
    throw error;
  }
}

/** @param {any} pocket @param {Post} post @param {string} tablet @returns {Promise<Outcome|"gap">} */
async function sendEntries(pocket, post, tablet) {
  for (let most = BATCH; ;) {
    const rows = await pocket.waiting(most);
    if (rows.length === 0) return "answered";
    const { number, went_back } = await pocket.counted();
    // As they were written down, byte for byte: what is sent again is the same.
    const texts = rows.map((/** @type {{text: string}} */ row) => row.text);
    const body = `{"tablet":${JSON.stringify(tablet)},"number":${number},"went_back":${went_back},"entries":[${texts.join(",")}]}`;
    const [outcome, told] = await said(post, "/sync/entries", body);
    if (outcome === "answered") {
      await pocket.heardBack(told.answers);
      if (!told.answers.some((/** @type {{kept: boolean}} */ one) => one.kept)) return "gap";
    } else if (outcome === "refused" && String(told?.problem).startsWith("batch_")) {
      // One of them is too much, or is no entry. When it is alone it is known, and holds up the others no longer.
      if (rows.length === 1) await pocket.heardBack([{ ...told, id: rows[0].id, kept: false }]);
      most = rows.length === 1 ? BATCH : Math.ceil(rows.length / 2);
    } else return outcome === "refused" ? "stuck" : outcome;
  }
}

/**
 * @param {any} pocket
 * @param {Post} post
 * @param {string} tablet
 * @param {() => number} now
 * @param {string} bundle
 * @param {Photos} photos
 * @returns {Promise<Outcome>}
 */
async function meet(pocket, post, tablet, now, bundle, photos) {
  for (let heard = 0; ;) {
    // A contact that cannot be counted is made all the same: what is sent makes room.
    const counted = await pocket.counts(heard).catch(() => null);
    const body = JSON.stringify({ ...await contact(pocket, tablet, now(), bundle, await photos.owed()), ...counted });
    const [outcome, told] = await said(post, "/sync/contact", body);
    if (outcome !== "answered") return outcome;
    // It has heard later ones: this tablet was set back, and says so before it goes on from what the office has.
    if (counted !== null && told.contacts > counted.number) {
      heard = told.contacts;
      continue;
    }
    await pocket.takeIn(told, now());
    if (!told.more) return "answered";
  }
}

/** @param {Post} post @param {string} path @param {string} body @returns {Promise<[Outcome, any]>} */
async function said(post, path, body) {
  let answer;
  try {
    answer = await post(path, body);
  } catch {
    return ["silent", null];
  }
  const told = await answer.json().catch(() => null);
  // An office that is busy with others is asked again later, as one that is silent.
  if (answer.status === 503) return ["silent", null];
  // Whatever else may stand between answers in its own way, some with 200 and some with 401.
  if (answer.status === 200) return told === null ? ["silent", null] : ["answered", told];
  return [answer.status === 401 && told?.problem === "tablet_unknown" ? "unknown" : "refused", told];
}

/**
 * What is said at every contact.
 *
 * @param {any} pocket
 * @param {string} tablet
 * @param {number} nowMs
 * @param {string} bundle
 * @param {number} photos how many wait
 */
async function contact(pocket, tablet, nowMs, bundle, photos) {
  const [debt, jobs, me, work] = await Promise.all([pocket.debt(), pocket.jobs(), pocket.me(), pocket.works()]);
  return {
    tablet,
    bundle,
    now_ms: nowMs,
    signed_in: me === null ? "" : me.person,
    ...debt,
    photos_waiting: photos,
    have: Object.fromEntries(jobs.map(having)),
    pictures: await pocket.pictured(),
    work,
  };
}

/** @param {any} one @returns {[string, (number|string)[]]} */
const having = (one) => [one.job, [one.through, one.packet, one.texts_mark ?? "", one.about_hash]];

/**
 * Go on exchanging for as long as this page lives; of several pages one at a time does. `poke` asks for one now.
 *
 * @param {object} given
 * @param {(isOffered: boolean) => Promise<Outcome>} given.once one exchange
 * @param {(outcome: Outcome) => void} given.told
 * @param {LockManager} given.locks
 * @param {() => number} given.random between 0 and 1
 */
export function keepSending({ once, told, locks, random }) {
  /** @type {(() => void)|null} */
  let wake = null;
  let poked = false;
  const poke = () => { poked = true; wake?.(); };
  const rest = (/** @type {number} */ ms) => new Promise((resolve) => {
    if (poked) return resolve(null);
    const timer = setTimeout(resolve, ms);
    wake = () => { clearTimeout(timer); resolve(null); };
  });
  locks.request("cotterpin-sender", async () => {
    for (let silent = 0, stuck = 0; ;) {
      poked = false;
      const outcome = await once((stuck & (stuck - 1)) === 0 || stuck % SELDOM === 0).catch((error) => {
        console.error(error);
        return error.code === "closed" ? null : /** @type {Outcome} */ ("refused");
      });
      // A newer page has renewed the pocket and sends from now on; a page that can send nothing must not keep it waiting.
      if (outcome === null) return;
      // What is stuck holds up no news: only entries are offered less often.
      silent = outcome === "answered" || outcome === "stuck" ? 0 : silent + 1;
      stuck = outcome === "stuck" ? stuck + 1 : outcome === "answered" ? 0 : stuck;
      // Once may be a slip of the office's; it is said when it lasts.
      told(outcome === "stuck" && stuck === 1 ? "answered" : outcome);
      const longer = Math.min(1_000 * 2 ** (silent - 1), LONGEST_MS);
      await rest(silent ? longer * (0.5 + random() / 2) : QUIET_MS);
    }
  });
  return poke;
}

/**
 * POST to the office with the tablet's own credential, given up after a while.
 *
 * @param {any} pocket
 * @param {number} patienceMs
 * @returns {(path: string, body: string) => Promise<Answer>}
 */
export const postFrom = (pocket, patienceMs) => async (path, body) => {
  const { id, secret } = await pocket.tablet();
  return fetch(path, {
    method: "POST",
    headers: { Authorization: `Tablet ${id}.${secret}`, "Content-Type": "application/json" },
    body,
    signal: AbortSignal.timeout(patienceMs),
  });
};
