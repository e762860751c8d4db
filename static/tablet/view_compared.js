// @ts-check
/**
 * What is measured at a step, drawn beside its fields: heights and alignment before and after, shims before and after.
 *
 * Twin of `app/domain/view_compared.py`.
 */
import { at, strip } from "./canonical.js";
import { comparedView, share, shimsPicture } from "./drawing_compared.js";
import { findingText } from "./findings.js";
import { stepNow } from "./sheet.js";
import { amount, encoded, wordOf } from "./view_parts.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Measure} Measure */
/** @typedef {import("./sheet.js").Taken} Taken */
/** @typedef {[Measure, Taken]|null} Read */
/** @typedef {import("./drawing_compared.js").Pair} Pair */

const HEIGHT = /^(?:height_)?((?:front|rear)_(?:left|right))$/;
const ANGLE = /^((?:camber|toe|caster)_(?:left|right))$/;
const PACK = "_pack";
const SIDES = ["left", "right"];
const MOST_PLATES = 20;
export const NOTHING = { shown: false, is_shims: false, is_heights: false, lines: [], proposals: [] };

/**
 * The drawing of what this step measures, or that there is none.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Packet} packet
 * @param {Step} step
 */
export function comparedHere(scene, packet, step) {
  /** @type {import("./drawing_compared.js").Word} */
  const word = (group, key) => wordOf(scene, group, key);
  const stacks = stacksOf(scene, packet, step);
  if (stacks.length) {
    const lines = stacks.map(([, line]) => line).filter(Boolean);
    return { ...NOTHING, shown: true, is_shims: true, shims: shimsPicture(stacks.map(([one]) => one), word), lines };
  }
  const heights = step.measures.some((one) => drawnAs(step, one, true));
  const read = heights || step.measures.some((one) => drawnAs(step, one, false)) ? readOf(scene, packet, step, heights) : [];
  const known = [...read];
  if (!known.length) return NOTHING;
  const pairs = new Map(known.map(([key, [before, after]]) => [key, pairOf(scene, before, after)]));
  const names = new Map(known.map(([key, [before, after]]) =>
    [key, /** @type {[Measure, Taken]} */ (after ?? before)[0].ask.split(", ground")[0]]));
  const view = comparedView(heights, pairs, names, word);
  const lines = heights ? sidesOf(scene, step, pairs) : [];
  return { ...NOTHING, shown: true, ...view, lines, proposals: heights ? [] : proposalsOf(scene, packet, step) };
}

/**
 * @param {Scene} scene
 * @param {Measure} measure
 * @param {Taken} taken
 */
export const takenText = (scene, measure, taken) =>
  strip(`${taken.text} ${taken.unit}`) || amount(scene.units, measure.dimension, taken.value, measure.unit);

/** Under which name a value is drawn; "" for one that is not. @param {Step} step @param {Measure} measure @param {boolean} heights */
function drawnAs(step, { id, dimension }, heights) {
  if (heights) return dimension === "length" ? HEIGHT.exec(id)?.[1] ?? "" : "";
  return dimension === "angle" && step.key.startsWith("alignment") ? ANGLE.exec(id)?.[1] ?? "" : "";
}

/**
 * By name what was read last before and after the work; heights of the whole vehicle, angles of this axle.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Packet} packet
 * @param {Step} here
 * @param {boolean} heights
 */
function readOf(scene, packet, here, heights) {
  /** @type {Map<string, [Read, Read]>} */
  const found = new Map();
  for (const step of packet.steps.filter((one) => heights || one.axle === here.axle)) {
    const { readings } = stepNow(scene.sheet, step.id);
    for (const measure of step.measures) {
      const key = drawnAs(step, measure, heights);
      const taken = at(readings, measure.id);
      if (!key || taken === undefined) continue;
      const [before, after] = found.get(key) ?? [null, null];
      found.set(key, step.line === "closing" ? [before, later(after, [measure, taken])] : [later(before, [measure, taken]), after]);
    }
  }
  return found;
}

/** @param {Read} one @param {[Measure, Taken]} other */
const later = (one, other) => (one !== null && one[1].mark.at_ms >= other[1].mark.at_ms ? one : other);

/** @param {Scene} scene @param {Read} before @param {Read} after @returns {Pair} */
const pairOf = (scene, before, after) => ({
  before: before ? before[1].value : null,
  after: after ? after[1].value : null,
  beforeText: before ? takenText(scene, ...before) : "",
  afterText: after ? takenText(scene, ...after) : "",
});

/**
 * How far left and right of each axle differ, before and after, and who says how far they may.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Map<string, Pair>} pairs
 */
function sidesOf(scene, step, pairs) {
  const unit = step.measures.find((one) => one.dimension === "length")?.unit ?? "mm";
  const lines = ["front", "rear"].flatMap((end) => {
    const [left, right] = [pairs.get(`${end}_left`), pairs.get(`${end}_right`)];
    if (left === undefined || right === undefined) return [];
    const before = differ(scene, left.before, right.before, unit);
    const after = differ(scene, left.after, right.after, unit);
    const how = before && after ? "both" : before ? "before" : after ? "after" : "";
    return how ? [scene.voice.say(`compared_sides.${how}`, { end: wordOf(scene, "compared", end), before, after })] : [];
  });
  return lines.length ? [...lines, scene.voice.say("compared_sides.limit", {})] : lines;
}

