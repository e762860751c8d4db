// @ts-check
/**
 * The questions of `shared/rules/entries.json`: each answers `null` for "nothing against it", or why it is set aside.
 *
 * Twin of `app/domain/questions.py`: the same names in the same order. They only look; which kind is asked what, and in
 * which order, is the table's.
 */
import { at, strip } from "./canonical.js";
import { aside, extensionCanBe, readPacket, torquesOf, typedLine } from "./case.js";
import { typedOf } from "./entry.js";
import { SUPPORTS, indexOf } from "./packet.js";
import { whyNotPinned, whyNotRead } from "./pinning.js";
import { holdsOn, inOrder, stepNow } from "./sheet.js";
import {
  askedGates,
  dateOf,
  gateState,
  isOneTime,
  missingParts,
  openPoints,
  priceBars,
  readingsOutside,
  supported,
  waitsFor,
  within,
} from "./standing.js";
import { stageValueFits } from "./torque.js";

/** @typedef {import("./case.js").Case} Case */
/** @typedef {import("./case.js").Ruling} Ruling */
/** @typedef {import("./sheet.js").Mark} Mark */
/** @typedef {import("./packet.js").Gate} Gate */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Support} Support */
/** @typedef {(one: Case) => Ruling|null} Question */

// --- Questions asked of every entry ---------------------------------------------------------------------------------

/** @type {Question} */
const formKnown = (one) => (one.body !== null ? null : aside("unknown_form", { kind: one.kind }));

/** @type {Question} */
const jobHere = (one) => (one.heard.entry.job === one.sheet.job ? null : aside("not_here", { what: "job" }));

/** @type {Question} */
function roleFits(one) {
  const wanted = one.table.kinds[one.kind].roles;
  return wanted.some((role) => one.heard.roles.includes(role)) ? null : aside("wrong_role", { wanted: wanted.join(", ") });
}

/** @type {Question} */
function notHandedBack(one) {
  const done = one.sheet.handed_back;
  if (done === null || one.table.after_handback.includes(one.kind)) return null;
  return aside("handed_back", { name: done.name });
}

/** @type {Question} */
function packetThere(one) {
  if (one.sheet.packet !== null || one.table.without_packet.includes(one.kind)) return null;
  return aside("not_here", { what: "sheet" });
}

// --- Questions about steps ------------------------------------------------------------------------------------------

/** @type {Question} */
const stepHere = (one) => (indexOf(one.packet).steps.has(one.stepId) ? null : aside("not_here", { what: "step" }));

/** @type {Question} */
function stepSame(one) {
  const seen = one.heard.entry.basis.step_revision;
  if (seen === one.step.revision) return null;
  return aside("step_changed", { seen: seen !== null ? seen : 0, now: one.step.revision });
}

/** @type {Question} */
const notHeld = (one) => held(one, one.stepId);

/** @type {Question} */
const sheetNotHeld = (one) => held(one, "");

/**
 * A tag that hangs; or one the person had not seen, even if it has been taken off since: whether the work was done
 * before, during or after the hold nobody can tell, so the foreman looks at it.
 *
 * @param {Case} one
 * @param {string} stepId
 */
function held(one, stepId) {
  const seen = one.heard.entry.basis.holds;
  for (const [key, hold] of holdsOn(one.sheet, stepId)) {
    const details = { hold: key, name: hold.mark.name, why: hold.reason };
    if (seen !== null && !seen.includes(key)) return aside("away_when_held", details);
    if (hold.lifted === null) return aside("held", details);
  }
  return null;
}

/** @type {Question} */
function notDone(one) {
  const { done } = stepNow(one.sheet, one.stepId);
  return done === null ? null : aside("already_signed", { name: done.name });
}

/**
 * Nothing is collectable for work the customer has not agreed to, so it does not come to count as done.
 *
 * @type {Question}
 */
function priceAgreed(one) {
  const line = priceBars(one.sheet, one.step);
  if (line === null) return null;
  return aside("not_agreed", { line: line.title, why: line.price ?? "", edition: line.price_edition ?? 0 });
}

