// @ts-check
/**
 * How things stand on a sheet: what is open, stale, missing or waiting. Questions with an answer, changing nothing.
 *
 * Twin of `app/domain/standing.py`.
 */
import { at } from "./canonical.js";
import { indexOf, isAsked } from "./packet.js";
import { inOrder, stepNow } from "./sheet.js";

/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Gate} Gate */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {import("./sheet.js").Sheet} Sheet */

/** @type {import("./packet.js").Support[]} */
export const WHOLE_VEHICLE = ["on_wheels", "on_ramp", "lift_frame"];

/** @param {Sheet} sheet */
const packetOf = (sheet) => /** @type {Packet} */ (sheet.packet);

/**
 * The first step that has to be done before this one and is not.
 *
 * @param {Sheet} sheet
 * @param {Step} step
 */
export function waitsFor(sheet, step) {
  const { steps } = indexOf(packetOf(sheet));
  const first = step.after.find((key) => steps.has(key) && stepNow(sheet, key).done === null);
  return first === undefined ? null : /** @type {Step} */ (steps.get(first));
}

/**
 * The first open step that nothing has to come before; `null` when all are done.
 *
 * @param {Sheet} sheet
 * @param {Packet} packet
 */
export function nextStep(sheet, packet) {
  const left = packet.steps.filter((step) => stepNow(sheet, step.id).done === null);
  return left.find((step) => waitsFor(sheet, step) === null) ?? left[0] ?? null;
}

/**
 * The line whose price keeps this step shut: the customer has not agreed to it, or not to what it is now.
 *
 * @param {Sheet} sheet
 * @param {Step} step
 */
export function priceBars(sheet, step) {
  const line = indexOf(packetOf(sheet)).lines.get(step.line);
  return line === undefined || [undefined, "agreed", "put_back"].includes(line.price) ? null : line;
}

/**
 * Whether the vehicle is held in one of these states at this axle.
 *
 * @param {import("./sheet.js").SupportNow} now
 * @param {import("./packet.js").Axle} axle
 * @param {import("./packet.js").Support[]} wanted
 */
export function supported(now, axle, wanted) {
  if (!wanted.includes(now.state)) return false;
  return WHOLE_VEHICLE.includes(now.state) || now.axle === "both" || now.axle === axle;
}

/**
 * The gates of a step that are asked in the support state of now.
 *
 * @param {Sheet} sheet
 * @param {Step} step
 */
export function askedGates(sheet, step) {
  const { gates } = indexOf(packetOf(sheet));
  return step.gates.map((key) => /** @type {Gate} */ (gates.get(key))).filter((one) => isAsked(one, sheet.support.state));
}

/**
 * `null` when the gate stands open for this person now, else "shut", "person", "support" or "time". Person `null` asks
 * whether it stands open for whoever cleared it. Time runs from the oldest answer.
 *
 * @param {Sheet} sheet
 * @param {string} gateId
 * @param {string|null} person
 * @param {number} atMs
 */
export function gateState(sheet, gateId, person, atMs) {
  const now = at(sheet.gates, gateId);
  if (now === undefined || now.cleared_at_ms === null) return "shut";
  const gate = /** @type {Gate} */ (indexOf(packetOf(sheet)).gates.get(gateId));
  if (now.handed_over || (person !== null && now.person !== person)) return "person";
  if (gate.follows_support && now.support_revision !== sheet.support.revision) return "support";
  return isInTime(now, gate, atMs) ? null : "time";
}

/**
 * Whether the answers at a gate still count by the time that has gone. A moment before the oldest is no such time.
 *
 * @param {import("./sheet.js").GateNow} now
 * @param {Gate} gate
 * @param {number} atMs
 */
const isInTime = (now, gate, atMs) =>
  atMs - now.began_at_ms >= 0 && atMs - now.began_at_ms <= gate.stale_after_s * 1000;

/**
 * Whether the answers given so far go on counting for this person, or the next one begins again from nothing.
 *
 * @param {Sheet} sheet
 * @param {Gate} gate
 * @param {import("./sheet.js").GateNow} now
 * @param {string} person
 * @param {number} atMs
 */
export const answersGoOn = (sheet, gate, now, person, atMs) =>
  now.person === person &&
  !now.handed_over &&
  (!gate.follows_support || now.support_revision === sheet.support.revision) &&
  isInTime(now, gate, atMs);

/**
 * Whether a value lies in its window; `null` when nothing limits it.
 *
 * @param {number} value
 * @param {number|null} low
 * @param {number|null} high
 */
export function within(value, low, high) {
  if (low === null && high === null) return null;
  return (low === null || value >= low) && (high === null || value <= high);
}

/**
 * Whether this part is new every time: by its procedure, or by the maker's figure.
 *
 * @param {Fastener} fastener
 */
export const isOneTime = (fastener) => fastener.one_time || (fastener.figure !== null && fastener.figure.one_time);

/**
 * Whether a second person's own reading is wanted: by its procedure, or by the shop's mark on the figure.
 *
 * @param {Fastener} fastener
 */
