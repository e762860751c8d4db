// @ts-check
/**
 * What people type as a quantity, and what is shown back: parsing, conversion and display.
 *
 * Twin of `app/trade/units.py`, by the same table (`shared/units.json`), in exact fractions. The office also knows units
 * outside the table; here such a unit is refused as unknown, with those that are known.
 */
import { strip } from "./canonical.js";

/** @typedef {{n: bigint, d: bigint}} Fraction in no lowest terms; d is above 0 */
/**
 * One row of the table: amount in small units = amount * factor + offset.
 *
 * @typedef {object} Unit
 * @property {string} symbol
 * @property {Fraction} factor
 * @property {Fraction} offset
 * @property {number} places
 * @property {number|null} digits
 * @property {boolean} spaced
 */
/**
 * The units of one dimension, found by spelling.
 *
 * @typedef {object} UnitsOf
 * @property {string} byDefault
 * @property {Map<string, Unit>} bySymbol
 * @property {Map<string, Unit>} exact
 * @property {Map<string, Unit>} anyCase
 * @property {Map<string, string>} refused
 */
/** @typedef {{dimension: string, value: number|bigint, unit: string, text: string}} Quantity */

/** What was typed cannot be taken. `code`, `argument` and `details` are those of `app/trade/problems.py`. */
export class TradeProblem extends Error {
  /**
   * @param {"not_understood"|"wrong_dimension"|"out_of_range"|"input_missing"} code
   * @param {string} argument
   * @param {Record<string, string>} details
   */
  constructor(code, argument, details) {
    super(`${argument}: ${code}`);
    this.code = code;
    this.argument = argument;
    this.details = details;
  }
}

// The table -----------------------------------------------------------------------------------------------------------

