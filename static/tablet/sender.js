// @ts-check
/**
 * Sends what the pocket holds and takes in what the office has: entries in the order of their numbers, then one contact.
 * Nothing leaves the pocket here; it lets go by itself when the office's own sheet holds an entry.
 *
 * Whether there is a network is never asked: the only way to know is to try.
 */

/** @typedef {{status: number, json: () => Promise<any>}} Answer */
/** @typedef {"answered"|"silent"|"unknown"|"refused"} Outcome silent: no answer; unknown: the office does not know this tablet */

const BATCH = 100;
export const QUIET_MS = 5_000;
const LONGEST_MS = 30_000;

/**
 * One whole exchange: entries, a few pieces of photos, then the contact.
 *
 * @param {any} pocket
 * @param {(path: string, body: string) => Promise<Answer>} post rejects where nothing came back
 * @param {() => number} now
 * @param {string} bundle
 * @param {{send: (tablet: {id: string, secret: string}) => Promise<string>, owed: () => Promise<number>}} photos
 * @returns {Promise<Outcome>}
 */
export async function exchange(pocket, post, now, bundle, photos) {
  const tablet = await pocket.tablet();
  if (tablet === null) return "unknown";
  try {
    const sent = await sendEntries(pocket, post, tablet.id);
    if (sent !== "answered") return sent;
    if ((await photos.send(tablet)) === "unknown") return "unknown";
    for (;;) {
      const answer = await post("/sync/contact", JSON.stringify(await contact(pocket, tablet.id, now(), bundle, await photos.owed())));
      if (answer.status !== 200) return answer.status === 401 ? "unknown" : "refused";
      const told = await answer.json();
      await pocket.takeIn(told, now());
      if (!told.more) return "answered";
    }
  } catch (error) {
    if (error instanceof TypeError || (error instanceof Error && ["AbortError", "TimeoutError"].includes(error.name))) return "silent";
    throw error;
  }
}

/** @param {any} pocket @param {(path: string, body: string) => Promise<Answer>} post @param {string} tablet @returns {Promise<Outcome>} */
async function sendEntries(pocket, post, tablet) {
  for (;;) {
    const rows = await pocket.waiting(BATCH);
    if (rows.length === 0) return "answered";
    // As they were written down, byte for byte: what is sent again is the same.
    const texts = rows.map((/** @type {{text: string}} */ row) => row.text);
    const answer = await post("/sync/entries", `{"tablet":${JSON.stringify(tablet)},"entries":[${texts.join(",")}]}`);
    if (answer.status !== 200) return answer.status === 401 ? "unknown" : "refused";
    const { answers } = await answer.json();
    await pocket.heardBack(answers);
    if (!answers.some((/** @type {{kept: boolean}} */ one) => one.kept)) return "refused";
  }
}

/** What is said at every contact. @param {any} pocket @param {string} tablet @param {number} nowMs @param {string} bundle @param {number} photos */
async function contact(pocket, tablet, nowMs, bundle, photos) {
  const [debt, jobs, me, work] = await Promise.all([pocket.debt(), pocket.jobs(), pocket.me(), pocket.works()]);
  return {
    tablet,
    bundle,
    now_ms: nowMs,
    signed_in: me === null ? "" : me.person,
    ...debt,
    photos_waiting: photos,
    have: Object.fromEntries(jobs.map((/** @type {any} */ one) => [one.job, [one.through, one.packet, one.about_hash]])),
    pictures: await pocket.pictured(),
    work,
  };
}

/**
 * Go on exchanging for as long as this page lives; of several pages one at a time does. `poke` asks for one now.
 *
 * @param {object} given
 * @param {() => Promise<Outcome>} given.once one exchange
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
    for (let silent = 0; ;) {
      poked = false;
      const outcome = await once().catch((error) => { console.error(error); return /** @type {Outcome} */ ("refused"); });
      told(outcome);
      silent = outcome === "answered" ? 0 : silent + 1;
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
