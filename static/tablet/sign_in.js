// @ts-check
/**
 * Signing in at this tablet: the office is asked first; when it does not answer soon, the tablet checks the PIN itself,
 * for a person who has signed in here before. Wrong tries are slowed and then locked, as in the office.
 *
 * What the PIN is checked by here is a slow hash with a salt of its own. A PIN is short, and whoever takes the tablet
 * apart can try them all; so the tablet itself can be retired at the office, and nothing else opens with it.
 */

/** @typedef {import("./texts.js").Problem} Problem */
/** @typedef {{salt: string, rounds: number, hash: string, tries: number, until_ms: number}} Check */

const ROUNDS = 600_000;
const FREE_TRIES = 3;
const LOCK_AFTER = 8;
const SLOWED_MS = 5_000;
const LOCKED_MS = 15 * 60_000;

/**
 * @param {object} given
 * @param {any} given.pocket
 * @param {(path: string, body: string) => Promise<{status: number, json: () => Promise<any>}>} given.post
 * @param {() => number} given.now
 * @param {Crypto} given.crypto
 * @param {string} person
 * @param {string} pin
 * @returns {Promise<{problem: Problem|null, words: string}>} words: the office's own sentence, where it has refused
 */
export async function signInHere({ pocket, post, now, crypto }, person, pin) {
  const tablet = await pocket.tablet();
  const answer = await post("/sync/sign-in", JSON.stringify({ tablet: tablet.id, person, pin })).catch(() => null);
  if (answer !== null && answer.status === 200) {
    const told = await answer.json();
    await pocket.signIn({ person: told.person.id, name: told.person.name, roles: told.person.roles });
    const salt = hex(crypto.getRandomValues(new Uint8Array(16)));
    const hash = await slowHash(crypto, pin, salt, ROUNDS);
    await pocket.keepCheck(told.person, { salt, rounds: ROUNDS, hash, tries: 0, until_ms: 0 });
    return DONE;
  }
  if (answer !== null && answer.status === 422) return { problem: null, words: (await answer.json()).words };
  return signInAlone(pocket, now(), crypto, person, pin);
}

const DONE = { problem: null, words: "" };

/** @param {string} code @param {Record<string, string|number>} [details] */
const refused = (code, details = {}) => ({ problem: { code, field: "pin", details }, words: "" });

/** @param {any} pocket @param {number} nowMs @param {Crypto} crypto @param {string} person @param {string} pin */
async function signInAlone(pocket, nowMs, crypto, person, pin) {
  const known = (await pocket.people()).find((/** @type {{id: string}} */ one) => one.id === person);
  if (known === undefined) return refused("choose_person");
  if (!known.check) return refused("pin_not_here", { name: known.name });
  const check = /** @type {Check} */ (known.check);
  // A clock set back must not lock for longer than the longest lock.
  if (check.until_ms > nowMs && check.until_ms - nowMs <= LOCKED_MS) {
    return refused("pin_locked", { seconds: seconds(check.until_ms - nowMs) });
  }
  if ((await slowHash(crypto, pin, check.salt, check.rounds)) === check.hash) {
    await pocket.keepCheck(known, { ...check, tries: 0, until_ms: 0 });
    await pocket.signIn({ person: known.id, name: known.name, roles: known.roles });
    return DONE;
  }
  const tries = check.tries + 1;
  const wait = tries >= LOCK_AFTER ? LOCKED_MS : tries >= FREE_TRIES ? SLOWED_MS * 2 ** (tries - FREE_TRIES) : 0;
  await pocket.keepCheck(known, { ...check, tries, until_ms: wait ? nowMs + wait : 0 });
  return wait ? refused("pin_locked", { seconds: seconds(wait) }) : refused("pin_wrong", { left: FREE_TRIES - tries });
}

/** @param {number} ms */
const seconds = (ms) => Math.max(1, Math.round(ms / 1_000));

/** PBKDF2 with SHA-256 (RFC 8018). @param {Crypto} crypto @param {string} pin @param {string} salt @param {number} rounds */
async function slowHash(crypto, pin, salt, rounds) {
  const text = new TextEncoder();
  const key = await crypto.subtle.importKey("raw", text.encode(pin), "PBKDF2", false, ["deriveBits"]);
  const parameters = { name: "PBKDF2", hash: "SHA-256", salt: text.encode(salt), iterations: rounds };
  return hex(new Uint8Array(await crypto.subtle.deriveBits(parameters, key, 256)));
}

/** @param {Uint8Array} bytes */
const hex = (bytes) => [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
