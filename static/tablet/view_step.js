// @ts-check
/**
 * One step of a sheet: folded to a line, or in hand as the card with everything that is asked of it.
 *
 * Twin of `app/domain/view_step.py`: the same names in the same order, ids drawn in the same order.
 */
import { at, strip } from "./canonical.js";
import { findingText, findings } from "./findings.js";
import { VERDICTS, indexOf } from "./packet.js";
import { inOrder, openHold, stepNow } from "./sheet.js";
import {
  askedGates,
  isCritical,
  missingParts,
  readingsOutside,
  supported,
  priceBars,
  waitsFor,
  waitsForSecond,
} from "./standing.js";
import { barView } from "./view_bar.js";
import { NOTHING, comparedHere, takenText } from "./view_compared.js";
import { gateView, reckonedView, standingOf, unitsFor } from "./view_gate.js";
import { choiceView, fieldView, formView, markView, may, stepAddress, whereOf, wordOf } from "./view_parts.js";
import { photoForm, photosView } from "./view_photo.js";
import { fastenerView, gatesForSecond, stageBar } from "./view_torque.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./view_parts.js").View} View */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Measure} Measure */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Trial} Trial */
/** @typedef {import("./sheet.js").StepNow} StepNow */
/** @typedef {import("./sheet.js").Taken} Taken */
/** @typedef {import("./sheet.js").Aside} Aside */
/** @typedef {import("./sheet.js").Hold} Hold */
/** @typedef {import("./sheet.js").Note} Note */

// A step as a line ----------------------------------------------------------------------------------------------------

/**
 * A step folded to a line: what it is, how far it is, and once done the value, the name and the time.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {number} number
 * @param {string} hand
 * @returns {View}
 */
export function rowView(scene, step, number, hand) {
  const now = stepNow(scene.sheet, step.id);
  const { done } = now;
  const photos = photosView(scene, now.notes);
  return {
    id: step.id,
    number: String(number),
    name: step.title,
    place: placeWords(scene, step),
    mark: markOf(scene, step),
    link: linkTo(scene, step.id),
    is_hand: step.id === hand,
    is_done: done !== null,
    begun: done === null && (isAny(now.readings) || isAny(now.signatures) || now.outcome !== null),
    values_words: valuesWords(scene, step, now),
    by: done ? done.name : "",
    at: done ? scene.voice.when(done.at_ms) : "",
    where: done ? whereOf(scene, done.entry) : "",
    waits_for_second: waitsForSecond(scene.sheet, step).length > 0,
    reopened: done === null && now.reopened.length > 0,
    photos,
    photos_shown: photos.length > 0,
  };
}

/** @param {Scene} scene @param {string} stepId */
const linkTo = (scene, stepId) => `${stepAddress(scene, stepId)}#in-hand`;

/** @param {object} object */
const isAny = (object) => Object.keys(object).length > 0;

/**
 * The castle nut of a step: empty, open, shut, held, done, signed.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
function markOf(scene, step) {
  const { sheet } = scene;
  const now = stepNow(sheet, step.id);
  if (hanging(scene, step.id).length) return "held";
  if (now.done !== null) {
    const secured = step.countersign || step.fasteners.some((one) => one.tighten === "final");
    return secured && !waitsForSecond(sheet, step).length ? "signed" : "done";
  }
  if (waitsFor(sheet, step) !== null) return "empty";
  if (openHold(sheet, "") !== undefined) return "held";
  if (priceBars(sheet, step) !== null) return "shut";
  return askedGates(sheet, step).some((gate) => standingOf(scene, gate) !== null) ? "shut" : "open";
}

/** @param {Scene} scene @param {Step} step */
function placeWords(scene, step) {
  if (["left", "right"].includes(step.corner) && step.axle !== "both") {
    return wordOf(scene, "corner", `${step.axle}_${step.corner}`);
  }
  return step.corner ? wordOf(scene, "corner", step.corner) : wordOf(scene, "axle", step.axle);
}

/**
 * What was recorded, in few words: readings, verdict, torques.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 */
function valuesWords(scene, step, now) {
  const words = step.measures.flatMap((measure) => {
    const taken = at(now.readings, measure.id);
    return taken ? [takenText(scene, measure, taken)] : [];
  });
  if (now.outcome !== null) {
    const asked = step.trial !== null && isQuestion(step.trial);
    words.push(asked ? saw(step.trial, now) : wordOf(scene, "verdict", now.outcome.verdict));
  }
  for (const one of step.fasteners) {
    const signature = at(now.signatures, one.id);
    if (signature) words.push(signature.texts.join(", ") || wordOf(scene, "pass_done", signature.tighten));
  }
  return words.join(" · ");
}

