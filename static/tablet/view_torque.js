// @ts-check
/**
 * A fastener on the card: its figure and where it came from, the wrench, the setting with an extension, the readings.
 *
 * Twin of `app/domain/view_torque.py`: the same names in the same order. Nothing here decides whether a sign-off counts;
 * the same questions the rules ask are asked to show what would.
 */
import { at, strip } from "./canonical.js";
import { dateWords } from "./dates.js";
import { indexOf } from "./packet.js";
import { wrenchUnfit } from "./questions.js";
import { cosine } from "./rule_table.js";
import { openHold, stepNow } from "./sheet.js";
import { askedGates, gateState, isCritical, isOneTime, supported } from "./standing.js";
import { floorDiv, settingFor } from "./torque.js";
import { TradeProblem, roundHalfEven } from "./units.js";
import { barView, limitText, showTenths } from "./view_bar.js";
import { unitsFor } from "./view_gate.js";
import { addressOf, fieldView, formView, markView, may, stepAddress, wordOf } from "./view_parts.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./view_parts.js").View} View */
/** @typedef {import("./units.js").Units} Units */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Stage} Stage */
/** @typedef {import("./packet.js").Figure} Figure */
/** @typedef {import("./packet.js").Wrench} Wrench */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./entry.js").Extension} Extension */
/** @typedef {import("./sheet.js").Signature} Signature */

/**
 * One fastener. `openHere`: the step can be worked on by this person now.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {{openHere: boolean}} choice
 * @returns {View}
 */
export function fastenerView(scene, step, fastener, { openHere }) {
  const now = stepNow(scene.sheet, step.id);
  const signed = at(now.signatures, fastener.id) ?? null;
  const counter = at(now.counters, fastener.id) ?? null;
  const mode = modeOf(scene, step, fastener, openHere);
  const signs = mode === "sign" || mode === "second";
  const hand = signs ? inHand(scene, step, fastener, mode) : null;
  const key = formKey(scene, mode, fastener);
  const { figure } = fastener;
  return {
    id: fastener.id,
    anchor: anchorOf(fastener),
    place: fastener.place,
    pass_words: wordOf(scene, "pass", fastener.tighten),
    thread: fastener.thread || (figure ? figure.thread : ""),
    strength: fastener.strength || (figure ? figure.strength : ""),
    lubrication: fastener.lubrication || (figure ? figure.lubrication : ""),
    castellated: fastener.castellated,
    critical: isCritical(fastener) && fastener.tighten === "final",
    new_part: isOneTime(fastener),
    load_words: fastener.load_states.map((state) => wordOf(scene, "support", state)).join(" or "),
    figure: figureView(scene, figure),
    mode,
    signed: signatureView(scene, fastener, signed),
    counter: signatureView(scene, fastener, counter),
    waits_for_second: signed !== null && counter === null && isCritical(fastener) && !isSnug(fastener),
    wrench_chosen: hand !== null,
    hand: hand ?? {},
    wrenches: signs && hand === null ? wrenchesView(scene, step, fastener) : {},
    form: formView(scene, key, mode === "second" ? "countersigned" : "signed_off", [
      ["step", step.id],
      ["basis_step", step.revision],
      ["fastener", fastener.id],
    ]),
    new_field: fieldView(scene, key, "new_part", scene.voice.say("shown.new_part", { part: fastener.place })),
  };
}

/** @param {Fastener} fastener */
const anchorOf = (fastener) => `fastener-${fastener.id}`;

/**
 * The form's name on the page. The wrench is part of it: what one wrench read is never taken for another's.
 *
 * @param {Scene} scene
 * @param {string} mode
 * @param {Fastener} fastener
 */
function formKey({ look }, mode, fastener) {
  const wrench = look.fastener === fastener.id ? look.wrench : "";
  return [mode === "second" ? "second" : "sign", fastener.id, wrench].filter(Boolean).join("-");
}

/** @param {Fastener} fastener */
const isSnug = (fastener) => fastener.tighten === "snug";

