// @ts-check
/**
 * One entry before the rules, and the ruling it gets: the words `questions`, `changes` and `rules` share.
 *
 * Twin of `app/domain/case.py`.
 */
import { typedOf } from "./entry.js";
import { indexOf, packetFrom } from "./packet.js";
import { cosine } from "./rule_table.js";
import { Unreadable } from "./shapes.js";
import { atFastener } from "./torque.js";

/** @typedef {import("./entry.js").Heard} Heard */
/** @typedef {import("./entry.js").Signed} Signed */
/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Wrench} Wrench */
/** @typedef {import("./rule_table.js").RuleTable} RuleTable */
/** @typedef {import("./sheet.js").Sheet} Sheet */
/** @typedef {import("./sheet.js").Mark} Mark */

/**
 * Why an entry is set aside.
 *
 * @typedef {"step_locked"|"gate_shut"|"gate_stale"|"wrong_support"|"held"|"tool_unfit"|"reading_outside"
 *   |"spec_unverified"|"needs_second_person"|"same_person"|"step_changed"|"already_signed"|"away_when_held"
 *   |"unknown_form"|"not_finished"|"not_here"|"wrong_role"|"handed_back"|"not_agreed"} Reason
 */
/** @typedef {{accepted: boolean, reason: Reason|"", details: Record<string, string|number>}} Ruling */

/** @type {Ruling} */
export const ACCEPTED = { accepted: true, reason: "", details: {} };

/**
 * @param {Reason} reason
 * @param {Record<string, string|number>} details
 * @returns {Ruling}
 */
export const aside = (reason, details) => ({ accepted: false, reason, details });

/** One entry before the rules: what the questions look at. */
export class Case {
  /**
   * @param {RuleTable} table
   * @param {Sheet} sheet
   * @param {Heard} heard
   * @param {any} body what `readBody` gave
   */
  constructor(table, sheet, heard, body) {
    this.table = table;
    this.sheet = sheet;
    this.heard = heard;
    this.body = body;
    this.kind = heard.entry.kind;
    this.person = heard.entry.person;
    this.stepId = targetOf(this.kind, body)[0];
  }

  get packet() {
    return /** @type {Packet} */ (this.sheet.packet);
  }

  get step() {
    return /** @type {Step} */ (indexOf(this.packet).steps.get(this.stepId));
  }

  /** @returns {Fastener|null} */
  get fastener() {
    const wanted = this.body.fastener;
    return (wanted && this.step.fasteners.find((one) => one.id === wanted)) || null;
  }
}

/** @type {Record<string, string>} The key that says what within the step, or within the sheet, an entry is about. */
const TARGET = {
  gate_answered: "gate",
  reading_taken: "measure",
  signed_off: "fastener",
  countersigned: "fastener",
  hold_lifted: "hold",
  settled: "aside",
};

/**
 * Which step, and what within it (or within the sheet), an entry is about.
 *
 * @param {string} kind
 * @param {any} body
 * @returns {[string, string]}
 */
export function targetOf(kind, body) {
  if (body === null) return ["", ""];
  const key = TARGET[kind];
  return [body.step ?? "", key === undefined ? "" : body[key]];
}

/**
 * @param {Heard} heard
 * @returns {Mark}
 */
export const markOf = (heard) => ({
  person: heard.entry.person,
  name: heard.name,
  at_ms: heard.heard_at_ms,
  entry: heard.entry.id,
});

/**
 * The values at the fastener, one per stage: torques after the sum for an extension, angles as read.
 *
 * @param {RuleTable} table
 * @param {Packet} packet
 * @param {Signed} body
 * @param {Fastener} fastener
 * @returns {number[]}
 */
export function torquesOf(table, packet, body, fastener) {
  const wrench = indexOf(packet).wrenches.get(body.wrench);
  const stages = fastener.figure !== null ? fastener.figure.stages : [];
  return body.readings.map((reading, index) => {
    const turned = index < stages.length && stages[index].target_mdeg !== null;
    if (turned || wrench === undefined || !extensionCanBe(wrench, body.extension)) return reading.value;
    const extension = /** @type {import("./entry.js").Extension} */ (body.extension);
    const length = /** @type {number} */ (wrench.length_um);
    return atFastener(reading.value, length, extension.length_um, cosine(table, extension.angle_deg));
  });
}

/**
 * Whether this extension can be on this wrench, and adds to its arm rather than undoing it. Two metres and half a turn
 * are house bounds against slips of the keypad.
 *
 * @param {Wrench} wrench
 * @param {import("./entry.js").Extension|null} extension
 */
export function extensionCanBe(wrench, extension) {
  if (extension === null || wrench.length_um === null || wrench.length_um <= 0) return false;
  const { length_um: length, angle_deg: angle } = extension;
  if (!(length > 0 && length <= 2_000_000 && angle >= 0 && angle <= 180)) return false;
  return angle <= 90 || length < wrench.length_um;
}

/**
 * What was typed of several readings, in one line.
 *
 * @param {Signed} body
 */
export const typedLine = (body) => body.readings.map(typedOf).join(", ");

/**
 * The packet in a body, or `null` where it is of a form this version does not know.
 *
 * @param {{packet: unknown}} body
 * @returns {Packet|null}
 */
export function readPacket(body) {
  try {
    return packetFrom(body.packet);
  } catch (error) {
    if (error instanceof Unreadable) return null;
    throw error;
  }
}