// The step in hand ----------------------------------------------------------------------------------------------------

/**
 * The card in hand. Its text is readable, and its fields are there, only where every gate stands open.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {number} number
 * @returns {View}
 */
export function handView(scene, step, number) {
  const { sheet } = scene;
  const now = stepNow(sheet, step.id);
  const gates = askedGates(sheet, step);
  const done = now.done !== null;
  const first = waitsFor(sheet, step);
  const right = supported(sheet.support, step.axle, step.supports);
  const waiting = waitsForSecond(sheet, step);
  const second = step.fasteners.some((one) => at(now.signatures, one.id) && waiting.includes(one.place));
  const notOpen = gates.filter((gate) => standingOf(scene, gate) !== null);
  const shut = !done ? notOpen : second ? gatesForSecond(scene, step) : [];
  const bars = done ? null : priceBars(sheet, step);
  const mayBegin = first === null && openHold(sheet, step.id) === undefined && right && bars === null;
  const openHere = mayBegin && !done && !shut.length && may(scene, "step_done");
  const asking = mayBegin && shut.length ? shut[0].id : "";
  const photos = photosView(scene, now.notes);
  const missing = [
    ...missingParts(sheet, step, step.one_time.map((one) => one.id)),
    ...readingsOutside(sheet, step.id).map((typed) => ["reading_inside", typed]),
  ];
  return {
    shown: true,
    id: step.id,
    number: String(number),
    name: step.title,
    place: placeWords(scene, step),
    mark: markOf(scene, step),
    is_done: done,
    done: markView(scene, now.done),
    readable: done || !shut.length,
    open_here: openHere,
    tags: tagsView(scene, step.id),
    waits: waits(scene, done ? null : first),
    price: priceView(scene, bars),
    held_wrong: heldWrong(scene, step, !done && first === null && !right),
    barriers: shut.map((gate) => gateView(scene, gate, step, { asked: gate.id === asking })),
    cleared: gates
      .filter((gate) => !shut.includes(gate) && !done)
      .map((gate) => gateView(scene, gate, step, { asked: false })),
    gate_hold: shut.length ? holdForm(scene, step.id, "gate-hold") : {},
    instructions: step.do.split("\n").filter(strip),
    why: step.why,
    caution: step.caution,
    reckoned: step.reckoned.map((one) => reckonedView(one.label, one.text, one.inputs, one.certainty)),
    tools: step.tools,
    tools_shown: step.tools.length > 0,
    photo: step.photo,
    measures: measuresView(scene, step, now, openHere),
    trial: step.trial !== null ? trialView(scene, step, step.trial, now, openHere) : { shown: false },
    fasteners: step.fasteners.map((one) => fastenerHere(scene, step, one, openHere)),
    asides: inOrder(sheet.asides)
      .filter(([, one]) => isShownApart(one, step))
      .map(([key, one]) => asideView(scene, key, one)),
    new_parts: step.one_time.filter((one) => now.new_parts.includes(one.id)).map((one) => one.what),
    finish: finish(scene, step, now, openHere, missing),
    second: secondLook(scene, step, now),
    reopen: reopen(scene, step, now),
    reopened: now.reopened.map((one) => noteView(scene, one)),
    notes: now.notes.filter((one) => !one.photo).map((one) => noteView(scene, one)),
    photos,
    photos_shown: photos.length > 0,
    note: noteForm(scene, step.id),
    photo_form: photoForm(scene, step.id),
    hold: holdForm(scene, step.id, "step-hold"),
  };
}

/** @param {Aside} one @param {Step} step */
const isOfStep = (one, step) => one.settled === null && one.step === step.id;

/**
 * What was set aside at this step, but for readings outside: those stand at their joint.
 *
 * @param {Aside} one
 * @param {Step} step
 */
const isShownApart = (one, step) =>
  isOfStep(one, step) && !step.fasteners.some((fastener) => isReadOutside(one, step, fastener));

/** @param {Scene} scene @param {Step|null} first */
function waits(scene, first) {
  if (first === null) return { shown: false, name: "", link: "" };
  return { shown: true, name: first.title, link: linkTo(scene, first.id) };
}

/**
 * Why the price of the line keeps this step shut.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Line|null} line
 */