/**
 * What can be done here now: sign, second, or shown only.
 *
 * snug: draw up. sign, second: a first or second reading. other_person: the second has to come from someone else.
 * no_figure, not_compared: nothing can be signed. load: the vehicle is not held right for this pass. gate: how it is
 * held has to be checked again first. rest: look only.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {boolean} openHere
 */
function modeOf(scene, step, fastener, openHere) {
  const signed = at(stepNow(scene.sheet, step.id).signatures, fastener.id);
  if (signed !== undefined) return secondMode(scene, step, fastener, signed);
  if (!isSnug(fastener)) {
    if (fastener.figure === null) return "no_figure";
    if (!fastener.figure.verified) return "not_compared";
  }
  if (!openHere || !may(scene, "signed_off")) return "rest";
  if (!supported(scene.sheet.support, step.axle, fastener.load_states)) return "load";
  return isSnug(fastener) ? "snug" : "sign";
}

/**
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {Signature} signed
 */
function secondMode(scene, step, fastener, signed) {
  const { sheet, viewer } = scene;
  const countered = at(stepNow(sheet, step.id).counters, fastener.id) !== undefined;
  if (isSnug(fastener) || !isCritical(fastener) || countered) return "signed";
  if (signed.mark.person === viewer.person) return "other_person";
  if (!may(scene, "countersigned") || openHold(sheet, step.id) !== undefined) return "rest";
  if (!supported(sheet.support, step.axle, fastener.load_states)) return "load";
  return gatesForSecond(scene, step).length ? "gate" : "second";
}

/**
 * The gates about how the vehicle is held that have to stand open, answered by anyone, before a second reading.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
export const gatesForSecond = ({ sheet, now_ms }, step) =>
  askedGates(sheet, step).filter((gate) => gate.follows_support && gateState(sheet, gate.id, null, now_ms) !== null);

/**
 * The figure with its source. One that nobody has compared yet shows its source alone: the second person reads the
 * source without having seen what the first one typed.
 *
 * @param {Scene} scene
 * @param {Figure|null} figure
 */
function figureView({ units, voice }, figure) {
  if (figure === null) return { shown: false, compared: false, text: "", source: "", stages: [] };
  if (!figure.verified) return { shown: true, compared: false, text: "", source: figure.source, stages: [] };
  const staged = figure.stages.length > 1;
  return {
    shown: true,
    compared: true,
    text: figure.text,
    source: figure.source,
    stages: figure.stages.map((stage, place) => ({
      name: staged ? voice.say("shown.stage", { number: place + 1 }) : "",
      text: staged ? stage.text : "",
      bar: stageBar(units, figure, stage, null, ""),
    })),
  };
}

/**
 * The window of one stage, with the value that was reached at the fastener if there is one.
 *
 * @param {Units} units
 * @param {Figure} figure
 * @param {Stage} stage
 * @param {number|null} value
 * @param {string} text
 */
export function stageBar(units, figure, stage, value, text) {
  const choice = { reading: value, readingText: text };
  if (stage.target_mdeg !== null) {
    return barView(units, "angle", "°", stage.low_mdeg, stage.high_mdeg, { ...choice, target: stage.target_mdeg });
  }
  return barView(units, "torque", figure.unit, stage.low_mnm, stage.high_mnm, { ...choice, target: stage.target_mnm });
}

/**
 * @param {Scene} scene
 * @param {Fastener} fastener
 * @param {Signature|null} signature
 * @returns {View}
 */
