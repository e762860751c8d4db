// @ts-check
/**
 * A sheet: what replaying the ledger of one job gives, in the plain form both ends hash, with its packet beside.
 *
 * Twin of `app/domain/sheet.py`. Sheets are never changed: what changes makes a new one.
 */
import { at, byCodePoint, digest } from "./canonical.js";

/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {{person: string, name: string, at_ms: number, entry: string}} Mark */
/** @typedef {{mark: Mark, value: number, text: string, unit: string, within: boolean|null}} Taken */
/**
 * @typedef {object} Signature
 * @property {Mark} mark
 * @property {"snug"|"final"} tighten
 * @property {string[]} texts
 * @property {number[]} values
 * @property {string} wrench
 * @property {number} extension_um
 * @property {number} extension_deg
 * @property {boolean} new_part
 */
/** @typedef {{mark: Mark, choice: string, verdict: string, reason: string}} Outcome */
/** @typedef {{mark: Mark, text: string, photo: string}} Note */
/**
 * @typedef {object} StepNow
 * @property {Mark|null} done
 * @property {Record<string, Taken>} readings
 * @property {Record<string, Signature>} signatures
 * @property {Record<string, Signature>} counters
 * @property {Mark|null} seen
 * @property {string} seen_text
 * @property {Outcome|null} outcome
 * @property {string[]} new_parts
 * @property {Note[]} notes
 * @property {Note[]} reopened
 */
/**
 * @typedef {object} Said
 * @property {string} choice
 * @property {boolean|null} ready
 * @property {number|null} value
 * @property {string} text
 * @property {boolean} passes
 * @property {string} entry
 * @property {number} at_ms
 */
/**
 * @typedef {object} GateNow
 * @property {string} person
 * @property {string} name
 * @property {number} support_revision
 * @property {number} began_at_ms
 * @property {Record<string, Said>} answers
 * @property {number|null} cleared_at_ms
 * @property {number} revision
 * @property {boolean} handed_over
 */
/**
 * @typedef {object} SupportNow
 * @property {import("./packet.js").Support} state
 * @property {import("./packet.js").Axle} axle
 * @property {string} bears
 * @property {number} revision
 * @property {Mark|null} mark
 */
/** @typedef {{mark: Mark, step: string, reason: string, lifted: Mark|null, lifted_reason: string}} Hold */
/**
 * @typedef {object} Aside
 * @property {Mark} mark
 * @property {string} kind
 * @property {string} step
 * @property {string} target
 * @property {string} reason
 * @property {Record<string, string|number>} details
 * @property {Mark|null} settled
 * @property {string} outcome
 * @property {string} settled_reason
 */
/** @typedef {{mark: Mark, to: string, to_name: string, note: string}} HandOver */
/**
 * @typedef {object} State
 * @property {string} job
 * @property {string} packet_hash
 * @property {number} entries
 * @property {SupportNow} support
 * @property {Record<string, StepNow>} steps
 * @property {Record<string, GateNow>} gates
 * @property {Record<string, Hold>} holds
 * @property {Record<string, Aside>} asides
 * @property {HandOver[]} hand_overs
 * @property {Note[]} notes
 * @property {Mark|null} handed_back
 * @property {string} handed_back_note
 * @property {string[]} editions
 * @property {Record<string, number>} gates_since
 */
/** @typedef {State & {packet: Packet|null}} Sheet */

/** @type {StepNow} */
export const UNTOUCHED = {
  done: null,
  readings: {},
  signatures: {},
  counters: {},
  seen: null,
  seen_text: "",
  outcome: null,
  new_parts: [],
  notes: [],
  reopened: [],
};

/**
 * The sheet of a job before anything was heard of it.
 *
 * @param {string} job
 * @returns {Sheet}
 */
export const emptySheet = (job) => ({
  job,
  packet: null,
  packet_hash: "",
  entries: 0,
  support: { state: "on_wheels", axle: "both", bears: "", revision: 0, mark: null },
  steps: {},
  gates: {},
  holds: {},
  asides: {},
  hand_overs: [],
  notes: [],
  handed_back: null,
  handed_back_note: "",
  editions: [],
  gates_since: {},
});

/**
 * @param {Sheet} sheet
 * @param {string} stepId
 */
export const stepNow = (sheet, stepId) => at(sheet.steps, stepId) ?? UNTOUCHED;

/**
 * @param {Sheet} sheet
 * @param {string} stepId
 * @param {StepNow} now
 * @returns {Sheet}
 */
export const withStep = (sheet, stepId, now) => ({ ...sheet, steps: { ...sheet.steps, [stepId]: now } });

/**
 * The hold tags hung on this step (or, for "", on the whole sheet), those taken off again too.
 *
 * @param {Sheet} sheet
 * @param {string} stepId
 */
export const holdsOn = (sheet, stepId) =>
  inOrder(sheet.holds).filter(([, hold]) => hold.step === "" || hold.step === stepId);

/**
 * The hold tag that stops this step (or, for "", the whole sheet), if one hangs.
 *
 * @param {Sheet} sheet
 * @param {string} stepId
 */
export const openHold = (sheet, stepId) => holdsOn(sheet, stepId).find(([, hold]) => hold.lifted === null);

/**
 * The plain state; the packet by its hash.
 *
 * @param {Sheet} sheet
 * @returns {State}
 */
export function stateOf(sheet) {
  const { packet, ...state } = sheet;
  return state;
}

/** @param {Sheet} sheet */
export const hashOf = (sheet) => digest(stateOf(sheet));

/**
 * What was signed, hung or set aside as the office heard it; what was heard at one instant by its key.
 *
 * @template {{mark: Mark}} T
 * @param {Record<string, T>} marked
 * @returns {[string, T][]}
 */
export const inOrder = (marked) =>
  Object.entries(marked).sort(([one, a], [other, b]) => a.mark.at_ms - b.mark.at_ms || byCodePoint(one, other));

/**
 * Put a stored state and its packet together again.
 *
 * @param {State} state
 * @param {Packet|null} packet
 * @returns {Sheet}
 */
export const sheetFrom = (state, packet) => ({ ...state, packet });
