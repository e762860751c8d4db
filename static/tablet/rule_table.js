// @ts-check
/**
 * The part of the rules that is a table: `shared/rules/entries.json`, read by both ends.
 *
 * Twin of `app/domain/rule_table.py`. Fetching the file is the caller's.
 */

/** @typedef {{roles: string[], asks: string[]}} KindRule */
/**
 * @typedef {object} RuleTable
 * @property {Record<string, KindRule>} kinds
 * @property {string[]} always
 * @property {string[]} without_packet
 * @property {string[]} after_handback
 * @property {string[]} settles_itself
 * @property {string[]} settle_outcomes
 * @property {number[]} cosine_ppm the cosine of 0 to 90 whole degrees in millionths
 */

/**
 * Cosine of a whole angle from 0 to 180 degrees, in millionths.
 *
 * @param {RuleTable} table
 * @param {number} degrees
 */
export const cosine = (table, degrees) =>
  degrees <= 90 ? table.cosine_ppm[degrees] : -table.cosine_ppm[180 - degrees];