/** The units of `shared/units.json`, ready to be asked. */
export class Units {
  /** @param {any} data the file's content */
  constructor(data) {
    /** @type {Map<string, string>} */
    this.characters = new Map(Object.entries(data.characters));
    /** @type {number} */
    this.longestText = data.longest_text;
    this.largestValue = BigInt(data.largest_value);
    /** @type {Map<string, UnitsOf>} */
    this.table = new Map(Object.entries(data.dimensions).map(([name, of]) => [name, this.#readDimension(of)]));
  }

  /**
   * Give the quantity that was typed, with its text and the unit as typed. Throws `TradeProblem`.
   *
   * @param {string} text
   * @param {string} dimension
   * @param {{defaultUnit?: string, argument?: string}} [choice]
   * @returns {Quantity}
   */
  parseQuantity(text, dimension, { defaultUnit = "", argument = "value" } = {}) {
    const typed = strip(text);
    if (!typed) throw new TradeProblem("input_missing", argument, { needed: dimension });
    if (Array.from(typed).length > this.longestText) throw this.#notUnderstood(argument, typed, "too_long");
    const [negative, parts] = this.#parts(typed, argument);
    let total = fraction(0n);
    /** @type {Unit|null} */
    let first = null;
    /** @type {Unit|null} */
    let last = null;
    for (const [number, unitText] of parts) {
      const unit = this.#unitTyped(unitText, dimension, defaultUnit, typed, argument, parts.length === 1);
      if (last !== null && !mayFollow(last, unit, number)) throw this.#notUnderstood(argument, typed, "compound");
      first = first ?? unit;
      // The sign belongs to the whole: in -0°45' it sits on a zero and would be lost with the first part.
      const signed = negative ? { n: -number.n, d: number.d } : number;
      total = plus(total, plus(times(signed, unit.factor), unit.offset));
      last = unit;
    }
    const { symbol } = /** @type {Unit} */ (first);
    return { dimension, value: this.#whole(total, argument, typed), unit: symbol, text: typed };
  }

  /**
   * Give the quantity of an amount in a unit of the table. It carries the unit and no text. Throws `TradeProblem`.
   *
   * @param {Fraction} amount
   * @param {string} dimension
   * @param {string} unit
   * @returns {Quantity}
   */
  quantityOf(amount, dimension, unit) {
    const { symbol, factor, offset } = this.#findUnit(unit, dimension, "unit");
    const value = this.#whole(plus(times(amount, factor), offset), "value", unit);
    return { dimension, value, unit: symbol, text: "" };
  }

  /**
   * Give small units of a dimension as an amount in a unit, exactly. Throws `TradeProblem` for an unknown unit.
   *
   * @param {number|bigint} value
   * @param {string} dimension
   * @param {string} unit
   * @returns {Fraction}
   */
  amountIn(value, dimension, unit) {
    return amountOf(value, this.#findUnit(unit, dimension, "unit"));
  }

  /**
   * Give the symbols of the table for a dimension, the usual one first.
   *
   * @param {string} dimension
   */
  unitSymbols(dimension) {
    const of = this.#of(dimension);
    return [of.byDefault, ...[...of.bySymbol.keys()].filter((symbol) => symbol !== of.byDefault)];
  }

  /**
   * Give a quantity as text for a person: as typed if nothing else is asked, else rounded half to even.
   * For display alone: a shown amount is never written back.
   *
   * @param {Quantity} quantity
   * @param {string|null} [unit]
   * @param {number|null} [places]
   */
  show(quantity, unit = null, places = null) {
    if (unit === null && places === null && quantity.text) return this.asTyped(quantity);
    const wanted = unit || quantity.unit || this.#of(quantity.dimension).byDefault;
    const row = this.#findUnit(wanted, quantity.dimension, "unit");
    const amount = amountOf(quantity.value, row);
    return joined(rounded(amount, places === null ? placesFor(amount, row) : places), row);
  }

  /**
   * Give a quantity as typed with the other unit beside it: "81 lbf·ft (110 N·m)".
   *
   * @param {Quantity} quantity
   * @param {string} otherUnit
   */
  both(quantity, otherUnit) {
    const other = this.#findUnit(otherUnit, quantity.dimension, "unit");
    if (other.symbol === (quantity.unit || this.#of(quantity.dimension).byDefault)) return this.show(quantity);
    return `${this.show(quantity)} (${this.show(quantity, other.symbol)})`;
  }

  /**
   * Give the number as typed with the unit in the table's spelling; the whole text if it has more parts.
   *
   * @param {Quantity} quantity
   */
  asTyped(quantity) {
    const match = ONE_PART.exec(this.#characters(quantity.text));
    if (match === null || !quantity.unit || !match.groups) return quantity.text;
    const number = match.groups.number.split(/ +/).filter(Boolean).join(" ");
    const row = this.#findUnit(quantity.unit, quantity.dimension, "unit");
    return joined(`${match.groups.sign === "-" ? "−" : ""}${number}`, row);
  }

  /**
   * The spelling under which a unit is looked up: "Ft. lbs." and "Ft-lbs" both give "Ft·lbs".
   *
   * @param {string} text
   */
  spelling(text) {
    let plain = strip(this.#characters(text)).replace(/ +per +| *\/ */g, "/").replaceAll("^", "");
    if (plain.startsWith("1/")) plain = plain.slice(1);
    return plain.replace(/[ ·.\-_]+/g, "·").replaceAll("·/", "/").replaceAll("/·", "/").replace(/^·+|·+$/g, "");
  }

  // Numbers as typed

  /**
   * Split what was typed into a sign and its (number, unit text) parts.
   *
   * @param {string} typed
   * @param {string} argument
   * @returns {[boolean, [Fraction, string][]]}
   */
  #parts(typed, argument) {
    if (RAISED_NUMBER.test(typed)) throw this.#notUnderstood(argument, typed, "no_number");
    const plain = strip(this.#characters(typed)).replace(ONE_PER, "/");
    if (NOT_FINITE.test(plain)) throw this.#notUnderstood(argument, typed, "not_finite");
    const body = /^[-+]/.test(plain) ? plain.slice(1) : plain;
    /** @type {[Fraction, string][]} */
    const parts = [];
    for (let at = 0; at < body.length; ) {
      PART.lastIndex = at;
      const match = PART.exec(body);
      if (match === null || !match.groups || match[0] === "") throw this.#notUnderstood(argument, typed, "no_number");
      parts.push([this.#number(match.groups.number, typed, argument), match.groups.unit]);
      at += match[0].length;
      while (body[at] === " ") at += 1;
    }
    if (!parts.length) throw this.#notUnderstood(argument, typed, "no_number");
    return [plain.startsWith("-"), parts];
  }

  /**
   * @param {string} text
   * @param {string} typed
   * @param {string} argument
   * @returns {Fraction}
   */
  #number(text, typed, argument) {
    if (text.includes("/")) {
      const match = FRACTION_PARTS.exec(text);
      const [whole, above, below] = match ? match.slice(1).map((part) => BigInt(part ?? 0)) : [0n, 0n, 0n];
      if (match === null || below === 0n || (match[1] && above >= below)) {
        throw this.#notUnderstood(argument, typed, "fraction");
      }
      return { n: whole * below + above, d: below };
    }
    const [mantissa, exponent = "0"] = text.replaceAll(" ", "").toLowerCase().split("e");
    const power = Number(exponent);
    if (Math.abs(power) > LARGEST_EXPONENT) throw new TradeProblem("out_of_range", argument, { typed, reason: "too_large" });
    const [whole, decimals = ""] = this.#plainDecimal(mantissa, typed, argument).split(".");
    const amount = { n: BigInt(whole + decimals), d: 10n ** BigInt(decimals.length) };
    return power < 0 ? { n: amount.n, d: amount.d * 10n ** BigInt(-power) } : times(amount, fraction(10n ** BigInt(power)));
  }

  /**
   * Give digits with a dot as the decimal mark, or refuse what can be read in two ways.
   *
   * @param {string} text
   * @param {string} typed
   * @param {string} argument
   */
  #plainDecimal(text, typed, argument) {
    if (/^[1-9][0-9]{0,2},[0-9]{3}$/.test(text)) {
      const [whole, decimals] = text.split(",");
      const ways = { either: `${whole}.${decimals}`, or_: `${whole}${decimals}` };
      throw this.#notUnderstood(argument, typed, "thousands_ambiguous", ways);
    }
    const dots = text.split(".").length - 1;
    const commas = text.split(",").length - 1;
    if (dots + commas <= 1) return text.replace(",", ".");
    if (dots && commas) {
      const mark = text.lastIndexOf(".") > text.lastIndexOf(",") ? "." : ",";
      const at = text.lastIndexOf(mark);
      const [whole, decimals] = [text.slice(0, at), text.slice(at + 1)];
      if (GROUPED.test(whole) && !whole.includes(mark) && /^[0-9]+$/.test(decimals)) {
        return `${whole.replace(/[.,]/g, "")}.${decimals}`;
      }
    } else if (GROUPED.test(text)) {
      return text.replace(/[.,]/g, "");
    }
    throw this.#notUnderstood(argument, typed, "no_number");
  }

  /** @param {string} text */
  #characters(text) {
    return Array.from(text, (one) => this.characters.get(one) ?? one).join("").replaceAll("''", '"');
  }

  // Units as typed

  /**
   * @param {string} unitText
   * @param {string} dimension
   * @param {string} defaultUnit
   * @param {string} typed
   * @param {string} argument
   * @param {boolean} alone
   */
  #unitTyped(unitText, dimension, defaultUnit, typed, argument, alone) {
    if (this.spelling(unitText)) return this.#lookUp(unitText, dimension, typed, argument);
    if (!alone) throw this.#notUnderstood(argument, typed, "compound");
    const fallback = defaultUnit || (dimension === "ratio" ? "1" : "");
    if (strip(unitText) || !fallback) {
      throw this.#notUnderstood(argument, typed, "unit_missing", { units: this.#firstSymbols(dimension) });
    }
    return this.#findUnit(fallback, dimension, argument);
  }

  /**
   * @param {string} unit
   * @param {string} dimension
   * @param {string} argument
   */
  #findUnit(unit, dimension, argument) {
    return this.#of(dimension).bySymbol.get(unit) ?? this.#lookUp(unit, dimension, unit, argument);
  }

  /**
   * @param {string} unitText
   * @param {string} dimension
   * @param {string} typed
   * @param {string} argument
   * @returns {Unit}
   */
  #lookUp(unitText, dimension, typed, argument) {
    const key = this.spelling(unitText);
    const of = this.#of(dimension);
    const found = inTable(key, of);
    if (found) return found;
    const units = of.refused.get(key.toLowerCase());
    if (units) throw this.#notUnderstood(argument, typed, "unit_ambiguous", { unit: strip(unitText), units });
    for (const [other, those] of this.table) {
      if (other !== dimension && inTable(key, those)) {
        throw new TradeProblem("wrong_dimension", argument, { typed, needed: dimension, got: other });
      }
    }
    throw this.#notUnderstood(argument, typed, "unit_unknown", { unit: key, units: this.#firstSymbols(dimension) });
  }

  /** @param {string} dimension */
  #of(dimension) {
    const of = this.table.get(dimension);
    if (of === undefined) throw new TypeError(`no dimension is called ${dimension}`);
    return of;
  }

  /** @param {string} dimension */
  #firstSymbols(dimension) {
    return this.unitSymbols(dimension).slice(0, 4).join(", ");
  }

  /**
   * @param {Fraction} value
   * @param {string} argument
   * @param {string} typed
   */
  #whole(value, argument, typed) {
    const whole = roundHalfEven(value);
    if (whole === 0n && value.n !== 0n) throw new TradeProblem("out_of_range", argument, { typed, reason: "too_small" });
    if ((whole < 0n ? -whole : whole) > this.largestValue) {
      throw new TradeProblem("out_of_range", argument, { typed, reason: "too_large" });
    }
    return Number(whole);
  }

  /**
   * @param {string} argument
   * @param {string} typed
   * @param {string} reason
   * @param {Record<string, string>} [details]
   */
  #notUnderstood(argument, typed, reason, details = {}) {
    const shown = Array.from(typed).slice(0, this.longestText).join("");
    return new TradeProblem("not_understood", argument, { typed: shown, reason, ...details });
  }

  /**
   * @param {any} data
   * @returns {UnitsOf}
   */
  #readDimension(data) {
    const bySymbol = new Map(data.units.map((/** @type {any} */ row) => [row.symbol, unitOf(row)]));
    const exact = new Map();
    const anyCase = new Map();
    for (const row of data.units) {
      const unit = bySymbol.get(row.symbol);
      for (const text of [row.symbol, ...row.aliases]) {
        const key = this.spelling(text);
        exact.set(key, unit);
        if (!row.case_matters && !anyCase.has(key.toLowerCase())) anyCase.set(key.toLowerCase(), unit);
      }
    }
    return { byDefault: data.default, bySymbol, exact, anyCase, refused: new Map(Object.entries(data.refused)) };
  }
}

