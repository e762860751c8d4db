// @ts-check
/**
 * Signing in at this tablet: the office is asked first; when it does not answer soon, the tablet checks the PIN itself,
 * for a person who has signed in here before. Wrong tries are slowed and then locked, as in the office.
 *
 * What the PIN is checked by here is a slow hash with a salt of its own. A PIN is short, and whoever takes the tablet
 * apart can try them all; so the tablet itself can be retired at the office, and nothing else opens with it.
 */
import { NotKept } from "./pocket.js";

/** @typedef {import("./texts.js").Problem} Problem */
/** @typedef {{salt: string, rounds: number, hash: string, tries: number, until_ms: number}} Check */

const ROUNDS = 600_000;
const FREE_TRIES = 3;
const LOCK_AFTER = 8;
const SLOWED_MS = 5_000;
const LOCKED_MS = 15 * 60_000;

/** @typedef {{pocket: any, post: import("./sender.js").Post, now: () => number, crypto: Crypto}} Given */

/**
 * @param {Given} given
 * @param {string} person
 * @param {string} pin
 * @returns {Promise<{problem: Problem|null, words: string}>} words: the office's own sentence, where it has refused
 */
export async function signInHere(given, person, pin) {
  try {
    return (await atTheOffice(given, person, pin)) ?? (await alone(given, person, pin));
  } catch (error) {
    if (error instanceof NotKept) return refused(`not_kept.${error.code}`);
    throw error;
  }
}

const DONE = { problem: null, words: "" };

/** @param {string} code @param {Record<string, string|number>} [details] */
const refused = (code, details = {}) => ({ problem: { code, field: "pin", details }, words: "" });

/**
 * `null` where the office does not answer, or something that is not the office does.
 *
 * @param {Given} given @param {string} person @param {string} pin
 */
async function atTheOffice({ pocket, post, crypto }, person, pin) {
  const tablet = await pocket.tablet();
  const answer = await post("/sync/sign-in", JSON.stringify({ tablet: tablet.id, person, pin })).catch(() => null);
  const told = answer === null ? null : await answer.json().catch(() => null);
  if (told === null) return null;
  if (answer?.status === 422) {
    if (told.problem === "pin_wrong") await forgetOldPin(pocket, crypto, person, pin);
    return { problem: null, words: String(told.words) };
  }
  if (answer?.status !== 200) return null;
  const { id, name, roles, language } = told.person;
  await pocket.signIn({ person: id, name, roles, language });
  const salt = hex(crypto.getRandomValues(new Uint8Array(16)));
  const hash = await slowHash(crypto, pin, salt, ROUNDS);
  // Who is signed in is so without it; it is for a day without the office.
  const check = { salt, rounds: ROUNDS, hash, tries: 0, until_ms: 0 };
  await pocket.keepCheck({ id, name, roles }, check).catch(console.error);
  return DONE;
}

/**
 * A PIN that opened here and that is wrong at the office opens here no more.
 *
 * @param {any} pocket @param {Crypto} crypto @param {string} person @param {string} pin
 */
async function forgetOldPin(pocket, crypto, person, pin) {
  const known = await knownHere(pocket, person);
  if (known?.check && (await isRight(crypto, pin, known.check))) await pocket.keepCheck({ id: person }, null);
}

/** @param {any} pocket @param {string} person */
const knownHere = async (pocket, person) =>
  (await pocket.people()).find((/** @type {{id: string}} */ one) => one.id === person);

/**
 * A try counts as wrong before it is looked at, so that many at once, or a page closed in between, are no way round.
 *
 * @param {Given} given @param {string} person @param {string} pin
 */
async function alone({ pocket, now, crypto }, person, pin) {
  const known = await knownHere(pocket, person);
  if (known === undefined) return refused("choose_person");
  let isLocked = false;
  const check = await pocket.keepCheck({ id: person }, (/** @type {Check|null} */ kept) => {
    if (kept === null) return null;
    // A clock set back must not lock for longer than the longest lock.
    const until = Math.min(kept.until_ms, now() + LOCKED_MS);
    isLocked = until > now();
    return isLocked ? { ...kept, until_ms: until } : counted(kept, now());
  });
  if (check === null) return refused("pin_not_here", { name: known.name });
  if (!isLocked && (await isRight(crypto, pin, check))) {
    await pocket.keepCheck({ id: person }, { ...check, tries: 0, until_ms: 0 });
    await pocket.signIn({ person: known.id, name: known.name, roles: known.roles, language: known.language });
    return DONE;
  }
  if (check.until_ms === 0) return refused("pin_wrong", { left: FREE_TRIES - check.tries });
  return refused("pin_locked", { seconds: seconds(Math.max(check.until_ms - now(), 0)) });
}

/** @param {Check} check @param {number} nowMs @returns {Check} */
function counted(check, nowMs) {
  const tries = check.tries + 1;
  const wait = tries >= LOCK_AFTER ? LOCKED_MS : tries >= FREE_TRIES ? SLOWED_MS * 2 ** (tries - FREE_TRIES) : 0;
  return { ...check, tries, until_ms: wait ? nowMs + wait : 0 };
}

/** @param {Crypto} crypto @param {string} pin @param {Check} check */
const isRight = async (crypto, pin, check) => (await slowHash(crypto, pin, check.salt, check.rounds)) === check.hash;

/** @param {number} ms */
const seconds = (ms) => Math.max(1, Math.round(ms / 1_000));

/**
 * PBKDF2 with SHA-256 (RFC 8018).
 *
 * @param {Crypto} crypto @param {string} pin @param {string} salt @param {number} rounds
 */
async function slowHash(crypto, pin, salt, rounds) {
  const text = new TextEncoder();
  const key = await crypto.subtle.importKey("raw", text.encode(pin), "PBKDF2", false, ["deriveBits"]);
  const parameters = { name: "PBKDF2", hash: "SHA-256", salt: text.encode(salt), iterations: rounds };
  return hex(new Uint8Array(await crypto.subtle.deriveBits(parameters, key, 256)));
}

/** @param {Uint8Array} bytes */
const hex = (bytes) => [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
