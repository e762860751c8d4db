// @ts-check
/**
 * What the compiled templates need: Python's idea of truth, equality and text, and MarkupSafe's five escapes.
 *
 * A view model holds texts, whole numbers, booleans, lists and objects. Whatever is missing is a `Missing`: it may be
 * passed on, and fails when it is used, as in the office. Anything else (null, a fraction, a list put out as text)
 * fails at once: a loud failure can be mended, a quiet difference cannot.
 */

/** A name or key that is not there. */
export class Missing {
  /** @param {string} name */
  constructor(name) {
    this.name = name;
  }
}

/** @param {unknown} value @returns {never} */
function refuse(value) {
  if (value instanceof Missing) throw new ReferenceError(`'${value.name}' is not there`);
  throw new TypeError(`${value === null ? "null" : typeof value} cannot be used like this in a template`);
}

/** @param {unknown} value @returns {value is Record<string, unknown>} */
const isObject = (value) =>
  typeof value === "object" && value !== null && !Array.isArray(value) && !(value instanceof Missing);

/** @param {unknown} value @returns {value is number | boolean} */
const isNumber = (value) => typeof value === "boolean" || Number.isSafeInteger(value);

const has = Object.prototype.hasOwnProperty;
const ESCAPES = /** @type {Record<string, string>} */ ({
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  "'": "&#39;",
  '"': "&#34;",
});

/** The names a template begins with. @param {object} context @returns {Record<string, unknown>} */
export const root = (context) => Object.assign(Object.create(null), context);

/** A scope within another: it sees everything, and what it is given stays in it. @param {object} scope */
export const child = (scope) => Object.create(scope);

/** @param {Record<string, unknown>} scope @param {string} name */
export const look = (scope, name) => (name in scope ? scope[name] : new Missing(name));

/** @param {unknown} value @param {string} key */
export function get(value, key) {
  if (value instanceof Missing) refuse(value);
  return isObject(value) && has.call(value, key) ? value[key] : new Missing(key);
}

/** Put a value out, escaped. @param {unknown} value */
export function show(value) {
  if (typeof value === "string") return value.replace(/[&<>'"]/g, (one) => ESCAPES[one]);
  if (typeof value === "boolean") return value ? "True" : "False";
  return Number.isSafeInteger(value) ? String(value) : refuse(value);
}

/** @param {unknown} value @returns {boolean} */
export function truth(value) {
  if (typeof value === "string" || Array.isArray(value)) return value.length > 0;
  if (isNumber(value)) return Boolean(value);
  return isObject(value) ? Object.keys(value).length > 0 : refuse(value);
}

/** `and`, which gives one of its two values. @param {unknown} left @param {() => unknown} right */
export const both = (left, right) => (truth(left) ? right() : left);

/** `or`, which gives one of its two values. @param {unknown} left @param {() => unknown} right */
export const either = (left, right) => (truth(left) ? left : right());

/** Equality of values, lists and objects by what is in them; true is 1, as in Python.
 * @param {unknown} a @param {unknown} b @returns {boolean} */
export function equal(a, b) {
  if (isNumber(a) && isNumber(b)) return Number(a) === Number(b);
  if (Array.isArray(a) && Array.isArray(b)) {
    return a.length === b.length && a.every((one, place) => equal(one, b[place]));
  }
  if (isObject(a) && isObject(b)) {
    const keys = Object.keys(a);
    return keys.length === Object.keys(b).length && keys.every((key) => has.call(b, key) && equal(a[key], b[key]));
  }
  for (const one of [a, b]) {
    if (typeof one !== "string" && !isNumber(one) && !Array.isArray(one) && !isObject(one)) refuse(one);
  }
  return a === b;
}

/** `in`: a part of a text, a member of a list, a key of an object. @param {unknown} part @param {unknown} whole */
export function within(part, whole) {
  if (Array.isArray(whole)) return whole.some((one) => equal(part, one));
  if (typeof whole === "string") return typeof part === "string" ? whole.includes(part) : refuse(part);
  if (!isObject(whole)) return refuse(whole);
  if (typeof part === "string") return has.call(whole, part);
  return isNumber(part) ? false : refuse(part);
}

/** What a loop goes over. Keys that look like places are refused: JavaScript would put them in an order of its own.
 * @param {unknown} value @returns {unknown[]} */
export function items(value) {
  if (Array.isArray(value)) return value;
  if (typeof value === "string") return [...value];
  if (!isObject(value)) return refuse(value);
  const keys = Object.keys(value);
  if (keys.some((key) => /^\d+$/.test(key))) throw new TypeError("an object with numbers for keys has no order");
  return keys;
}

/** Length in characters, members or keys. @param {unknown} value */
export function length(value) {
  if (Array.isArray(value)) return value.length;
  if (typeof value === "string") return [...value].length;
  return isObject(value) ? Object.keys(value).length : refuse(value);
}
