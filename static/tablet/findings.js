// @ts-check
/**
 * What two readings say together: sides that differ, rake, total toe, thrust, cross values, a value and its limit.
 *
 * Twin of `app/domain/findings.py`. Sums are in BigInt: two readings may be further apart than a number holds exactly.
 */
import { at } from "./canonical.js";

/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Measure} Measure */
/** @typedef {Record<string, import("./sheet.js").Taken>} Readings */
/**
 * One comparison: its key among the words, its amount and the unit asked for, the readings it was made from.
 *
 * @typedef {object} Finding
 * @property {string} key
 * @property {string} dimension
 * @property {bigint} value
 * @property {string} unit
 * @property {string[]} madeFrom
 * @property {boolean} signed
 */

const LEFT = "_left";
const RIGHT = "_right";
const LIMIT = "_limit";
const STATED = "height_stated";

/**
 * The amount, where it is signed with its plus as well as its minus; no more decimals than a rule shows.
 *
 * @param {import("./units.js").Units} units
 * @param {Finding} one
 */
export function findingText(units, { dimension, value, unit, signed }) {
  const amount = units.show({ dimension, value, unit: "", text: "" }, unit, unit === "mm" ? 1 : null);
  return `${signed && value > 0n ? "+" : ""}${amount}`;
}

/**
 * Everything that the step's readings so far allow. Left less right; rear mean less front mean.
 *
 * @param {Step} step
 * @param {Readings} readings
 * @returns {Finding[]}
 */
export function findings(step, readings) {
  const asked = new Map(step.measures.map((one) => [one.id, one]));
  const sides = [...asked].flatMap(([name, measure]) => {
    if (!name.endsWith(LEFT)) return [];
    const what = without(name, LEFT);
    const other = what + RIGHT;
    if (!asked.has(other) || !is(readings, name) || !is(readings, other)) return [];
    return sidesOf(step, measure, what, valueOf(readings, name), valueOf(readings, other), [name, other]);
  });
  return [...sides, ...rake(step, readings), ...againstLimits(step, readings), ...againstStated(step, readings)];
}

/**
 * @param {Step} step
 * @param {Measure} measure
 * @param {string} what
 * @param {bigint} left
 * @param {bigint} right
 * @param {string[]} names
 */
function sidesOf(step, measure, what, left, right, names) {
  if (measure.dimension === "length") return [found(sideKey(what), measure, left - right, names)];
  if (measure.dimension !== "angle") return [];
  if (what === "camber" || what === "caster") return [found(`cross_${what}`, measure, left - right, names)];
  if (what !== "toe") return [];
  const total = found("total_toe", measure, left + right, names);
  return step.axle === "rear" ? [total, found("thrust", measure, halfEven(left - right), names)] : [total];
}

/** @param {string} what */
const sideKey = (what) => (what.endsWith("front") ? "side_front" : what.endsWith("rear") ? "side_rear" : "side");

/**
 * Rear mean less front mean, once all four corners of one kind are there.
 *
 * @param {Step} step
 * @param {Readings} readings
 */
function rake(step, readings) {
  return step.measures.flatMap((measure) => {
    if (!measure.id.endsWith(`front${LEFT}`) || measure.dimension !== "length") return [];
    const kind = without(measure.id, `front${LEFT}`);
    const names = [`front${LEFT}`, `front${RIGHT}`, `rear${LEFT}`, `rear${RIGHT}`].map((corner) => kind + corner);
    if (!names.every((name) => is(readings, name))) return [];
    const [frontLeft, frontRight, rearLeft, rearRight] = names.map((name) => valueOf(readings, name));
    const twice = rearLeft + rearRight - frontLeft - frontRight;
    return [found("rake", measure, halfDown(twice), names)];
  });
}

/**
 * How far a value lies beyond the limit that was typed beside it, or below it.
 *
 * @param {Step} step
 * @param {Readings} readings
 */
function againstLimits(step, readings) {
  const taken = step.measures.filter((one) => is(readings, one.id));
  return taken.filter((limit) => limit.id.endsWith(LIMIT)).flatMap((limit) => {
    const name = without(limit.id, LIMIT);
    const its = taken.filter((one) => !one.id.endsWith(LIMIT) && (one.id === name || one.id.startsWith(`${name}_`)));
    return its.map((measure) => {
      const beyond = valueOf(readings, measure.id) - valueOf(readings, limit.id);
      const way = ["_axial", "_radial"].find((one) => measure.id.endsWith(one)) ?? "";
      const key = `${beyond > 0n ? "beyond" : "within"}_limit${way}`;
      return { ...found(key, measure, beyond < 0n ? -beyond : beyond, [measure.id, limit.id]), signed: false };
    });
  });
}

/**
 * The heights of the step's own axle, less the height that the maker states for it.
 *
 * @param {Step} step
 * @param {Readings} readings
 */
function againstStated(step, readings) {
  if (!is(readings, STATED)) return [];
  return step.measures.flatMap((measure) => {
    const side = [LEFT, RIGHT].find((one) => measure.id === `height_${step.axle}${one}`);
    if (side === undefined || measure.dimension !== "length" || !is(readings, measure.id)) return [];
    const over = valueOf(readings, measure.id) - valueOf(readings, STATED);
    return [found(`stated${side}`, measure, over, [measure.id, STATED])];
  });
}

/** @type {(key: string, measure: Measure, value: bigint, madeFrom: string[]) => Finding} */
const found = (key, { dimension, unit }, value, madeFrom) => ({ key, dimension, value, unit, madeFrom, signed: true });

/** @param {Readings} readings @param {string} name */
const is = (readings, name) => at(readings, name) !== undefined;

/** @param {Readings} readings @param {string} name */
const valueOf = (readings, name) => BigInt(readings[name].value);

/** @param {string} text @param {string} end that it has */
const without = (text, end) => text.slice(0, -end.length);

/** Half of a whole number, rounded down. @param {bigint} twice */
const halfDown = (twice) => twice >> 1n;

/** Half of a whole number, rounded to the even one. @param {bigint} twice */
function halfEven(twice) {
  const below = halfDown(twice);
  return (twice & 1n) === 1n && (below & 1n) === 1n ? below + 1n : below;
}
