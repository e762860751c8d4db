// @ts-check
/**
 * What an accepted entry changes on a sheet, one function per kind; and how an entry is put aside. Pure.
 *
 * Twin of `app/domain/changes.py`: the same functions in the same order. Nothing here asks whether it may.
 */
import { at, byCodePoint, isSame } from "./canonical.js";
import { markOf, readPacket, targetOf, torquesOf } from "./case.js";
import { typedOf } from "./entry.js";
import { indexOf, passesAt } from "./packet.js";
import { UNTOUCHED, stepNow, withStep } from "./sheet.js";
import { WHOLE_VEHICLE, answersGoOn, within } from "./standing.js";

/** @typedef {import("./case.js").Case} Case */
/** @typedef {import("./sheet.js").Sheet} Sheet */
/** @typedef {import("./sheet.js").StepNow} StepNow */
/** @typedef {import("./sheet.js").Said} Said */
/** @typedef {import("./sheet.js").Note} Note */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Gate} Gate */
/** @typedef {import("./packet.js").Packet} Packet */

/**
 * Whether an answer lets the gate open.
 *
 * @param {import("./packet.js").Check} check
 * @param {Record<string, Said>} said
 * @returns {boolean}
 */
export function passes(check, said) {
  const answer = said[check.id];
  if (check.kind === "seen") {
    return check.choices.some((one) => one.key === answer.choice && passesAt(one, answer.at_ms));
  }
  if (check.kind === "ready") return answer.ready === true;
  // A rating, a distance, a time: never below nothing. Without any limit there is nothing to fit into.
  if (answer.value === null || answer.value < 0 || check.needs_input) return false;
  let { value } = answer;
  if (check.halve_unless !== null) {
    const [other, choice] = check.halve_unless;
    if (at(said, other)?.choice !== choice) value = Math.floor(value / 2);
  }
  return within(value, check.at_least, check.at_most) === true;
}

/**
 * @param {Sheet} sheet
 * @param {import("./entry.js").Heard} heard
 * @param {any} body
 * @param {import("./case.js").Ruling} ruling
 * @returns {Sheet}
 */
export function putAside(sheet, heard, body, ruling) {
  const { kind } = heard.entry;
  const [step, target] = targetOf(kind, body);
  /** @type {import("./sheet.js").Aside} */
  const one = {
    mark: markOf(heard),
    kind,
    step,
    target,
    reason: ruling.reason,
    details: { ...ruling.details },
    settled: null,
    outcome: "",
    settled_reason: "",
  };
  return { ...sheet, asides: { ...sheet.asides, [heard.entry.id]: one } };
}

/**
 * Pin a packet. A step or gate that changed after it was begun starts again; its record is kept in the ledger. What was
 * noted on a step that is no longer there moves to the sheet's own notes.
 *
 * @param {Case} one
 * @returns {Sheet}
 */
function packetPinned(one) {
  const packet = /** @type {Packet} */ (readPacket(one.body));
  const before = one.sheet.packet;
  const { hash } = indexOf(packet);
  const sheet = { ...one.sheet, packet, packet_hash: hash, editions: [...one.sheet.editions, hash] };
  if (before === null) return sheet;
  const old = indexOf(before);
  const same = new Set(packet.gates.filter((gate) => isSameAs(gate, old.gates)).map((gate) => gate.id));
  /** @type {[string, StepNow][]} */
  const steps = [];
  const notes = [...sheet.notes];
  for (const [key, now] of Object.entries(one.sheet.steps).sort(([a], [b]) => byCodePoint(a, b))) {
    const step = indexOf(packet).steps.get(key);
    if (step === undefined) notes.push(...now.notes, ...now.reopened);
    else steps.push([key, isSameAs(step, old.steps) ? now : startAgain(one, now, "")]);
  }
  const since = Object.entries(sheet.gates_since).filter(([key]) => same.has(key));
  const changed = packet.gates.filter((gate) => !same.has(gate.id));
  return {
    ...sheet,
    gates: Object.fromEntries(Object.entries(one.sheet.gates).filter(([key]) => same.has(key))),
    gates_since: Object.fromEntries([
      ...since,
      ...changed.map((gate) => /** @type {[string, number]} */ ([gate.id, packet.edition])),
    ]),
    steps: Object.fromEntries(steps),
    notes,
  };
}