/** @type {Question} */
function unlocked(one) {
  const waiting = waitsFor(one.sheet, one.step);
  return waiting === null ? null : aside("step_locked", { first: waiting.title });
}

/** @type {Question} */
const supportRight = (one) => supportAmong(one, one.step.supports);

/** @type {Question} */
const loadRight = (one) => supportAmong(one, /** @type {Fastener} */ (one.fastener).load_states);

/** @type {Question} */
const counterLoadRight = (one) => (one.fastener !== null ? loadRight(one) : null);

/**
 * @param {Case} one
 * @param {Support[]} wanted
 */
function supportAmong(one, wanted) {
  if (supported(one.sheet.support, one.step.axle, wanted)) return null;
  return notHeldSo(one, wanted, "state");
}

/**
 * @param {Case} one
 * @param {Support[]} wanted
 * @param {string} why
 */
const notHeldSo = (one, wanted, why) =>
  aside("wrong_support", { now: one.sheet.support.state, wanted: wanted.join(","), why });

/**
 * Nobody changed how the vehicle is held since the person looked; unless the step may be done however it is.
 *
 * @type {Question}
 */
function supportSeen(one) {
  if (!supportMoved(one)) return null;
  const gates = askedGates(one.sheet, one.step);
  if (gates.length) return stale(gates[0], "support");
  if (SUPPORTS.every((state) => one.step.supports.includes(state))) return null;
  return notHeldSo(one, one.step.supports, "moved");
}

/** @type {Question} */
const counterSupportSeen = (one) => (one.fastener !== null ? supportSeen(one) : null);

/** @param {Case} one */
function supportMoved(one) {
  const shown = one.heard.entry.basis.support_revision;
  return shown !== null && shown !== one.sheet.support.revision;
}

/** @type {Question} */
const gatesClear = (one) => gatesOpen(one, askedGates(one.sheet, one.step), one.person);

/**
 * At the fastener, the second person is under the same vehicle: how it is held must stand checked, by anyone. Gates
 * that do not follow the support state were for the work itself and are not asked again. House rule.
 *
 * @type {Question}
 */
function counterGatesClear(one) {
  if (one.fastener === null) return null;
  return gatesOpen(one, askedGates(one.sheet, one.step).filter((gate) => gate.follows_support), null);
}

/**
 * @param {Case} one
 * @param {Gate[]} gates
 * @param {string|null} person
 */
function gatesOpen(one, gates, person) {
  for (const gate of gates) {
    const against = gateState(one.sheet, gate.id, person, one.heard.heard_at_ms);
    if (against === "shut") return aside("gate_shut", { gate: gate.id, title: gate.title });
    if (against !== null) return stale(gate, against);
  }
  return null;
}

/**
 * @param {Gate} gate
 * @param {string} why
 */
const stale = (gate, why) => aside("gate_stale", { gate: gate.id, title: gate.title, why });

/** @type {Question} */
function gateHere(one) {
  const gate = indexOf(one.packet).gates.get(one.body.gate);
  const given = Object.keys(one.body.answers);
  if (gate === undefined || !given.length) return aside("not_here", { what: "gate" });
  const known = gate.checks.map((check) => check.id);
  return given.every((key) => known.includes(key)) ? null : aside("not_here", { what: "check" });
}

/**
 * The gate reads as it did in the edition the person saw, and the vehicle is held as it was.
 *
 * @type {Question}
 */
function gateSame(one) {
  const gate = /** @type {Gate} */ (indexOf(one.packet).gates.get(one.body.gate));
  const shown = one.heard.entry.basis.packet;
  if (shown) {
    const seen = one.sheet.editions.indexOf(shown) + 1;
    if (seen < (at(one.sheet.gates_since, gate.id) ?? 1)) {
      return aside("step_changed", { seen, now: one.packet.edition });
    }
  }
  return supportMoved(one) ? stale(gate, "support") : null;
}

