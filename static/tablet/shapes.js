// @ts-check
/**
 * How data of a known form is read: strictly. A whole number stays one, text is no number, and yes is not 1.
 *
 * A reader gives the value as it is kept, or throws `Unreadable`. The office has pydantic for this; `entry.js` and
 * `packet.js` say which form each thing has.
 */
import { LARGEST_WHOLE, at } from "./canonical.js";

/** What came is of another form. */
export class Unreadable extends Error {}

/**
 * @template T
 * @typedef {(value: unknown) => T} Reader
 */

/** @type {(limit?: number) => Reader<string>} Text of so many characters at most; a pair of surrogates is one. */
export const text = (limit = Infinity) => (value) => {
  if (typeof value !== "string") throw new Unreadable("needs a text");
  if (value.length > limit && Array.from(value).length > limit) throw new Unreadable("text is too long");
  return value;
};

/** @type {(pattern: RegExp) => Reader<string>} */
export const matching = (pattern) => (value) => {
  if (typeof value !== "string" || !pattern.test(value)) throw new Unreadable("needs a name");
  return value;
};

/** @type {Reader<number>} A whole number both ends hold exactly. */
export const whole = (value) => {
  if (!Number.isInteger(value) || Math.abs(/** @type {number} */ (value)) > LARGEST_WHOLE) {
    throw new Unreadable("needs a whole number");
  }
  return /** @type {number} */ (value);
};

/** @type {Reader<number>} A whole number of any size: who reads so looks at the size afterwards. */
export const wholeOfAnySize = (value) => {
  if (!Number.isInteger(value)) throw new Unreadable("needs a whole number");
  return /** @type {number} */ (value);
};

/** @type {Reader<boolean>} */
export const yes = (value) => {
  if (typeof value !== "boolean") throw new Unreadable("needs true or false");
  return value;
};

/** @type {<T extends string>(values: readonly T[]) => Reader<T>} */
export const oneOf = (values) => (value) => {
  const found = values.find((one) => one === value);
  if (found === undefined) throw new Unreadable("needs one of a few words");
  return found;
};

/** @type {<T>(reader: Reader<T>) => Reader<T | null>} */
export const orNone = (reader) => (value) => (value === null ? null : reader(value));

/** @type {<T>(reader: Reader<T>, limit?: number) => Reader<T[]>} */
export const list = (reader, limit = Infinity) => (value) => {
  if (!Array.isArray(value)) throw new Unreadable("needs a list");
  if (value.length > limit) throw new Unreadable("list is too long");
  return value.map((one) => reader(one));
};

/** @type {<T>(reader: Reader<T>) => Reader<[T, T]>} */
export const pair = (reader) => (value) => {
  if (!Array.isArray(value) || value.length !== 2) throw new Unreadable("needs two things");
  return [reader(value[0]), reader(value[1])];
};

/** @type {Reader<Record<string, unknown>>} Any object at all. */
export const object = (value) => {
  if (typeof value !== "object" || value === null || Array.isArray(value)) throw new Unreadable("needs an object");
  return /** @type {Record<string, unknown>} */ (value);
};

/** @type {<T>(key: Reader<string>, reader: Reader<T>, limit?: number) => Reader<Record<string, T>>} */
export const table = (key, reader, limit = Infinity) => (value) => {
  const rows = Object.entries(object(value));
  if (rows.length > limit) throw new Unreadable("object has too many keys");
  return Object.fromEntries(rows.map(([name, one]) => [key(name), reader(one)]));
};

/**
 * An object with known keys: each with its reader and, where it may be left out, what it is then.
 *
 * @param {Record<string, [Reader<any>] | [Reader<any>, unknown]>} fields
 * @param {{extra?: "forbidden" | "ignored"}} [choice]
 * @returns {Reader<any>}
 */
export const record = (fields, { extra = "forbidden" } = {}) => (value) => {
  const given = object(value);
  if (extra === "forbidden" && Object.keys(given).some((key) => at(fields, key) === undefined)) {
    throw new Unreadable("has a key nobody knows");
  }
  return Object.fromEntries(
    Object.entries(fields).flatMap(([key, [reader, ...otherwise]]) => {
      const one = at(given, key);
      if (one !== undefined) return [[key, reader(one)]];
      if (otherwise.length === 0) throw new Unreadable(`has no ${key}`);
      // What is `undefined` where it is left out stays left out.
      return otherwise[0] === undefined ? [] : [[key, otherwise[0]]];
    }),
  );
};