/**
 * @param {{id: string}} part
 * @param {Map<string, {id: string}>} old
 */
function isSameAs(part, old) {
  const was = old.get(part.id);
  return was !== undefined && isSame(part, was);
}

/**
 * Take answers. Another person, a hand-over, another support state or time passed: it begins again from nothing.
 *
 * @param {Case} one
 * @returns {Sheet}
 */
function gateAnswered(one) {
  const { body } = one;
  const gate = /** @type {Gate} */ (indexOf(one.packet).gates.get(body.gate));
  const before = at(one.sheet.gates, gate.id);
  const { revision } = one.sheet.support;
  const atMs = one.heard.heard_at_ms;
  const goesOn = before !== undefined && answersGoOn(one.sheet, gate, before, one.person, atMs);
  const given = gate.checks.flatMap((check) => {
    const answer = at(/** @type {Record<string, import("./entry.js").Answer>} */ (body.answers), check.id);
    if (answer === undefined) return [];
    const { choice, ready, value, text } = answer;
    return [[check.id, { choice, ready, value, text, passes: false, entry: one.heard.entry.id, at_ms: atMs }]];
  });
  /** @type {Record<string, Said>} */
  const said = { ...(goesOn ? before.answers : {}), ...Object.fromEntries(given) };
  /** @type {[string, Said][]} */
  const judged = gate.checks
    .filter((check) => at(said, check.id) !== undefined)
    .map((check) => [check.id, { ...said[check.id], passes: passes(check, said) }]);
  const clear = judged.length === gate.checks.length && judged.every(([, each]) => each.passes);
  const now = {
    person: one.person,
    name: one.heard.name,
    support_revision: revision,
    began_at_ms: Math.min(...judged.map(([, each]) => each.at_ms)),
    answers: Object.fromEntries(judged),
    cleared_at_ms: clear ? atMs : null,
    revision: before !== undefined ? before.revision + 1 : 1,
    handed_over: false,
  };
  return { ...one.sheet, gates: { ...one.sheet.gates, [gate.id]: now } };
}

/** @param {Case} one */
function readingTaken(one) {
  const { step, measure: id, reading } = one.body;
  const measure = /** @type {import("./packet.js").Measure} */ (one.step.measures.find((each) => each.id === id));
  const now = stepNow(one.sheet, step);
  const { value, text, unit } = reading;
  const taken = { mark: markOf(one.heard), value, text, unit, within: within(value, measure.low, measure.high) };
  return withStep(one.sheet, step, { ...now, readings: { ...now.readings, [id]: taken } });
}

/** @param {Case} one */
function testRecorded(one) {
  const { step, choice, verdict, reason } = one.body;
  const outcome = { mark: markOf(one.heard), choice, verdict, reason };
  return withStep(one.sheet, step, { ...stepNow(one.sheet, step), outcome });
}

/**
 * @param {Case} one
 * @returns {import("./sheet.js").Signature}
 */
function signature(one) {
  const { body } = one;
  const fastener = /** @type {Fastener} */ (one.fastener);
  return {
    mark: markOf(one.heard),
    tighten: fastener.tighten,
    texts: body.readings.map(typedOf),
    values: torquesOf(one.table, one.packet, body, fastener),
    wrench: body.wrench,
    extension_um: body.extension !== null ? body.extension.length_um : 0,
    extension_deg: body.extension !== null ? body.extension.angle_deg : 0,
    new_part: one.kind === "signed_off" ? body.new_part : false,
  };
}

/** @param {Case} one */
function signedOff(one) {
  const { step, fastener } = one.body;
  const now = stepNow(one.sheet, step);
  return withStep(one.sheet, step, { ...now, signatures: { ...now.signatures, [fastener]: signature(one) } });
}

/** @param {Case} one */
function countersigned(one) {
  const { step, fastener, seen } = one.body;
  const now = stepNow(one.sheet, step);
  if (!fastener) return withStep(one.sheet, step, { ...now, seen: markOf(one.heard), seen_text: seen });
  return withStep(one.sheet, step, { ...now, counters: { ...now.counters, [fastener]: signature(one) } });
}