// --- Questions about what is recorded -------------------------------------------------------------------------------

/** @param {Case} one */
const measureOf = (one) => one.step.measures.find((measure) => measure.id === one.body.measure);

/** @type {Question} */
const measureHere = (one) => (measureOf(one) !== undefined ? null : aside("not_here", { what: "measure" }));

/** @type {Question} */
function measureFits(one) {
  const measure = /** @type {import("./packet.js").Measure} */ (measureOf(one));
  const { reading } = one.body;
  if (!measure.must || within(reading.value, measure.low, measure.high) !== false) return null;
  return aside("reading_outside", { typed: typedOf(reading), window: measure.window_text });
}

/** @type {Question} */
function trialFits(one) {
  const { trial } = one.step;
  if (trial === null) return aside("not_here", { what: "test" });
  const choice = trial.choices.find((each) => each.key === one.body.choice);
  if (choice === undefined) return aside("not_here", { what: "observation" });
  const needsReason = one.body.verdict !== "sound" || !choice.passes;
  if (needsReason && !strip(one.body.reason)) return aside("not_finished", { missing: "reason" });
  return null;
}

/** @type {Question} */
const fastenerHere = (one) => (one.fastener !== null ? null : aside("not_here", { what: "fastener" }));

/** @type {Question} */
function fastenerUnsigned(one) {
  const signed = at(stepNow(one.sheet, one.stepId).signatures, one.body.fastener);
  return signed === undefined ? null : signedAlready(one, signed);
}

/**
 * A second record, beside the first. Unequal values ask for a re-check.
 *
 * @param {Case} one
 * @param {import("./sheet.js").Signature} signed
 */
function signedAlready(one, signed) {
  const values = torquesOf(one.table, one.packet, one.body, /** @type {Fastener} */ (one.fastener));
  const equal = values.length === signed.values.length && values.every((value, i) => value === signed.values[i]);
  return aside("already_signed", {
    name: signed.mark.name,
    first: signed.texts.join(", "),
    second: typedLine(one.body),
    unequal: equal ? 0 : 1,
  });
}

/** @type {Question} */
function figureCounts(one) {
  const { fastener } = one;
  if (fastener === null || fastener.tighten === "snug") return null;
  if (fastener.figure === null || !fastener.figure.stages.length) {
    return aside("spec_unverified", { place: fastener.place, why: "absent" });
  }
  if (!fastener.figure.verified) return aside("spec_unverified", { place: fastener.place, why: "not_compared" });
  return null;
}

/** @type {Question} */
function wrenchFit(one) {
  const { fastener } = one;
  if (fastener === null || fastener.tighten === "snug") return null;
  const wrench = indexOf(one.packet).wrenches.get(one.body.wrench);
  if (wrench === undefined) return aside("tool_unfit", { tag: one.body.wrench, why: "unknown" });
  const why = wrenchUnfit(wrench, fastener, one.body, one.heard.heard_at_ms);
  return why === null ? null : aside("tool_unfit", { tag: wrench.tag, why, due: wrench.due_on });
}

/**
 * Why this wrench may not be used for this reading, or `null`.
 *
 * @param {import("./packet.js").Wrench} wrench
 * @param {Fastener} fastener
 * @param {import("./entry.js").Signed} body
 * @param {number} atMs
 */
export function wrenchUnfit(wrench, fastener, body, atMs) {
  if (wrench.fault) return "fault";
  if (isOutOfDate(wrench, atMs)) return "out_of_date";
  if (body.extension !== null) {
    if (wrench.length_um === null || wrench.length_um <= 0) return "length_unknown";
    if (!extensionCanBe(wrench, body.extension)) return "extension";
  }
  const stages = fastener.figure !== null ? fastener.figure.stages : [];
  // What was read off the wrench; a further turn was not.
  const scale = body.readings.filter((_, i) => i < stages.length && stages[i].target_mdeg === null);
  if (wrench.unit && scale.some((reading) => reading.unit !== wrench.unit)) return "unit";
  if (!scale.every((reading) => wrench.low_mnm <= reading.value && reading.value <= wrench.high_mnm)) {
    return "out_of_range";
  }
  return null;
}