function priceView(scene, line) {
  if (line === null) return { shown: false, words: "" };
  const details = { line: line.title, why: line.price ?? "", edition: line.price_edition ?? 0 };
  return { shown: true, words: scene.voice.say("price_waits", details) };
}

/**
 * The vehicle is not held the way this step needs: how it has to be.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {boolean} shown
 */
const heldWrong = (scene, step, shown) => ({
  shown,
  wanted: step.supports.map((state) => wordOf(scene, "support", state)),
  axle: wordOf(scene, "axle", step.axle),
});

// What is recorded ----------------------------------------------------------------------------------------------------

/**
 * Every value of the step in one form: what is typed into it is sent together, each as an entry of its own.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 * @param {boolean} openHere
 * @returns {View}
 */
function measuresView(scene, step, now, openHere) {
  const key = "measures";
  const { packet } = scene.sheet;
  const rows = step.measures.map((one) => measureView(scene, key, one, at(now.readings, one.id) ?? null));
  const open = openHere && may(scene, "reading_taken");
  const ids = (open ? step.measures : []).map((one) => /** @type {[string, string]} */ ([
    `entry.${one.id}`,
    scene.voice.newId(),
  ]));
  return {
    shown: rows.length > 0,
    rows,
    findings: findingsView(scene, step, now),
    compared: packet !== null && rows.length ? comparedHere(scene, packet, step) : NOTHING,
    open,
    one: rows.length === 1,
    form: formView(scene, key, "reading_taken", [...about(step), ...ids]),
  };
}

/** The measure whose swings a motion sensor can record as well. Twin of `app/domain/bounce.py`. */
const SWINGS = "swings";

/** @param {import("./packet.js").Step} step */
export const isBounce = (step) => step.measures.some((one) => one.id === SWINGS);

/** @type {(step: Step) => [string, string|number][]} */
const about = (step) => [["step", step.id], ["basis_step", step.revision]];

/**
 * What the readings so far say together, in the lines that computed values have.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 */
function findingsView(scene, step, now) {
  const asked = new Map(step.measures.map((one) => [one.id, one]));
  /** @param {string} name */
  const taken = (name) => takenText(scene, /** @type {Measure} */ (asked.get(name)), now.readings[name]);
  return findings(step, now.readings).map((one) => ({
    label: wordOf(scene, "finding", one.key),
    text: findingText(scene.units, one),
    inputs: one.madeFrom.map(taken).join(", "),
    certainty: "",
  }));
}

/**
 * @param {Scene} scene
 * @param {string} form
 * @param {Measure} measure
 * @param {Taken|null} taken
 */
function measureView(scene, form, measure, taken) {
  const { dimension, unit, low, high } = measure;
  const text = taken !== null ? takenText(scene, measure, taken) : "";
  const counted = unit === "1";
  return {
    id: measure.id,
    anchor: `${form}-${measure.id}`,
    ask: measure.ask,
    required: measure.required,
    window: measure.window_text,
    source: measure.source,
    taken: markView(scene, taken !== null ? taken.mark : null),
    text,
    outside: taken !== null && taken.within === false,
    bounces: measure.id === SWINGS,
    trace: fieldView(scene, form, `trace.${measure.id}`, "").typed,
    bar: barView(scene.units, dimension, unit, low, high, {
      reading: taken !== null ? taken.value : null,
      readingText: text,
    }),
    field: fieldView(scene, form, `value.${measure.id}`, measure.ask, {
      hint: measure.window_text,
      unit: counted ? "" : unit,
      units: counted ? [] : unitsFor(dimension, unit),
    }),
  };
}

/**
 * @param {Scene} scene
 * @param {Step} step
 * @param {Trial} trial
 * @param {StepNow} now
 * @param {boolean} openHere
 * @returns {View}
 */
function trialView(scene, step, trial, now, openHere) {
  const key = "trial";
  const { outcome } = now;
  const asks = isQuestion(trial);
  const ask = asks ? trial.part : scene.voice.word("ask.find");
  return {
    shown: true,
    against: trial.against,
    open: openHere && may(scene, "test_recorded"),
    recorded: markView(scene, outcome !== null ? outcome.mark : null),
    saw: saw(trial, now),
    verdict: outcome !== null ? outcome.verdict : "",
    verdict_words: outcome !== null && !asks ? wordOf(scene, "verdict", outcome.verdict) : "",
    reason: outcome !== null ? outcome.reason : "",
    form: formView(scene, key, "test_recorded", about(step)),
    saw_choice: choiceView(scene, key, "choice", ask, trial.choices.map((one) => [one.key, one.words])),
    asks_verdict: !asks,
    verdict_choice: choiceView(
      scene,
      key,
      "verdict",
      scene.voice.word("ask.verdict"),
      VERDICTS.map((one) => [one, wordOf(scene, "verdict", one)]),
    ),
    reason_field: asks ? fieldView(scene, key, "reason", scene.voice.word("ask.reason_customer")) : fieldView(scene, key, "reason", scene.voice.word("ask.reason"), {
      hint: scene.voice.word("ask.reason_hint"),
    }),
  };
}

