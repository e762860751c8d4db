// @ts-check
/**
 * Drawings that put before beside after: heights at four corners, an axle's alignment, shims. Whole numbers only.
 *
 * Twin of `app/domain/drawing_compared.py`: a tablet makes these itself, since what was read is not known beforehand.
 */

/** @typedef {(group: string, key: string) => string} Word */
/** @typedef {{before: number|null, after: number|null, beforeText: string, afterText: string}} Pair */
/** @typedef {{bolt: string, before: number[]|null, after: number[]|null, beforeText: string, afterText: string}} Stack */

const MOST_MDEG = 20_000;
/** @type {[string, number, number][]} */
const CORNERS = [["front_left", 20, 20], ["front_right", 420, 20], ["rear_left", 20, 190], ["rear_right", 420, 190]];
const SIDES = ["left", "right"];
const LABELS = ["front_left", "front_right", "rear_left", "rear_right", "left", "right", "before", "after", "camber", "toe", "caster"];

/** a times b divided by c, of what is not negative, down to a whole number. @param {number|bigint} a @param {number} b @param {number|bigint} c */
export const share = (a, b, c) => Number((BigInt(a) * BigInt(b)) / BigInt(c));

/** @param {Map<string, Pair>} pairs @param {Record<string, string>} label */
function heightsPicture(pairs, label) {
  const values = [...pairs.values()].flatMap(({ before, after }) => [before, after]).filter((one) => one !== null);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  /** @param {number|null} value @param {string} text @param {number} x @param {number} base */
  const ofTime = (value, text, x, base) => {
    const bar = value === null ? 0 : 26 + (high > low ? share(BigInt(value) - BigInt(low), 54, BigInt(high) - BigInt(low)) : 27);
    return { shown: bar > 0, text_x: x, x: x + 14, y: base - bar, high: bar, text };
  };
  return {
    view_box: "0 0 640 340",
    corners: CORNERS.flatMap(([key, x, y]) => {
      const pair = pairs.get(key);
      return pair === undefined ? [] : [{
        key,
        name: label[key],
        x,
        y,
        base: y + 100,
        end_x: x + 200,
        label_y: y + 119,
        text_y: y + 137,
        before: ofTime(pair.before, pair.beforeText, x, y + 100),
        after: ofTime(pair.after, pair.afterText, x + 108, y + 100),
      }];
    }),
  };
}

/** @param {Map<string, Pair>} pairs @param {Record<string, string>} label */
const alignmentPicture = (pairs, label) => ({
  view_box: "0 0 640 400",
  camber: SIDES.map((side) => wheel(pairs.get(`camber_${side}`), side, label, true)),
  toe: SIDES.map((side) => wheel(pairs.get(`toe_${side}`), side, label, false)),
  caster: SIDES.map((side) => texts(pairs.get(`caster_${side}`), side, label)),
  has_caster: SIDES.some((side) => pairs.has(`caster_${side}`)),
});

/** @param {boolean} heights @param {Map<string, Pair>} pairs @param {Map<string, string>} names @param {Word} word */
export function comparedView(heights, pairs, names, word) {
  const [none, before, after] = ["none", "before", "after"].map((key) => word("compared", key));
  const label = labelsOf(word);
  const words = [...pairs].map(([key, { beforeText, afterText }]) =>
    `${names.get(key)}: ${beforeText || none} ${before}, ${afterText || none} ${after}`);
  return {
    is_heights: heights,
    picture: heights ? heightsPicture(pairs, label) : alignmentPicture(pairs, label),
    label,
    words: words.join(". "),
  };
}

/** @param {Word} word @returns {Record<string, string>} */
const labelsOf = (word) => ({
  ...Object.fromEntries(LABELS.map((key) => [key, capital(word("compared", key))])),
  to: word("compared", "to"),
});

/** @param {string} words */
const capital = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);

/** @param {Pair|undefined} pair @param {string} side @param {Record<string, string>} label @param {boolean} outward */
const wheel = (pair, side, label, outward) => ({
  ...texts(pair, side, label),
  before_turn: turn(pair?.before ?? 0, side, outward),
  after_turn: turn(pair?.after ?? 0, side, outward),
  has_before: (pair?.before ?? null) !== null,
  has_after: (pair?.after ?? null) !== null,
});

/** @param {Pair|undefined} pair @param {string} side @param {Record<string, string>} label */
function texts(pair, side, label) {
  const x = side === "left" ? 150 : 490;
  return { side, name: label[side], x, edge_x: x - 17, before_text: pair?.beforeText || "–", after_text: pair?.afterText || "–" };
}

/** How far a wheel is turned on the drawing, ten times as far as it is. @param {number} mdeg @param {string} side @param {boolean} outward */
function turn(mdeg, side, outward) {
  const shown = Math.max(-MOST_MDEG, Math.min(MOST_MDEG, mdeg * 10));
  const clockwise = (side === "right") === outward ? shown : -shown;
  const size = Math.abs(clockwise);
  return `${clockwise < 0 ? "-" : ""}${Math.floor(size / 1000)}.${String(size % 1000).padStart(3, "0")}`;
}

/** @param {Stack[]} stacks @param {Word} word */
export function shimsPicture(stacks, word) {
  const highest = Math.max(0, ...stacks.flatMap(({ before, after }) => [before, after]).map((one) => (one ?? []).reduce((sum, thick) => sum + thick, 0)));
  /** @param {number[]|null} plates @param {number} y @param {string} text @param {string} when */
  const row = (plates, y, text, when) => {
    if (plates === null) return [];
    let x = 44;
    const drawn = [...plates].sort((one, other) => other - one).map((thick) => {
      const plate = { x, wide: Math.max(5, share(thick, 150, highest)) };
      x += plate.wide;
      return plate;
    });
    const words = `${capital(word("compared", when))}: ${text || word("compared", "no_shims")}`;
    return [{ y, plates: drawn, shaft_x: x, shaft_y: y + 4, words_y: y + 22, is_after: when === "after", words, high: 32 }];
  };
  const shown = stacks.map(({ bolt, before, after, beforeText, afterText }, nth) => ({
    bolt,
    y: nth * 116 + 22,
    rows: [...row(before, nth * 116 + 34, beforeText, "before"), ...row(after, nth * 116 + 76, afterText, "after")],
  }));
  const words = shown.map((one) => `${one.bolt}: ${one.rows.map((each) => each.words).join("; ")}.`).join(" ");
  return { stacks: shown, view_box: `0 0 480 ${stacks.length * 116 + 12}`, words };
}