/**
 * @param {import("./packet.js").Wrench} wrench
 * @param {number} atMs
 */
function isOutOfDate(wrench, atMs) {
  if (!wrench.due_on) return true;
  return wrench.due_end_ms !== null ? atMs >= wrench.due_end_ms : dateOf(atMs) > wrench.due_on;
}

/** @type {Question} */
function torqueFits(one) {
  const { fastener, body } = one;
  if (fastener === null) return strip(body.seen) ? null : aside("not_finished", { missing: "seen" });
  if (isOneTime(fastener) && one.kind === "signed_off" && !body.new_part) {
    return aside("not_finished", { missing: "new_part" });
  }
  if (fastener.tighten === "snug") return body.readings.length ? aside("not_here", { what: "reading" }) : null;
  const { figure } = fastener;
  if (figure === null || body.readings.length !== figure.stages.length) {
    return aside("not_finished", { missing: "reading" });
  }
  const values = torquesOf(one.table, one.packet, body, fastener);
  const number = figure.stages.findIndex((stage, i) => !stageValueFits(stage, values[i]));
  if (number < 0) return null;
  const typed = typedOf(body.readings[number]);
  return aside("reading_outside", { typed, window: figure.text, stage: number, value: values[number] });
}

/** @type {Question} */
function counterWanted(one) {
  const { body } = one;
  const now = stepNow(one.sheet, one.stepId);
  if (body.fastener) {
    if (one.fastener === null) return aside("not_here", { what: "fastener" });
    if (at(now.signatures, body.fastener) === undefined) return aside("not_finished", { missing: "first_reading" });
    const countered = at(now.counters, body.fastener);
    if (countered !== undefined) return signedAlready(one, countered);
    return one.fastener.tighten === "final" ? null : aside("not_here", { what: "countersign" });
  }
  if (!one.step.countersign) return aside("not_here", { what: "countersign" });
  if (now.done === null) return aside("not_finished", { missing: "done" });
  return now.seen === null ? null : aside("already_signed", { name: now.seen.name });
}

/**
 * At a fastener, another than who signed it; for a look at the step, another than all who signed or closed it.
 *
 * @type {Question}
 */
function secondPerson(one) {
  const now = stepNow(one.sheet, one.stepId);
  const firsts = one.body.fastener
    ? [now.signatures[one.body.fastener].mark]
    : [/** @type {Mark} */ (now.done), ...inOrder(now.signatures).map(([, signed]) => signed.mark)];
  const mine = firsts.find((mark) => mark.person === one.person);
  return mine !== undefined ? aside("same_person", { name: mine.name }) : null;
}

/** @type {Question} */
function partsRecorded(one) {
  const missing = missingParts(one.sheet, one.step, one.body.new_parts);
  if (missing.length) return aside("not_finished", { missing: missing[0][0], what: missing[0][1] });
  const outside = readingsOutside(one.sheet, one.stepId);
  return outside.length ? aside("not_finished", { missing: "reading_inside", what: outside[0] }) : null;
}

// --- Questions about holds, notes, settling, closing ----------------------------------------------------------------

/** @type {Question} */
const reasonGiven = (one) => (strip(one.body.reason) ? null : aside("not_finished", { missing: "reason" }));

/** @type {Question} */
const textGiven = (one) => (strip(one.body.text) ? null : aside("not_finished", { missing: "text" }));

/** @type {Question} */
const heirNamed = (one) =>
  strip(one.body.to) && strip(one.body.to_name) ? null : aside("not_finished", { missing: "to" });

/** @type {Question} */
function isBegun(one) {
  const now = stepNow(one.sheet, one.stepId);
  const touched = Object.keys(now.signatures).length || Object.keys(now.readings).length;
  if (now.done !== null || now.outcome !== null || touched) return null;
  return aside("not_finished", { missing: "done" });
}