/** Whether it only asks: nothing that may be chosen speaks against a part. @param {Trial} trial */
const isQuestion = (trial) => trial.choices.every((one) => one.passes);

/** @param {Trial | null} trial @param {StepNow} now */
const saw = (trial, { outcome }) =>
  trial?.choices.find((one) => outcome !== null && one.key === outcome.choice)?.words ?? "";

/**
 * @param {Scene} scene
 * @param {Step} step
 * @param {Fastener} fastener
 * @param {boolean} openHere
 * @returns {View}
 */
function fastenerHere(scene, step, fastener, openHere) {
  const view = fastenerView(scene, step, fastener, { openHere });
  const outside = inOrder(scene.sheet.asides)
    .filter(([, one]) => isReadOutside(one, step, fastener))
    .map(([, one]) => outsideView(scene, fastener, one));
  return { ...view, outside, outside_shown: outside.some((one) => one.bar.shown) };
}

/** @param {Aside} one @param {Step} step @param {Fastener} fastener */
const isReadOutside = (one, step, fastener) =>
  isOfStep(one, step) && one.target === fastener.id && one.reason === "reading_outside";

/**
 * A reading outside the window: on record, with its tick beyond the bar where its value at the joint is known.
 *
 * @param {Scene} scene
 * @param {Fastener} fastener
 * @param {Aside} one
 */
function outsideView(scene, fastener, one) {
  const { figure } = fastener;
  const [number, value] = [at(one.details, "stage"), at(one.details, "value")];
  const stage = figure !== null && typeof number === "number" ? figure.stages[number] : undefined;
  return {
    typed: String(at(one.details, "typed") ?? ""),
    name: one.mark.name,
    at: scene.voice.when(one.mark.at_ms),
    where: whereOf(scene, one.mark.entry),
    bar:
      figure !== null && stage !== undefined && typeof value === "number"
        ? stageBar(scene.units, figure, stage, value, "")
        : barView(scene.units, "torque", "N·m", null, null),
  };
}

// Finishing, second looks, opening again ------------------------------------------------------------------------------

/**
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 * @param {boolean} openHere
 * @param {string[][]} missing
 * @returns {View}
 */
function finish(scene, step, now, openHere, missing) {
  const key = "done";
  const parts = step.one_time.filter((one) => !now.new_parts.includes(one.id));
  return {
    shown: now.done === null && openHere,
    ready: missing.length === 0,
    missing: missing.map(([kind, words]) => ({ kind, words })),
    parts: parts.map((one) => fieldView(scene, key, `part.${one.id}`, one.what)),
    parts_shown: parts.length > 0,
    form: formView(scene, key, "step_done", about(step)),
  };
}

/**
 * A second person's own look at the whole step, where one is wanted.
 *
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 * @returns {View}
 */
function secondLook(scene, step, now) {
  const key = "look";
  const wanted = step.countersign && now.done !== null && now.seen === null;
  const own = hasSigned(scene, now);
  return {
    shown: step.countersign && now.done !== null,
    seen: markView(scene, now.seen),
    text: now.seen_text,
    other_person: wanted && own,
    open: wanted && !own && may(scene, "countersigned"),
    form: formView(scene, key, "countersigned", [...about(step), ["fastener", ""]]),
    field: fieldView(scene, key, "seen", scene.voice.word("ask.seen"), { hint: scene.voice.word("ask.seen_hint") }),
  };
}

/**
 * Whether this person closed the step or signed something in it, and so cannot be its second person.
 *
 * @param {Scene} scene
 * @param {StepNow} now
 */
function hasSigned({ viewer }, now) {
  const marks = Object.values(now.signatures).map((one) => one.mark);
  return [...(now.done !== null ? [now.done] : []), ...marks].some((mark) => mark.person === viewer.person);
}