/**
 * @param {any} row
 * @returns {Unit}
 */
const unitOf = (row) => ({
  symbol: row.symbol,
  factor: { n: BigInt(row.numerator), d: BigInt(row.denominator) },
  offset: { n: BigInt(row.offset_numerator ?? 0), d: BigInt(row.offset_denominator ?? 1) },
  places: row.places,
  digits: row.digits ?? null,
  spaced: !row.no_space,
});

/**
 * @param {string} key
 * @param {UnitsOf} of
 */
const inTable = (key, of) => of.exact.get(key) ?? of.anyCase.get(key.toLowerCase());

// Patterns: those of the office, in this language's writing -----------------------------------------------------------

const DECIMAL = "(?:[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?(?![0-9])|[0-9.,]*[0-9])(?:[eE][+-]?[0-9]+)?";
const FRACTION = "(?:[0-9]+(?: +| *- *))?[0-9]+ *\\/ *[0-9]+";
const NUMBER = `(?<number>${FRACTION}|${DECIMAL})`;
const PART = new RegExp(` *${NUMBER} *(?<unit>[^0-9]*?(?:\\^?[23](?![0-9]))?)(?= *[0-9]| *$)`, "uy");
const ONE_PART = new RegExp(`^ *(?<sign>[+-]?) *${NUMBER}(?![0-9/]) *(?<unit>[^0-9]*?(?:\\^?[23])?) *$`, "u");
const FRACTION_PARTS = /^(?:([0-9]+)(?: +| *- *))?([0-9]+) *\/ *([0-9]+)$/;
// Python's "i" also takes the i without a dot and the I with one; its words may end in any letter of any script.
const NOT_FINITE =
  /^[+-]?(?:(?:[nN][aA][nN]|[iIıİ][nN][fF](?:[iIıİ][nN][iIıİ][tT][yY])?)(?![\p{L}\p{N}_])|∞(?=[\p{L}\p{N}_]))[^\n]*$/u;
