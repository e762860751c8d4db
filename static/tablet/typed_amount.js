// @ts-check
/**
 * A reading as somebody typed it into a field: a quantity, or the problem to show beside the field.
 *
 * Twin of `app/use_cases/typed_amount.py`.
 */
import { at, strip } from "./canonical.js";
import { TradeProblem } from "./units.js";

/** @typedef {import("./units.js").Units} Units */
/** @typedef {import("./units.js").Quantity} Quantity */
/** @typedef {import("./texts.js").Problem} Problem */

/** What a person is shown as an example of each kind: in the usual unit first, then in others. */
export const EXAMPLES = /** @type {Record<string, [string, string][]>} */ ({
  torque: [["N·m", "110 N·m"], ["lbf·ft", "81 lbf·ft"], ["lbf·in", "240 lbf·in"], ["kgf·m", "11.2 kgf·m"]],
  length: [["mm", "4.5 mm"], ["in", "1 1/16 in"], ["m", "2.7 m"]],
  mass: [["kg", "1500 kg"], ["lb", "3300 lb"]],
  force: [["N", "9000 N"], ["kN", "9 kN"], ["lbf", "2000 lbf"]],
  angle: [["°", "1.5°"], ["turn", "3 turn"]],
  pressure: [["kPa", "230 kPa"], ["bar", "2.3 bar"], ["psi", "33 psi"]],
  duration: [["min", "10 min"], ["s", "30 s"]],
  rate: [["N/mm", "30 N/mm"], ["lbf/in", "171 lbf/in"]],
  ratio: [["1", "2"]],
});

const LONGEST_SHOWN = 64;

/**
 * Read an amount; a bare number is in `unit`.
 *
 * @param {Units} units
 * @param {string} text
 * @param {string} dimension
 * @param {string} unit
 * @param {string} field
 * @returns {Quantity|Problem}
 */
export function amountTyped(units, text, dimension, unit, field) {
  try {
    return units.parseQuantity(text, dimension, { defaultUnit: unit, argument: field });
  } catch (problem) {
    if (!(problem instanceof TradeProblem)) throw problem;
    return problemOf(problem, text, dimension, unit, field);
  }
}

/**
 * @param {TradeProblem} problem
 * @param {string} text
 * @param {string} dimension
 * @param {string} unit
 * @param {string} field
 * @returns {Problem}
 */
function problemOf({ code, details: { got, reason } }, text, dimension, unit, field) {
  const characters = Array.from(text);
  const typed = characters.length <= LONGEST_SHOWN ? text : `${characters.slice(0, LONGEST_SHOWN).join("")}…`;
  const details = { typed, example: exampleOf(dimension, unit) };
  if (code === "input_missing") return { code: "amount_missing", field, details };
  if (code === "out_of_range") return { code: "amount_beyond", field, details };
  if (code === "wrong_dimension") {
    return { code: "amount_other_kind", field, details: { ...details, needed: dimension, got } };
  }
  return { code: "amount_unclear", field, details: { ...details, why: reason } };
}

/** @param {string} dimension @param {string} unit */
function exampleOf(dimension, unit) {
  const known = at(EXAMPLES, dimension) ?? [];
  return (known.find(([one]) => one === unit) ?? known[0] ?? ["", strip(`12 ${unit}`)])[1];
}

/**
 * The reading of an entry: the number as typed and its unit apart; an amount of several parts whole.
 *
 * @param {Units} units
 * @param {Quantity} quantity
 * @returns {import("./entry.js").Reading}
 */
export function readingOf(units, quantity) {
  const value = Number(quantity.value);
  const text = units.asTyped(quantity);
  const unit = quantity.unit === "1" ? "" : quantity.unit;
  if (!unit || !text.endsWith(unit)) return { value, text, unit: "" };
  return { value, text: strip(text.slice(0, -unit.length)), unit };
}
