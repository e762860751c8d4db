// @ts-check
/**
 * Every sentence the tablet says by itself, from the table that comes with the bundle.
 *
 * Twin of the functions of `app/texts.py`; what they speak from is its `table()`.
 */
import { at, strip } from "./canonical.js";
import { dateWords } from "./dates.js";

/**
 * @typedef {object} Table
 * @property {Record<string, string>} sentences
 * @property {Record<string, string>} words
 * @property {string} unknown for a code without a sentence
 * @property {string} or between several words
 * @property {string[]} variants details that pick a closer sentence, the first that has one
 * @property {Record<string, Record<string, string>>} filled blanks that hold keys: by code, the group of each
 */
/** @typedef {Record<string, string|number>} Details */
/** @typedef {{code: string, field: string, details: Details}} Problem What is wrong, and with which field. */
/**
 * @typedef {object} Texts
 * @property {(problem: Problem) => string} say
 * @property {(reason: string, details: Details) => string} sayRuling
 * @property {(key: string) => string} word
 * @property {(code: string, blanks: Details) => string} sentence
 * @property {(packet: Record<string, string>) => Texts} of the same, with the texts of a packet by their English
 */

/**
 * @param {Table} table
 * @param {Record<string, string>} [packet] its texts by their English
 * @returns {Texts}
 */
export function textsOf(table, packet = {}) {
  const { sentences, words, variants, filled, unknown, or } = table;
  /** The sentence for a code with its blanks filled; a code without one is named, never hidden. @type {Texts["sentence"]} */
  const sentence = (code, blanks) => {
    const text = at(sentences, code);
    return (text ?? unknown).replace(/\{(\w+)\}/g, (_, name) => String(at(text === undefined ? { code } : blanks, name) ?? "…"));
  };

  /** A short word by "group.key"; one that is not in the list is shown as it is, never hidden. @type {Texts["word"]} */
  const word = (key) => at(words, key) ?? key.split(".").slice(1).join(".").replaceAll("_", " ");

  /**
   * Words for a key of a group, or for several parted by commas; or for a date, or for a text of the packet.
   *
   * @param {string} group @param {string} keys
   */
  const inWords = (group, keys) =>
    group === "date"
      ? dateWords(keys, word)
      : group === "packet"
      ? at(packet, keys) ?? keys
      : keys
          .split(",")
          .map((key) => word(`${group}.${strip(key)}`))
          .join(or);

  /** The sentence for a reason and its details. @type {Texts["sayRuling"]} */
  const sayRuling = (reason, details) => {
    const closer = variants
      .map((name) => at(details, name))
      .filter((one) => one !== undefined)
      .map((one) => `${reason}.${one}`)
      .find((code) => at(sentences, code) !== undefined);
    const groups = at(filled, reason) ?? {};
    const blanks = Object.entries(details).map(([name, value]) => {
      const group = at(groups, name);
      return [name, group === undefined ? value : inWords(group, String(value))];
    });
    return sentence(closer ?? reason, Object.fromEntries(blanks));
  };

  return { sentence, word, sayRuling, say: (problem) => sayRuling(problem.code, problem.details), of: (said) => textsOf(table, said) };
}