function signatureView(scene, fastener, signature) {
  const mark = markView(scene, signature !== null ? signature.mark : null);
  if (signature === null) return { ...mark, words: "", wrench: "", extension: "", bars: [], new_part: false };
  const { figure } = fastener;
  const { texts, values, extension_um: length, extension_deg: angle } = signature;
  const stages = figure !== null ? figure.stages.slice(0, Math.min(values.length, texts.length)) : [];
  return {
    ...mark,
    words: texts.join(", ") || wordOf(scene, "pass_done", signature.tighten),
    wrench: signature.wrench,
    extension: length ? scene.voice.say("shown.at_angle", { length: lengthText(scene.units, length), angle }) : "",
    // With an extension the reading is not what the joint got: the bar shows the joint.
    bars: stages.map((stage, place) =>
      stageBar(scene.units, /** @type {Figure} */ (figure), stage, values[place], length ? "" : texts[place]),
    ),
    new_part: signature.new_part,
  };
}

/** @param {Units} units @param {number} length */
const lengthText = (units, length) => limitText(units, "length", length, "mm", { up: true });

// The wrench ----------------------------------------------------------------------------------------------------------

/**
 * The packet's wrenches: those that may be used for this figure, and the others with the reason.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 */
function wrenchesView(scene, step, fastener) {
  const { packet } = scene.sheet;
  /** @type {View[]} */
  const fit = [];
  /** @type {View[]} */
  const unfit = [];
  for (const wrench of packet ? packet.wrenches : []) {
    const why = unfitFor(scene, step, fastener, wrench, null);
    (why !== null ? unfit : fit).push({
      tag: wrench.tag,
      name: wrench.name,
      reach: rangeWords(scene, wrench),
      due: dateWords(wrench.due_on, scene.voice.word),
      link: `${stepAddress(scene, step.id, { at: fastener.id, wrench: wrench.tag })}#${anchorOf(fastener)}`,
      why: why !== null ? unfitWords(scene, wrench, why) : "",
    });
  }
  return {
    fit,
    none_fits: fit.length === 0,
    unfit,
    some_unfit: unfit.length > 0,
    need: needWords(scene, fastener.figure),
  };
}

/**
 * Why the rules would not take this wrench at this figure, or `null`: asked with the reading it should give.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {Wrench} wrench
 * @param {Extension|null} extension
 */
function unfitFor(scene, step, fastener, wrench, extension) {
  const readings = (fastener.figure !== null ? fastener.figure.stages : []).map((stage) => ({
    value: (stage.target_mdeg ?? atWrench(scene, middle(stage), wrench, extension)) || 0,
    text: "",
    unit: wrench.unit,
  }));
  const body = { step: step.id, fastener: fastener.id, readings, wrench: wrench.tag, extension, new_part: false };
  return wrenchUnfit(wrench, fastener, body, scene.now_ms);
}

/**
 * What a stage aims at: its target, or the middle of its window.
 *
 * @param {Stage} stage
 */
function middle({ low_mnm: low, target_mnm: target, high_mnm: high }) {
  if (target !== null || low === null || high === null) return target;
  return Number(floorDiv(BigInt(low) + BigInt(high), 2n));
}

/**
 * What the wrench has to read for this torque at the fastener.
 *
 * @param {Scene} scene
 * @param {number|null} torque
 * @param {Wrench} wrench
 * @param {Extension|null} extension
 */
function atWrench(scene, torque, wrench, extension) {
  if (torque === null || extension === null || !wrench.length_um) return torque;
  return settingFor(torque, wrench.length_um, extension.length_um, cosine(scene.table, extension.angle_deg));
}

/** @param {Scene} scene @param {Wrench} wrench */
const rangeWords = ({ units, voice }, { low_mnm: low, high_mnm: high, unit }) =>
  voice.say("shown.range", { low: torqueText(units, low, unit, true), high: torqueText(units, high, unit, false) });

/** @param {Units} units @param {number} value @param {string} unit @param {boolean} up */
const torqueText = (units, value, unit, up) => limitText(units, "torque", value, unit, { up });

/** @param {Scene} scene @param {Wrench} wrench @param {string} why */
const unfitWords = (scene, wrench, why) =>
  scene.voice.say(`wrench_unfit.${why}`, {
    tag: wrench.tag,
    due: dateWords(wrench.due_on, scene.voice.word),
    reach: rangeWords(scene, wrench),
    fault: wrench.fault,
  });