/** @param {Case} one */
function stepDone(one) {
  const { step, new_parts: given } = one.body;
  const now = stepNow(one.sheet, step);
  const known = one.step.one_time.map((each) => each.id);
  const fitted = /** @type {string[]} */ (given).filter((part) => known.includes(part));
  const parts = [...new Set([...now.new_parts, ...fitted])].sort(byCodePoint);
  return withStep(one.sheet, step, { ...now, done: markOf(one.heard), new_parts: parts });
}

/** @param {Case} one */
function stepReopened(one) {
  const { step, reason } = one.body;
  return withStep(one.sheet, step, startAgain(one, stepNow(one.sheet, step), reason));
}

/**
 * A step as if untouched, but for its notes and the record of why it was opened again.
 *
 * @param {Case} one
 * @param {StepNow} now
 * @param {string} reason
 * @returns {StepNow}
 */
function startAgain(one, now, reason) {
  const why = { mark: markOf(one.heard), text: reason, photo: "" };
  return { ...UNTOUCHED, notes: now.notes, reopened: [...now.reopened, why] };
}

/** @param {Case} one */
function supportChanged(one) {
  const { state, axle, bears } = one.body;
  const support = {
    state,
    axle: WHOLE_VEHICLE.includes(state) ? "both" : axle,
    bears,
    revision: one.sheet.support.revision + 1,
    mark: markOf(one.heard),
  };
  return { ...one.sheet, support };
}

/** @param {Case} one */
function holdPlaced(one) {
  const { step, reason } = one.body;
  const hold = { mark: markOf(one.heard), step, reason, lifted: null, lifted_reason: "" };
  return { ...one.sheet, holds: { ...one.sheet.holds, [one.heard.entry.id]: hold } };
}

/** @param {Case} one */
function holdLifted(one) {
  const { hold: key, reason } = one.body;
  const hold = { ...one.sheet.holds[key], lifted: markOf(one.heard), lifted_reason: reason };
  return { ...one.sheet, holds: { ...one.sheet.holds, [key]: hold } };
}

/**
 * Hand over. Every gate is asked again, of the one who hands over too: what follows is not theirs alone.
 * Source: principle of 29 CFR 1910.147(f)(4) on shift changes.
 *
 * @param {Case} one
 */
function handedOver(one) {
  const { to, to_name, note } = one.body;
  const over = { mark: markOf(one.heard), to, to_name, note };
  const gates = Object.entries(one.sheet.gates).map(([key, now]) => [key, { ...now, handed_over: true }]);
  return { ...one.sheet, hand_overs: [...one.sheet.hand_overs, over], gates: Object.fromEntries(gates) };
}

/** @param {Case} one */
const noteAdded = (one) =>
  withNote(one, one.body.step, { mark: markOf(one.heard), text: one.body.text, photo: "" });

/** @param {Case} one */
const photoAdded = (one) =>
  withNote(one, one.body.step, { mark: markOf(one.heard), text: one.body.name, photo: one.body.sha256 });

/**
 * @param {Case} one
 * @param {string} step
 * @param {Note} note
 * @returns {Sheet}
 */
function withNote(one, step, note) {
  if (!step) return { ...one.sheet, notes: [...one.sheet.notes, note] };
  const now = stepNow(one.sheet, step);
  return withStep(one.sheet, step, { ...now, notes: [...now.notes, note] });
}

/** @param {Case} one */
function settled(one) {
  const { aside: key, outcome, reason } = one.body;
  const now = { ...one.sheet.asides[key], settled: markOf(one.heard), outcome, settled_reason: reason };
  return { ...one.sheet, asides: { ...one.sheet.asides, [key]: now } };
}

/** @param {Case} one */
const handedBack = (one) => ({
  ...one.sheet,
  handed_back: markOf(one.heard),
  handed_back_note: one.body.note,
});

/** @type {Record<string, (one: Case) => Sheet>} */
export const CHANGES = {
  packet_pinned: packetPinned,
  gate_answered: gateAnswered,
  reading_taken: readingTaken,
  signed_off: signedOff,
  countersigned,
  step_done: stepDone,
  step_reopened: stepReopened,
  support_changed: supportChanged,
  hold_placed: holdPlaced,
  hold_lifted: holdLifted,
  handed_over: handedOver,
  test_recorded: testRecorded,
  note_added: noteAdded,
  photo_added: photoAdded,
  settled,
  handed_back: handedBack,
};