export const isCritical = (fastener) => fastener.critical || (fastener.figure !== null && fastener.figure.critical);

/**
 * What of a step is not yet recorded: kind and words, in the order the card shows them.
 *
 * @param {Sheet} sheet
 * @param {Step} step
 * @param {string[]} [newParts]
 * @returns {[string, string][]}
 */
export function missingParts(sheet, step, newParts = []) {
  const now = stepNow(sheet, step.id);
  const measures = step.measures.filter((one) => one.required && at(now.readings, one.id) === undefined);
  const fasteners = step.fasteners.filter((one) => at(now.signatures, one.id) === undefined);
  const parts = step.one_time.filter((one) => !newParts.includes(one.id) && !now.new_parts.includes(one.id));
  return [
    ...measures.map((one) => /** @type {[string, string]} */ (["measure", one.ask])),
    ...(step.trial !== null && now.outcome === null ? [/** @type {[string, string]} */ (["test", step.trial.part])] : []),
    ...fasteners.map((one) => /** @type {[string, string]} */ (["fastener", one.place])),
    ...parts.map((one) => /** @type {[string, string]} */ (["new_part", one.what])),
  ];
}

/**
 * Readings of this step that lay outside and have been neither repeated inside nor settled: what was typed.
 *
 * @param {Sheet} sheet
 * @param {string} stepId
 */
export const readingsOutside = (sheet, stepId) =>
  inOrder(sheet.asides)
    .filter(([, one]) => one.step === stepId && one.reason === "reading_outside" && one.settled === null)
    .map(([, one]) => String(at(one.details, "typed") ?? ""));

/** @typedef {{kind: string, step: string, words: string}} OpenPoint Keeps the sheet from being handed back. */

/**
 * Everything that still stands between this sheet and its handback, in sheet order.
 *
 * @param {Sheet} sheet
 * @returns {OpenPoint[]}
 */
export function openPoints(sheet) {
  if (sheet.packet === null) return [{ kind: "step", step: "", words: "" }];
  const steps = sheet.packet.steps.flatMap((step) => [
    ...(stepNow(sheet, step.id).done === null ? [{ kind: "step", step: step.id, words: step.title }] : []),
    ...waitsForSecond(sheet, step).map((words) => ({ kind: "second_person", step: step.id, words })),
  ]);
  const holds = inOrder(sheet.holds).filter(([, hold]) => hold.lifted === null);
  const asides = inOrder(sheet.asides).filter(([, one]) => keepsOpen(one));
  return [
    ...steps,
    ...holds.map(([, hold]) => ({ kind: "hold", step: hold.step, words: hold.reason })),
    ...asides.map(([, one]) => ({ kind: "aside", step: one.step, words: one.reason })),
  ];
}

/**
 * Whether this keeps the sheet from being handed back. A handback tried too early does not stand in its own way.
 *
 * @param {import("./sheet.js").Aside} one
 */
export const keepsOpen = (one) =>
  one.settled === null && !(one.kind === "handed_back" && one.reason !== "unknown_form");

/**
 * What of a step waits for a second person: places of critical fasteners signed, and the step's own look.
 *
 * @param {Sheet} sheet
 * @param {Step} step
 */
export function waitsForSecond(sheet, step) {
  const now = stepNow(sheet, step.id);
  const waiting = step.fasteners
    .filter((one) => isCritical(one) && one.tighten === "final")
    .filter((one) => at(now.signatures, one.id) !== undefined && at(now.counters, one.id) === undefined)
    .map((one) => one.place);
  if (step.countersign && now.done !== null && now.seen === null) waiting.push(step.title);
  return waiting;
}

/**
 * The UTC date of an instant, by whole-number arithmetic, so that both ends give the same.
 *
 * Source: the proleptic Gregorian calendar in 400-year eras beginning on 1 March; arithmetic ours, checked in tests.
 *
 * @param {number} atMs
 */
export function dateOf(atMs) {
  const days = floorDiv(atMs, 86_400_000) + 719_468;
  const era = floorDiv(days, 146_097);
  const ofEra = days - era * 146_097;
  const yearOfEra = floorDiv(
    ofEra - floorDiv(ofEra, 1_460) + floorDiv(ofEra, 36_524) - floorDiv(ofEra, 146_096),
    365,
  );
  const dayOfYear = ofEra - (365 * yearOfEra + floorDiv(yearOfEra, 4) - floorDiv(yearOfEra, 100));
  const shifted = floorDiv(5 * dayOfYear + 2, 153);
  const day = dayOfYear - floorDiv(153 * shifted + 2, 5) + 1;
  const month = shifted < 10 ? shifted + 3 : shifted - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  return `${padded(year, 4)}-${padded(month, 2)}-${padded(day, 2)}`;
}

/**
 * Division rounded down, exact for whole numbers: the remainder is exact where the quotient may be rounded up.
 *
 * @param {number} one
 * @param {number} by above 0
 */
function floorDiv(one, by) {
  const rest = ((one % by) + by) % by;
  return (one - rest) / by;
}

/** @param {number} number @param {number} width */
const padded = (number, width) => String(number).padStart(width, "0");
