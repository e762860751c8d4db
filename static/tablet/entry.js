// @ts-check
/**
 * An entry: one thing a person did to a sheet, in the form it is sent, kept and replayed.
 *
 * Twin of `app/domain/entry.py`: the same kinds, the same shapes and bounds. A body in a form this version does not know
 * is read as `null`.
 */
import { strip } from "./canonical.js";
import { AXLES, SUPPORTS, VERDICTS } from "./packet.js";
import { Unreadable, list, matching, object, oneOf, orNone, record, table, text, whole, yes } from "./shapes.js";

/** @typedef {import("./packet.js").Support} Support */
/** @typedef {import("./packet.js").Axle} Axle */
/**
 * @typedef {object} Basis
 * @property {string} packet
 * @property {number|null} step_revision
 * @property {number|null} support_revision
 * @property {number|null} gate_revision
 * @property {string[]|null} holds
 */
/**
 * @typedef {object} Entry
 * @property {number} v
 * @property {string} id
 * @property {string} tablet
 * @property {number} seq
 * @property {string} job
 * @property {string} kind
 * @property {Record<string, unknown>} body
 * @property {string} person
 * @property {number} noted_at_ms
 * @property {Basis} basis
 * @property {number} clock_offset_ms
 * @property {string} bundle
 */
/** @typedef {{entry: Entry, order: number, heard_at_ms: number, name: string, roles: string[]}} Heard */
/** @typedef {{value: number, text: string, unit: string}} Reading */
/** @typedef {{length_um: number, angle_deg: number}} Extension */
/** @typedef {{choice: string, ready: boolean|null, value: number|null, text: string, unit: string}} Answer */
/**
 * A sign-off, or a second person's own reading, which has `seen` instead of `new_part`.
 *
 * @typedef {object} Signed
 * @property {string} step
 * @property {string} fastener
 * @property {Reading[]} readings
 * @property {string} wrench
 * @property {Extension|null} extension
 * @property {boolean} [new_part]
 * @property {string} [seen]
 */

export const ENTRY_FORM = 1;
export const TEXT_LIMIT = 2000;
export const LIST_LIMIT = 50;
/** How deep a body may nest; the office's reader of JSON goes no deeper. */
const DEPTH_LIMIT = 200;

const name = matching(/^[!-~]{1,100}$/);
const nameOrNone = matching(/^[!-~]{0,100}$/);
const sha256 = matching(/^[0-9a-f]{64}$/);
const words = text(TEXT_LIMIT);

const basis = record(
  {
    packet: [nameOrNone, ""],
    step_revision: [orNone(whole), null],
    support_revision: [orNone(whole), null],
    gate_revision: [orNone(whole), null],
    holds: [orNone(list(name, 1000)), null],
  },
  { extra: "ignored" },
);
const envelope = record(
  {
    v: [whole],
    id: [name],
    tablet: [name],
    seq: [whole],
    job: [name],
    kind: [name],
    body: [object],
    person: [name],
    noted_at_ms: [whole],
    basis: [basis, basis({})],
    clock_offset_ms: [whole, 0],
    bundle: [nameOrNone, ""],
  },
  { extra: "ignored" },
);

const reading = record({ value: [whole], text: [words, ""], unit: [words, ""] });
const extension = record({ length_um: [whole], angle_deg: [whole, 0] });
const answer = record({
  choice: [words, ""],
  ready: [orNone(yes), null],
  value: [orNone(whole), null],
  text: [words, ""],
  unit: [words, ""],
});
const readings = list(reading, LIST_LIMIT);

/** @type {Record<string, import("./shapes.js").Reader<any>>} */
const BODIES = {
  packet_pinned: record({ packet: [object] }),
  gate_answered: record({ gate: [words], answers: [table(words, answer, LIST_LIMIT)] }),
  reading_taken: record({ step: [words], measure: [words], reading: [reading], trace: [words, undefined] }),
  signed_off: record({
    step: [words],
    fastener: [words],
    readings: [readings, []],
    wrench: [words, ""],
    extension: [orNone(extension), null],
    new_part: [yes, false],
  }),
  countersigned: record({
    step: [words],
    fastener: [words, ""],
    readings: [readings, []],
    wrench: [words, ""],
    extension: [orNone(extension), null],
    seen: [words, ""],
  }),
  step_done: record({ step: [words], new_parts: [list(words, LIST_LIMIT), []] }),
  step_reopened: record({ step: [words], reason: [words] }),
  support_changed: record({ state: [oneOf(SUPPORTS)], axle: [oneOf(AXLES)], bears: [words, ""] }),
  hold_placed: record({ reason: [words], step: [words, ""] }),
  hold_lifted: record({ hold: [words], reason: [words] }),
  handed_over: record({ to: [words], to_name: [words], note: [words, ""] }),
  test_recorded: record({ step: [words], choice: [words], verdict: [oneOf(VERDICTS)], reason: [words, ""] }),
  note_added: record({ text: [words], step: [words, ""] }),
  photo_added: record({ sha256: [sha256], name: [words], step: [words, ""] }),
  settled: record({ aside: [words], outcome: [words], reason: [words] }),
  handed_back: record({ note: [words, ""] }),
};

export const KINDS = Object.keys(BODIES);

/**
 * Give the entry's body in its kind's shape, or `null` when this version does not know the form.
 *
 * @param {Entry} entry
 * @returns {any}
 */
export function readBody(entry) {
  if (!KINDS.includes(entry.kind) || entry.v !== ENTRY_FORM) return null;
  if (!isJson(entry.body, DEPTH_LIMIT)) return null;
  try {
    return BODIES[entry.kind](entry.body);
  } catch (error) {
    if (error instanceof Unreadable) return null;
    throw error;
  }
}

/**
 * Read an envelope; keys it does not know are left out. Throws `Unreadable` when it is none.
 *
 * @param {unknown} data
 * @returns {Entry}
 */
export const entryFrom = (data) => envelope(data);

/**
 * What the person typed, number and unit.
 *
 * @param {Reading} one
 * @returns {string}
 */
export const typedOf = (one) => strip(`${one.text} ${one.unit}`);

const HALF_A_PAIR = /[\ud800-\udfff]/u;

/**
 * Whether this is JSON that both ends can write: whole texts, and no nesting without end.
 *
 * @param {unknown} value
 * @param {number} depth how many levels there may still be
 * @returns {boolean}
 */
function isJson(value, depth) {
  if (typeof value === "string") return !HALF_A_PAIR.test(value);
  if (typeof value !== "object" || value === null) return true;
  const members = Array.isArray(value) ? value : [...Object.keys(value), ...Object.values(value)];
  return members.length === 0 || (depth > 0 && members.every((one) => isJson(one, depth - 1)));
}