/** @param {Scene} scene @param {Figure|null} figure */
function needWords({ units, voice }, figure) {
  const torques = figure !== null ? figure.stages.map(middle).filter((one) => one !== null) : [];
  if (figure === null || !torques.length) return "";
  const [low, high] = [Math.min(...torques), Math.max(...torques)].map((one) => torqueText(units, one, figure.unit, true));
  return low === high ? low : voice.say("shown.both", { low, high });
}

// The wrench in hand --------------------------------------------------------------------------------------------------

/**
 * The wrench chosen for this fastener with what is put on it, and the fields for what it reads.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {string} mode
 * @returns {View|null}
 */
function inHand(scene, step, fastener, mode) {
  const { look, units } = scene;
  const { packet } = scene.sheet;
  const wrench = packet && look.fastener === fastener.id ? indexOf(packet).wrenches.get(look.wrench) : undefined;
  const { figure } = fastener;
  if (wrench === undefined || figure === null) return null;
  const [extension, trouble] = extensionOf(units, look.extension, look.angle);
  const why = trouble ? null : unfitFor(scene, step, fastener, wrench, extension);
  const words = trouble ? scene.voice.say(trouble, {}) : why !== null ? unfitWords(scene, wrench, why) : "";
  const staged = figure.stages.length > 1;
  return {
    tag: wrench.tag,
    name: wrench.name,
    unit: wrench.unit,
    reach: rangeWords(scene, wrench),
    due: dateWords(wrench.due_on, scene.voice.word),
    usable: !words,
    trouble: words,
    another: `${stepAddress(scene, step.id, { at: fastener.id })}#${anchorOf(fastener)}`,
    extended: look.extension !== "",
    extension: look.extension,
    angle: look.angle || "0",
    setting: extension !== null && !words ? setting(scene, figure, wrench, extension) : {},
    set: figure.stages
      .map((stage, place) => ({
        name: staged ? `${scene.voice.say("shown.stage", { number: place + 1 })}: ` : "",
        text: words ? "" : setWords(scene, stage, wrench, extension),
        window: words ? "" : windowWords(scene, stage, wrench, extension, figure),
      }))
      .filter((one) => one.text),
    extension_form: {
      action: `${addressOf(scene)}#${anchorOf(fastener)}`,
      hidden: hidden([["step", step.id], ["at", fastener.id], ["wrench", wrench.tag]]),
      length: lookField(scene, fastener, "extension", scene.voice.word("ask.length"), look.extension, "mm"),
      angle: lookField(scene, fastener, "angle", scene.voice.word("ask.angle"), look.angle, "°"),
    },
    hidden: hidden([
      ["wrench", wrench.tag],
      ["extension", look.extension],
      ["angle", look.extension ? look.angle : ""],
    ]),
    readings: figure.stages.map((stage, place) =>
      readingField(scene, formKey(scene, mode, fastener), place, stage, wrench, staged),
    ),
  };
}

/** @param {[string, string][]} fields */
const hidden = (fields) => fields.map(([name, value]) => ({ name, value }));

/**
 * A field of the form that only asks for another look: it shows what it was last asked with.
 *
 * @param {Scene} scene
 * @param {Fastener} fastener
 * @param {string} name
 * @param {string} label
 * @param {string} typed
 * @param {string} unit
 */
function lookField(scene, fastener, name, label, typed, unit) {
  const units = unit === "mm" ? unitsFor("length", unit) : [unit];
  return { ...fieldView(scene, `on-${fastener.id}`, name, label, { unit, units }), typed };
}

/**
 * The extension as typed (length in mm where no unit is given), or a code for what is not right about it.
 *
 * @param {Units} units
 * @param {string} length
 * @param {string} angle
 * @returns {[Extension|null, ""|"extension_length"|"extension_angle"]}
 */