/**
 * Whether something here waits for somebody else than who is signed in.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
export function needsOtherPerson(scene, step) {
  const now = stepNow(scene.sheet, step.id);
  if (step.countersign && now.done !== null && now.seen === null && hasSigned(scene, now)) return true;
  return step.fasteners.some((one) => {
    const signature = at(now.signatures, one.id);
    const wanted = isCritical(one) && one.tighten === "final" && at(now.counters, one.id) === undefined;
    return wanted && signature !== undefined && signature.mark.person === scene.viewer.person;
  });
}

/**
 * @param {Scene} scene
 * @param {Step} step
 * @param {StepNow} now
 * @returns {View}
 */
function reopen(scene, step, now) {
  const key = "reopen";
  const begun = now.done !== null || isAny(now.signatures) || isAny(now.readings) || now.outcome !== null;
  return {
    shown: begun && may(scene, "step_reopened"),
    form: formView(scene, key, "step_reopened", about(step)),
    field: fieldView(scene, key, "reason", scene.voice.word("ask.again")),
  };
}

// Tags, notes, what was set aside -------------------------------------------------------------------------------------

/**
 * The form that hangs a tag on a step, or (step "") on the whole sheet.
 *
 * @param {Scene} scene
 * @param {string} step
 * @param {string} key
 * @returns {View}
 */
export const holdForm = (scene, step, key) => ({
  shown: may(scene, "hold_placed"),
  form: formView(scene, key, "hold_placed", [["step", step]]),
  field: fieldView(scene, key, "reason", scene.voice.word("ask.hold")),
});

/**
 * @param {Scene} scene
 * @param {Note} note
 * @returns {View}
 */
export function noteView(scene, note) {
  const { name, at: when, where } = markView(scene, note.mark);
  return { text: note.text, name, at: when, where };
}

/** @param {Scene} scene @param {string} step */
const hanging = (scene, step) =>
  inOrder(scene.sheet.holds).filter(([, hold]) => hold.step === step && hold.lifted === null);

/**
 * The tags that hang on this step, or (step "") on the whole sheet.
 *
 * @param {Scene} scene
 * @param {string} step
 */
export const tagsView = (scene, step) => hanging(scene, step).map(([key, hold]) => tagView(scene, key, hold));

/**
 * A hold tag that hangs. Who hung it takes it off; a foreman may, with a reason.
 *
 * @param {Scene} scene
 * @param {string} key
 * @param {Hold} hold
 * @returns {View}
 */
function tagView(scene, key, hold) {
  const { name, at: when, where } = markView(scene, hold.mark);
  const mine = hold.mark.person === scene.viewer.person;
  const form = `lift-${key}`;
  return {
    id: key,
    reason: hold.reason,
    name,
    at: when,
    where,
    mine,
    lifts: may(scene, "hold_lifted") && (mine || scene.viewer.roles.includes("foreman")),
    form: formView(scene, form, "hold_lifted", [["hold", key]]),
    field: fieldView(scene, form, "reason", scene.voice.word("ask.lift"), {
      hint: mine ? "" : scene.voice.say("shown.reads_after", { name }),
    }),
  };
}

/**
 * The form for a note at a step, or (step "") about the whole sheet.
 *
 * @param {Scene} scene
 * @param {string} step
 * @returns {View}
 */
export function noteForm(scene, step) {
  const key = step ? "step-note" : "sheet-note";
  return {
    shown: may(scene, "note_added"),
    form: formView(scene, key, "note_added", [["step", step]]),
    field: fieldView(scene, key, "text", scene.voice.word("ask.note")),
  };
}

/**
 * What was set aside: the sentence that was given, and what now.
 *
 * @param {Scene} scene
 * @param {string} key
 * @param {Aside} one
 * @returns {View}
 */
export function asideView(scene, key, one) {
  const { packet } = scene.sheet;
  const step = packet ? indexOf(packet).steps.get(one.step) : undefined;
  const { name, at: when, where } = markView(scene, one.mark);
  return {
    id: key,
    kind_words: wordOf(scene, "kind", one.kind),
    step_name: step ? step.title : "",
    link: step ? linkTo(scene, one.step) : "",
    linked: step !== undefined,
    words: scene.voice.say(one.reason, one.details),
    now_words: wordOf(scene, "aside_now", scene.table.settles_itself.includes(one.reason) ? "itself" : "foreman"),
    name,
    mine: one.mark.person === scene.viewer.person,
    at: when,
    where,
  };
}
