// @ts-check
/**
 * What an entry does to a sheet: `decide` rules on it, `evolve` gives the next sheet. Pure: no clock, no ids, no network.
 *
 * Twin of `app/domain/rules.py`: generated histories go through both in the tests and have to give the same rulings, and
 * the same bytes of state, after every entry. A ruling made here is what the person sees at once; the office has the
 * last word.
 */
import { ACCEPTED, Case, markOf, targetOf } from "./case.js";
import { CHANGES, putAside } from "./changes.js";
import { readBody } from "./entry.js";
import { QUESTIONS } from "./questions.js";
import { emptySheet } from "./sheet.js";
import { at } from "./canonical.js";

/** @typedef {import("./entry.js").Heard} Heard */
/** @typedef {import("./case.js").Ruling} Ruling */
/** @typedef {import("./sheet.js").Sheet} Sheet */

/** The rule set with its table. */
export class Rules {
  /** @param {import("./rule_table.js").RuleTable} table */
  constructor(table) {
    this.table = table;
  }

  /**
   * Rule on an entry against the sheet as it is.
   *
   * @param {Sheet} sheet
   * @param {Heard} heard
   * @returns {Ruling}
   */
  decide(sheet, heard) {
    const one = new Case(this.table, sheet, heard, readBody(heard.entry));
    const row = at(this.table.kinds, heard.entry.kind);
    for (const question of [...this.table.always, ...(row ? row.asks : [])]) {
      const against = QUESTIONS[question](one);
      if (against !== null) return against;
    }
    return ACCEPTED;
  }

  /**
   * Give the sheet after an entry and its ruling. Always counts the entry, whatever the ruling.
   *
   * @param {Sheet} sheet
   * @param {Heard} heard
   * @param {Ruling} ruling
   * @returns {Sheet}
   */
  evolve(sheet, heard, ruling) {
    const body = readBody(heard.entry);
    const counted = { ...sheet, entries: sheet.entries + 1 };
    if (!ruling.accepted) return putAside(counted, heard, body, ruling);
    const one = new Case(this.table, counted, heard, body);
    return this.#settleWhatSettlesItself(CHANGES[heard.entry.kind](one), heard, body);
  }

  /**
   * A refusal that was only "not yet" is settled by the same thing accepted later.
   *
   * @param {Sheet} sheet
   * @param {Heard} heard
   * @param {any} body
   * @returns {Sheet}
   */
  #settleWhatSettlesItself(sheet, heard, body) {
    const { kind } = heard.entry;
    const [step, target] = targetOf(kind, body);
    const settled = Object.entries(sheet.asides)
      .filter(([, one]) => one.settled === null && this.table.settles_itself.includes(one.reason))
      .filter(([, one]) => one.kind === kind && one.step === step && one.target === target)
      .map(([key, one]) => [key, { ...one, settled: markOf(heard), outcome: "done_since" }]);
    return settled.length ? { ...sheet, asides: { ...sheet.asides, ...Object.fromEntries(settled) } } : sheet;
  }
}

/**
 * Give the sheet that these heard entries and their first rulings lead to.
 *
 * @param {Rules} rules
 * @param {string} job
 * @param {Iterable<[Heard, Ruling]>} history
 * @returns {Sheet}
 */
export function replay(rules, job, history) {
  let sheet = emptySheet(job);
  for (const [heard, ruling] of history) sheet = rules.evolve(sheet, heard, ruling);
  return sheet;
}