const GROUPED = /^[0-9]{1,3}(?:([.,])[0-9]{3})(?:\1[0-9]{3})*$/;
const RAISED_NUMBER = /[0-9] *[²³]/;
const ONE_PER = /(?<=[0-9] )1\/(?=[A-Za-z])/g; // the figure in "60 1/min" belongs to the unit
const LARGEST_EXPONENT = 15;

/**
 * Say whether a part may follow another in one amount: smaller, and less than one of the larger.
 *
 * @param {Unit} previous
 * @param {Unit} unit
 * @param {Fraction} number
 */
const mayFollow = (previous, unit, number) =>
  isLess(unit.factor, previous.factor) &&
  unit.offset.n === 0n &&
  previous.offset.n === 0n &&
  isLess(times(number, unit.factor), previous.factor);

// Rounding ------------------------------------------------------------------------------------------------------------

/**
 * @param {Fraction} amount
 * @param {Unit} row
 */
function placesFor(amount, row) {
  if (row.digits === null) return row.places;
  const whole = (amount.n < 0n ? -amount.n : amount.n) / amount.d;
  const figures = whole ? String(whole).length : 0;
  return Math.max(0, Math.min(row.places, row.digits - figures));
}

/**
 * Give an amount with that many decimals, half to even; never a minus before a zero.
 *
 * @param {Fraction} amount
 * @param {number} places
 */