/** @type {Question} */
const holdTargetHere = (one) => (one.stepId === "" ? null : stepHere(one));

const noteTargetHere = holdTargetHere;

/** @type {Question} */
function holdHere(one) {
  const hold = at(one.sheet.holds, one.body.hold);
  return hold !== undefined && hold.lifted === null ? null : aside("not_here", { what: "hold" });
}

/**
 * Only the hand that hung a tag takes it off; the foreman may, with a reason.
 * Source: principle of 29 CFR 1910.147(e)(3).
 *
 * @type {Question}
 */
function holdMineOrForeman(one) {
  const hold = one.sheet.holds[one.body.hold];
  if (hold.mark.person === one.person) return null;
  if (!one.heard.roles.includes("foreman")) {
    return aside("held", { hold: one.body.hold, name: hold.mark.name, why: hold.reason });
  }
  return reasonGiven(one);
}

/** @type {Question} */
function asideHere(one) {
  const found = at(one.sheet.asides, one.body.aside);
  if (found === undefined || !one.table.settle_outcomes.includes(one.body.outcome)) {
    return aside("not_here", { what: "aside" });
  }
  return found.settled === null ? null : aside("already_signed", { name: found.settled.name });
}

/**
 * A packet belongs to this job, is read without loss, holds together, and is the next edition.
 *
 * @type {Question}
 */
function readablePacket(one) {
  const packet = readPacket(one.body);
  if (packet === null) return aside("unknown_form", { kind: one.kind });
  const lost = whyNotRead(one.body.packet, packet);
  if (lost !== null) return aside("unknown_form", { kind: one.kind, why: lost });
  const now = one.sheet.packet !== null ? one.sheet.packet.edition : 0;
  if (packet.job !== one.sheet.job || packet.edition !== now + 1) {
    return aside("step_changed", { seen: packet.edition, now });
  }
  const fault = whyNotPinned(packet, one.sheet.packet);
  return fault === null ? null : aside("unknown_form", { kind: one.kind, why: fault });
}

/** @type {Question} */
function allClosed(one) {
  const points = openPoints(one.sheet);
  if (!points.length) return null;
  const what = points[0].words;
  if (points.every((point) => point.kind === "second_person")) {
    return aside("needs_second_person", { what, count: points.length });
  }
  return aside("not_finished", { missing: points[0].kind, what, count: points.length });
}

/** @type {Record<string, Question>} */
export const QUESTIONS = {
  form_known: formKnown,
  job_here: jobHere,
  role_fits: roleFits,
  not_handed_back: notHandedBack,
  packet_there: packetThere,
  step_here: stepHere,
  step_same: stepSame,
  not_held: notHeld,
  sheet_not_held: sheetNotHeld,
  not_done: notDone,
  price_agreed: priceAgreed,
  unlocked,
  support_right: supportRight,
  load_right: loadRight,
  counter_load_right: counterLoadRight,
  support_seen: supportSeen,
  counter_support_seen: counterSupportSeen,
  gates_clear: gatesClear,
  counter_gates_clear: counterGatesClear,
  gate_here: gateHere,
  gate_same: gateSame,
  measure_here: measureHere,
  measure_fits: measureFits,
  trial_fits: trialFits,
  fastener_here: fastenerHere,
  fastener_unsigned: fastenerUnsigned,
  figure_counts: figureCounts,
  wrench_fit: wrenchFit,
  torque_fits: torqueFits,
  counter_wanted: counterWanted,
  second_person: secondPerson,
  parts_recorded: partsRecorded,
  reason_given: reasonGiven,
  text_given: textGiven,
  heir_named: heirNamed,
  is_begun: isBegun,
  hold_target_here: holdTargetHere,
  note_target_here: noteTargetHere,
  hold_here: holdHere,
  hold_mine_or_foreman: holdMineOrForeman,
  aside_here: asideHere,
  readable_packet: readablePacket,
  all_closed: allClosed,
};
