// @ts-check
/**
 * One way to write a value as text, for hashing and for comparing the two ends; and the one way to read what came.
 *
 * Twin of `app/domain/canonical.py`. Only what JSON and Python agree on may pass: text, whole numbers that both hold
 * exactly, true, false, null, lists, objects.
 */
import { sha256, utf8 } from "./sha256.js";

/** @typedef {null | boolean | number | string | unknown[] | {[key: string]: unknown}} Json */

export const LARGEST_WHOLE = Number.MAX_SAFE_INTEGER;

/** A value that has no agreed form: a promise broken by the caller, never by what a person typed. */
export class NotCanonical extends TypeError {}

const HALF_A_PAIR = /[\ud800-\udfff]/u;

/**
 * Sorted keys, no spaces. Equal values give equal text, and equal bytes as UTF-8, at both ends.
 *
 * @param {unknown} value
 * @returns {string}
 */
export function canonical(value) {
  if (typeof value === "string") return written(value);
  if (typeof value === "number") {
    if (!Number.isSafeInteger(value)) throw new NotCanonical(`whole numbers go to ${LARGEST_WHOLE}, got ${value}`);
    return String(value);
  }
  if (value === null || value === true || value === false) return String(value);
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (typeof value !== "object") throw new NotCanonical(`${typeof value} has no canonical form`);
  const object = /** @type {Record<string, unknown>} */ (value);
  const keys = Object.keys(object).sort(byCodePoint);
  return `{${keys.map((key) => `${written(key)}:${canonical(object[key])}`).join(",")}}`;
}

/** @param {string} text */
function written(text) {
  if (HALF_A_PAIR.test(text)) throw new NotCanonical("half of a surrogate pair has no canonical form");
  return JSON.stringify(text);
}

/**
 * SHA-256 of the canonical bytes, in hexadecimal.
 *
 * @param {unknown} value
 */
export const digest = (value) => sha256(utf8(canonical(value)));

/**
 * Which of two texts comes first by code points, as Python sorts. JavaScript's own comparison goes by UTF-16 units, and
 * puts what lies beyond the basic plane before U+E000.
 *
 * @param {string} one
 * @param {string} other
 */
export function byCodePoint(one, other) {
  const length = Math.min(one.length, other.length);
  for (let i = 0; i < length; i += 1) {
    const a = one.charCodeAt(i);
    const b = other.charCodeAt(i);
    if (a !== b) return rank(a) - rank(b);
  }
  return one.length - other.length;
}

/** @param {number} unit A UTF-16 unit, the halves of pairs behind all others. */
const rank = (unit) => (unit >= 0xd800 && unit <= 0xdfff ? unit + 0x10000 : unit);

/**
 * Read JSON that came from elsewhere. `JSON.parse` turns 3.0 into 3 and rounds what is too large, and neither could be
 * told any more; here a number that is no whole one becomes a list in a list, which no form has, and one that is too
 * large stays so.
 *
 * @param {string} text
 * @returns {unknown}
 */
export function parse(text) {
  return JSON.parse(text.replace(/"(?:[^"\\]|\\.)*"|-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?/g, (token) => {
    if (token.startsWith('"')) return token;
    if (/[.eE]/.test(token)) return `[["${token}"]]`;
    const number = Number(token);
    if (Number.isSafeInteger(number) || !/^-?[1-9]/.test(token)) return token;
    return number < 0 ? "-9007199254740992" : "9007199254740992";
  }));
}

/**
 * What an object has under a key of its own: a step may be called "constructor".
 *
 * @template T
 * @param {{[key: string]: T}} object
 * @param {string} key
 * @returns {T | undefined}
 */
export const at = (object, key) => (Object.prototype.hasOwnProperty.call(object, key) ? object[key] : undefined);

/**
 * Whether two values are the same, whatever the order of their keys.
 *
 * @param {unknown} one
 * @param {unknown} other
 */
export const isSame = (one, other) => one === other || canonical(one) === canonical(other);

/**
 * A text without the spaces at its ends, by Python's idea of a space: `trim` takes U+FEFF too, and leaves U+001C to
 * U+001F and U+0085.
 *
 * @param {string} text
 */
export const strip = (text) => text.replace(ENDS, "");

/**
 * The words of a text, by the same idea of a space.
 *
 * @param {string} text
 */
export const wordsIn = (text) => text.split(new RegExp(SPACE)).filter(Boolean);

const SPACE = "[\\t-\\r\\x1c-\\x20\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000]+";
const ENDS = new RegExp(`^${SPACE}|${SPACE}$`, "g");