function rounded(amount, places) {
  const scaled = roundHalfEven({ n: amount.n * 10n ** BigInt(places), d: amount.d });
  const digits = String(scaled < 0n ? -scaled : scaled).padStart(places + 1, "0");
  const sign = scaled < 0n ? "−" : "";
  const at = digits.length - places;
  return places ? `${sign}${digits.slice(0, at)}.${digits.slice(at)}` : `${sign}${digits}`;
}

/**
 * @param {string} number
 * @param {Unit} row
 */
function joined(number, row) {
  if (row.symbol === "1") return number;
  return row.spaced ? `${number} ${row.symbol}` : `${number}${row.symbol}`;
}

// Fractions -----------------------------------------------------------------------------------------------------------

/** @param {bigint} whole @returns {Fraction} */
const fraction = (whole) => ({ n: whole, d: 1n });

/** @param {Fraction} one @param {Fraction} other @returns {Fraction} */
const plus = (one, other) => ({ n: one.n * other.d + other.n * one.d, d: one.d * other.d });

/** @param {Fraction} one @param {Fraction} other @returns {Fraction} */
const times = (one, other) => ({ n: one.n * other.n, d: one.d * other.d });

/** @param {Fraction} one @param {Fraction} other */
const isLess = (one, other) => one.n * other.d < other.n * one.d;

/** @param {number|bigint} value in small units @param {Unit} row */
const amountOf = (value, { factor, offset }) =>
  times(plus(fraction(BigInt(value)), { n: -offset.n, d: offset.d }), { n: factor.d, d: factor.n });

/** @param {Fraction} value */
export function roundHalfEven({ n, d }) {
  const below = n >= 0n ? n / d : -((-n + d - 1n) / d);
  const twice = 2n * (n - below * d);
  if (twice === d) return below % 2n === 0n ? below : below + 1n;
  return twice > d ? below + 1n : below;
}
