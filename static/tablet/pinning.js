// @ts-check
/**
 * Whether a packet may be pinned: read without loss, whole in itself, and honest about what it changed.
 *
 * Twin of `app/domain/pinning.py`.
 */
import { LARGEST_WHOLE, at, isSame } from "./canonical.js";
import { indexOf } from "./packet.js";

/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {import("./packet.js").Step} Step */

const PACKET_FORM = 1;
const DATE = /^[0-9]{4}-[0-9]{2}-[0-9]{2}$/;

/**
 * Say, for the developer, what reading this data as a packet would lose; `null` for nothing.
 *
 * @param {unknown} data
 * @param {Packet} packet
 */
export function whyNotRead(data, packet) {
  if (!isKept(data, packet)) return "something in it is of another form and would be lost or altered by reading it";
  if (packet.v !== PACKET_FORM) return `form ${packet.v} of a packet, and this version reads ${PACKET_FORM}`;
  return null;
}

/**
 * Say, for the developer, what is wrong with a packet; `null` for nothing.
 *
 * @param {Packet} packet
 * @param {Packet|null} before
 */
export function whyNotPinned(packet, before) {
  const faults = [...wrenchFaults(packet.wrenches), ...gateFaults(packet.gates), ...stepFaults(packet)];
  if (before !== null) faults.push(...silentChanges(before, packet));
  return faults.length ? faults[0] : null;
}

/**
 * Whether all that was given is in what was read, unaltered. What was left out may have been filled in.
 *
 * @param {any} given
 * @param {any} read
 * @returns {boolean}
 */
export function isKept(given, read) {
  if (Array.isArray(given)) {
    return Array.isArray(read) && given.length === read.length && given.every((one, i) => isKept(one, read[i]));
  }
  if (typeof given === "object" && given !== null) {
    if (typeof read !== "object" || read === null || Array.isArray(read)) return false;
    return Object.keys(given).every((key) => at(read, key) !== undefined && isKept(given[key], read[key]));
  }
  if (typeof given === "number" && Math.abs(given) > LARGEST_WHOLE) return false;
  return given === read;
}

/** @param {import("./packet.js").Wrench[]} wrenches */
function wrenchFaults(wrenches) {
  const undated = wrenches.filter((one) => one.due_on && !DATE.test(one.due_on));
  return [
    ...unnamedOrTwice("wrench", wrenches.map((one) => one.tag)),
    ...undated.map((one) => `wrench ${one.tag} is due on '${one.due_on}'`),
  ];
}

/** @param {import("./packet.js").Gate[]} gates */
function gateFaults(gates) {
  return [
    ...unnamedOrTwice("gate", gates.map((gate) => gate.id)),
    ...gates.flatMap((gate) => [
      ...(gate.checks.length ? [] : [`gate ${gate.id} asks nothing`]),
      ...unnamedOrTwice(`gate ${gate.id} check`, gate.checks.map((check) => check.id)),
    ]),
  ];
}

/** @param {Packet} packet */
function stepFaults(packet) {
  const { steps, gates } = indexOf(packet);
  const faults = unnamedOrTwice("step", packet.steps.map((step) => step.id));
  if (!packet.steps.length) faults.push("it has no steps");
  for (const step of packet.steps) {
    const gone = step.gates.filter((key) => !gates.has(key));
    const early = step.after.filter((key) => !steps.has(key));
    faults.push(
      ...gone.map((key) => `step ${step.id} names gate ${key}, which is not there`),
      ...early.map((key) => `step ${step.id} comes after ${key}, which is not there`),
      ...unnamedOrTwice(`step ${step.id} measure`, step.measures.map((one) => one.id)),
      ...unnamedOrTwice(`step ${step.id} fastener`, step.fasteners.map((one) => one.id)),
      ...unnamedOrTwice(`step ${step.id} one-time part`, step.one_time.map((one) => one.id)),
    );
  }
  return faults;
}

/**
 * A step that reads otherwise than in the edition before and bears the same, or a lower, revision.
 *
 * @param {Packet} before
 * @param {Packet} packet
 */
function silentChanges(before, packet) {
  const old = indexOf(before).steps;
  return packet.steps
    .filter((step) => {
      const was = old.get(step.id);
      return was && (step.revision < was.revision || (step.revision === was.revision && !isSame(step, was)));
    })
    .map((step) => `step ${step.id} was changed and its revision was not raised`);
}

/**
 * @param {string} what
 * @param {string[]} names
 */
function unnamedOrTwice(what, names) {
  const seen = new Set();
  const faults = [];
  for (const name of names) {
    if (!name || seen.has(name)) faults.push(name ? `${what} '${name}' is there twice` : `a ${what} has no name`);
    seen.add(name);
  }
  return faults;
}
