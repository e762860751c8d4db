// @ts-check
/**
 * The window bar: the allowed band, the target, the reading as a tick. Whole numbers only; places in thousandths.
 *
 * Twin of `app/domain/view_bar.py`. What a packet may hold, times the width of the bar, passes 2^53: places are BigInt.
 */
import { floorDiv } from "./torque.js";
import { TradeProblem } from "./units.js";
import { amount } from "./view_parts.js";

/** @typedef {import("./units.js").Units} Units */
/** @typedef {number|null} End an end of the window, if it has one */

const LOW_AT = 200n;
const HIGH_AT = 800n;
const FIRST = 40n;
const LAST = 960n;

/**
 * The bar of one value. Without any limit there is none to show.
 *
 * @param {Units} units
 * @param {string} dimension
 * @param {string} unit
 * @param {End} low
 * @param {End} high
 * @param {{target?: number|null, reading?: number|null, readingText?: string}} [choice]
 * @returns {import("./view_parts.js").View}
 */
export function barView(units, dimension, unit, low, high, { target = null, reading = null, readingText = "" } = {}) {
  /** @param {End} value @param {boolean} up */
  const text = (value, up) => (value === null ? "" : limitText(units, dimension, value, unit, { up }));
  const shown = low !== null || high !== null;
  const left = low !== null ? LOW_AT : 0n;
  const right = high !== null ? HIGH_AT : 1000n;
  const at = shown && reading !== null ? placeOf(reading, low, high) : 0n;
  const side = sideOf(reading, low, high);
  return {
    shown,
    low_shown: low !== null,
    high_shown: high !== null,
    low_at: percent(left),
    high_at: percent(right),
    band_wide: percent(right - left),
    low: text(low, true),
    high: text(high, false),
    target_shown: target !== null,
    target: text(target, true),
    target_at: shown && target !== null ? percent(placeOf(target, low, high)) : "",
    read: shown && reading !== null,
    reading: readingText || text(reading, true),
    reading_at: percent(at < FIRST ? FIRST : at > LAST ? LAST : at),
    reading_anchor: at > HIGH_AT ? "end" : at < LOW_AT ? "start" : "middle",
    far: at < FIRST || at > LAST,
    side,
    apart: apartOf(units, dimension, unit, reading, low, high, side),
  };
}

/**
 * A limit as text: exact where `most` decimals can say it, else rounded into the window, never out of it.
 *
 * @param {Units} units
 * @param {string} dimension
 * @param {number|bigint} value
 * @param {string} unit
 * @param {{up: boolean, most?: number}} choice
 */
export function limitText(units, dimension, value, unit, { up, most = 3 }) {
  let exact;
  try {
    exact = units.amountIn(value, dimension, unit);
  } catch (problem) {
    if (!(problem instanceof TradeProblem)) throw problem;
    return amount(units, dimension, value, unit);
  }
  const { n, d } = exact;
  for (let places = 0; places <= most; places += 1) {
    if ((n * 10n ** BigInt(places)) % d === 0n) {
      return units.show({ dimension, value, unit: "", text: "" }, unit, places);
    }
  }
  return showTenths(units, up ? -floorDiv(-10n * n, d) : floorDiv(10n * n, d), dimension, unit);
}

/**
 * @param {Units} units
 * @param {bigint} tenths of the unit
 * @param {string} dimension
 * @param {string} unit
 */
export const showTenths = (units, tenths, dimension, unit) =>
  units.show(units.quantityOf({ n: tenths, d: 10n }, dimension, unit), unit, tenths % 10n ? 1 : 0);

/**
 * A place along the bar as text: 437 is "43.7%".
 *
 * @param {bigint} thousandths
 */
function percent(thousandths) {
  const whole = floorDiv(thousandths, 10n);
  return `${whole}.${thousandths - 10n * whole}%`;
}

/**
 * Where a value lies, in thousandths of the bar; beyond its ends for one far out.
 *
 * @param {number} value
 * @param {End} low
 * @param {End} high
 */
function placeOf(value, low, high) {
  const [edge, at] = low !== null ? [low, LOW_AT] : [high ?? 0, HIGH_AT];
  const away = BigInt(value) - BigInt(edge);
  if (low !== null && high !== null) {
    if (high === low) return away === 0n ? 500n : away < 0n ? 0n : 1000n;
    return at + floorDiv(away * (HIGH_AT - LOW_AT), BigInt(high) - BigInt(low));
  }
  return at + floorDiv(away * (HIGH_AT - LOW_AT), BigInt(Math.abs(edge) || 1));
}

/**
 * @param {End} value
 * @param {End} low
 * @param {End} high
 */
function sideOf(value, low, high) {
  if (value === null || (low === null && high === null)) return "";
  if (low !== null && value < low) return "low";
  return high !== null && value > high ? "high" : "within";
}

/**
 * @param {Units} units
 * @param {string} dimension
 * @param {string} unit
 * @param {End} value
 * @param {End} low
 * @param {End} high
 * @param {string} side
 */
function apartOf(units, dimension, unit, value, low, high, side) {
  /** @param {End} more @param {End} less */
  const apart = (more, less) =>
    limitText(units, dimension, BigInt(more ?? 0) - BigInt(less ?? 0), unit, { up: true });
  if (side === "low") return apart(low, value);
  return side === "high" ? apart(value, high) : "";
}