/** @param {Scene} scene @param {number|null} left @param {number|null} right @param {string} unit */
const differ = (scene, left, right, unit) =>
  left === null || right === null
    ? ""
    : findingText(scene.units, { key: "side", dimension: "length", value: BigInt(left) - BigInt(right), unit, madeFrom: [], signed: true });

// Shims ---------------------------------------------------------------------------------------------------------------

/**
 * For each side outside its window, the sum that finds shims for it, filled in as far as this sheet knows.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Packet} packet
 * @param {Step} here
 */
const proposalsOf = (scene, packet, here) =>
  SIDES.flatMap((side) => {
    const packs = packet.steps
      .filter((step) => step.axle === here.axle && step.corner === side)
      .flatMap((step) => step.measures.filter((one) => one.id.endsWith(PACK)).map((measure) => ({ step, measure })));
    const wanted = ["camber", "caster"].map((name) => ({ name, change: wantedAt(scene, here, `${name}_${side}`) }));
    if (!packs.length || !wanted.some(({ change }) => change)) return [];
    /** @param {number} change */
    const angle = (change) => amount(scene.units, "angle", change, "°");
    const asked = wanted.flatMap(({ name, change }) => (change === null ? [] : [[`want_${name}`, angle(change)]]));
    const known = packs.filter(({ step, measure }) => at(stepNow(scene.sheet, step.id).readings, measure.id));
    [...new Map(known.map((one) => [one.measure.id, one])).values()].forEach(({ step, measure }, row) => {
      const { plates = [] } = packOf(scene, step, measure) ?? {};
      if (!plates.length) return;
      const fields = [["bolt", measure.ask.split(",")[0]], ["thickness", amount(scene.units, "length", plates[0], measure.unit)], ["count", String(plates.length)]];
      asked.push(...fields.map(([name, text]) => [`fitted-${row + 1}-${name}`, text]));
    });
    const change = wanted.filter((one) => one.change).map((one) =>
      `${wordOf(scene, "measured_angle", one.name)} ${angle(/** @type {number} */ (one.change))}`).join(", ");
    return [{
      words: scene.voice.say("compared_shims.reckon", { side: wordOf(scene, "compared", side), change }),
      link: `/reckoner/shims?${asked.map(([name, text]) => `${name}=${encoded(text)}`).join("&")}`,
    }];
  });

/** How far a value has to go to the middle of its window. @param {Scene} scene @param {Step} step @param {string} name */
function wantedAt(scene, step, name) {
  const { low = null, high = null } = step.measures.find((one) => one.id === name) ?? {};
  const taken = at(stepNow(scene.sheet, step.id).readings, name);
  if (taken === undefined || low === null || high === null) return null;
  return low <= taken.value && taken.value <= high ? 0 : Math.floor((low + high) / 2) - taken.value;
}

/**
 * At each bolt whose pack this step measures: as it was found and as it is put back, and what that comes to.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Packet} packet
 * @param {Step} here
 */
const stacksOf = (scene, packet, here) =>
  here.measures.filter((one) => one.id.endsWith(PACK) && one.dimension === "length").flatMap((measure) => {
    const steps = packet.steps.filter((step) =>
      step.line === here.line && step.axle === here.axle && step.corner === here.corner && step.measures.some((one) => one.id === measure.id));
    const before = packOf(scene, steps[0], measure);
    const after = steps.length > 1 ? packOf(scene, steps[steps.length - 1], measure) : null;
    if (before === null && after === null) return [];
    const bolt = measure.ask.split(",")[0];
    let line = "";
    if (before !== null && after !== null) {
      const by = differ(scene, after.thick, before.thick, measure.unit);
      line = scene.voice.say(`compared_shims.${after.thick === before.thick ? "same" : "differs"}`, { bolt, by });
    }
    const stack = {
      bolt,
      before: before && before.plates,
      after: after && after.plates,
      beforeText: before ? before.text : "",
      afterText: after ? after.text : "",
    };
    return [/** @type {[import("./drawing_compared.js").Stack, string]} */ ([stack, line])];
  });

/**
 * The plates of a pack, its text and its thickness; `null` where it was not measured at this step.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Measure} measure
 */
function packOf(scene, step, measure) {
  const { readings } = stepNow(scene.sheet, step.id);
  const taken = at(readings, measure.id);
  const counted = at(readings, `${measure.id.slice(0, -PACK.length)}_count`);
  if (taken === undefined) return null;
  const thick = Math.max(0, taken.value);
  const number = counted === undefined ? 0 : share(Math.max(0, counted.value), 1, 1_000_000);
  const plates = number > 0 && number <= MOST_PLATES ? number : 1;
  const text = takenText(scene, measure, taken);
  return {
    plates: thick ? Array(plates).fill(share(thick, 1, plates)) : [],
    text: thick ? (number > 1 ? scene.voice.say("compared_shims.several", { pack: text, number }) : text) : "",
    thick: taken.value,
  };
}