export function extensionOf(units, length, angle) {
  if (!length) return [null, ""];
  let um;
  try {
    um = Number(units.parseQuantity(length, "length", { defaultUnit: "mm" }).value);
  } catch (problem) {
    if (!(problem instanceof TradeProblem)) throw problem;
    return [null, "extension_length"];
  }
  const degrees = strip(strip(angle).replace(/°$/, "")) || "0";
  if (!/^\d{1,3}$/.test(degrees) || Number(degrees) > 180) return [null, "extension_angle"];
  if (!(um > 0 && um <= 2_000_000)) return [null, "extension_length"];
  return [{ length_um: um, angle_deg: Number(degrees) }, ""];
}

/**
 * What to set, in the wrench's own unit; a turn in its own words.
 *
 * @param {Scene} scene
 * @param {Stage} stage
 * @param {Wrench} wrench
 * @param {Extension|null} extension
 */
function setWords(scene, stage, wrench, extension) {
  if (stage.target_mdeg !== null) return stage.text;
  const value = atWrench(scene, middle(stage), wrench, extension);
  return value !== null ? settingText(scene.units, value, wrench.unit) : "";
}

/**
 * Between what the wrench has to read, in its own unit; "" where the figure's own window is that already.
 *
 * @param {Scene} scene
 * @param {Stage} stage
 * @param {Wrench} wrench
 * @param {Extension|null} extension
 * @param {Figure} figure
 */
function windowWords(scene, stage, wrench, extension, figure) {
  if (stage.target_mdeg !== null || (extension === null && wrench.unit === figure.unit)) return "";
  const [low, high] = [stage.low_mnm, stage.high_mnm].map((one) => atWrench(scene, one, wrench, extension));
  if (low === null || high === null) return "";
  /** @param {number} value @param {boolean} up */
  const end = (value, up) => limitText(scene.units, "torque", value, wrench.unit, { up, most: 1 });
  return scene.voice.say("shown.range", { low: end(low, true), high: end(high, false) });
}

/**
 * What to set on a scale: to a tenth, which is finer than any scale is drawn.
 *
 * @param {Units} units
 * @param {number} value
 * @param {string} unit
 */
export function settingText(units, value, unit) {
  const { n, d } = units.amountIn(value, "torque", unit);
  return showTenths(units, roundHalfEven({ n: 10n * n, d }), "torque", unit);
}

/**
 * The sum for an extension, shown with its inputs.
 *
 * @param {Scene} scene
 * @param {Figure} figure
 * @param {Wrench} wrench
 * @param {Extension} extension
 */
function setting(scene, figure, wrench, extension) {
  const first = figure.stages.find((stage) => stage.target_mdeg === null);
  if (first === undefined || !wrench.length_um) return { shown: false, sum: "" };
  const { units } = scene;
  const target = atWrench(scene, middle(first), wrench, extension);
  const [arm, out] = [wrench.length_um, extension.length_um].map((one) => lengthText(units, one));
  const turned = extension.angle_deg ? ` × cos ${extension.angle_deg}°` : "";
  const wanted = torqueText(units, middle(first) ?? 0, figure.unit, true);
  return {
    shown: target !== null,
    sum: `${wanted} × ${arm} / (${arm} + ${out}${turned}) = ${settingText(units, target ?? 0, wrench.unit)}`,
  };
}

/**
 * @param {Scene} scene
 * @param {string} form
 * @param {number} place
 * @param {Stage} stage
 * @param {Wrench} wrench
 * @param {boolean} staged
 */
function readingField(scene, form, place, stage, wrench, staged) {
  const before = staged ? `${scene.voice.say("shown.stage", { number: place + 1 })}: ` : "";
  const turned = stage.target_mdeg !== null;
  const label = before + (turned ? scene.voice.word("ask.turned") : scene.voice.say("shown.reads", { wrench: wrench.tag }));
  const choice = turned ? { unit: "°", units: ["°"] } : { unit: wrench.unit };
  return fieldView(scene, form, `reading.${place}`, label, choice);
}
