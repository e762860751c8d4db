// @ts-check
/**
 * What the view of a sheet is made with: who looks, at what, how it speaks, and the small parts every form is built of.
 *
 * Twin of `app/domain/view_parts.py`: the same names in the same order. Ids are drawn in the same order too, so that a
 * test can count them at both ends.
 */
import { at } from "./canonical.js";
import { indexOf } from "./packet.js";
import { inOrder } from "./sheet.js";
import { TradeProblem } from "./units.js";

/** @typedef {{[key: string]: any}} View Texts, whole numbers, yes and no, lists, and objects of these. */
/** @typedef {{person: string, name: string, roles: string[]}} Viewer The person at this screen. */
/**
 * How a view speaks: the sentence for a reason and its details, a short word by its key, an instant as a person reads
 * it, an id for an entry that a form may become.
 *
 * @typedef {object} Voice
 * @property {(reason: string, details: Record<string, string|number>) => string} say
 * @property {(key: string) => string} word
 * @property {(atMs: number) => string} when
 * @property {() => string} newId
 */
/**
 * What is said of a sheet that its packet does not hold; `photos_missing` has the photos that are not here yet, by hash,
 * `photos_refused` those of them that never will be. `closed`: the job is not open any more.
 *
 * @typedef {{complaint: string, promised: string, saved: string, people: [string, string][], photos_missing: string[], photos_refused: string[], closed: boolean}} About
 */
/** @typedef {{step: string, fastener: string, wrench: string, extension: string, angle: string, seen: string}} Look As typed. */
/**
 * What is said about the form just sent; `lines` are (field name or "", sentence).
 *
 * @typedef {object} Told
 * @property {string} form
 * @property {Record<string, string>} typed
 * @property {Record<string, string>} troubles
 * @property {[string, string][]} lines
 * @property {boolean} recorded
 */
/**
 * Everything a view is made from, handed from part to part. `waiting` has the ids of entries that are on this tablet
 * only; `pictures` is what `app/domain/pictures.py` made for this packet, `null` until it is here.
 *
 * @typedef {object} Scene
 * @property {import("./sheet.js").Sheet} sheet
 * @property {Viewer} viewer
 * @property {number} now_ms
 * @property {import("./rule_table.js").RuleTable} table
 * @property {import("./units.js").Units} units
 * @property {Voice} voice
 * @property {About} about
 * @property {Look} look
 * @property {Told} told
 * @property {Set<string>} waiting
 * @property {import("./pictures.js").Pictures|null} pictures
 */

/** @type {Look} */
export const NO_LOOK = { step: "", fastener: "", wrench: "", extension: "", angle: "", seen: "" };
/** @type {Told} */
export const NOTHING_TOLD = { form: "", typed: {}, troubles: {}, lines: [], recorded: false };

/** @param {Scene} scene */
export const addressOf = ({ sheet }) => `/jobs/${encoded(sheet.packet ? sheet.packet.number : "")}/sheet`;

/**
 * Whether this person's roles cover such an entry, and the sheet still takes any.
 *
 * @param {Scene} scene
 * @param {string} kind
 */
export function may({ sheet, table, viewer }, kind) {
  const takes = sheet.handed_back === null || table.after_handback.includes(kind);
  return takes && table.kinds[kind].roles.some((role) => viewer.roles.includes(role));
}

/**
 * @param {Scene} scene
 * @param {string} group
 * @param {string} key
 */
export const wordOf = (scene, group, key) => scene.voice.word(`${group}.${key}`);

/**
 * Where a step, and perhaps something in it, can be looked at.
 *
 * @param {Scene} scene
 * @param {string} step
 * @param {{at?: string, wrench?: string, extension?: string, angle?: string, seen?: string}} [more]
 */
export function stepAddress(scene, step, { at: fastener = "", wrench = "", extension = "", angle = "", seen = "" } = {}) {
  const parts = [["step", step], ["at", fastener], ["wrench", wrench], ["extension", extension], ["angle", angle], ["seen", seen]];
  const asked = parts.filter(([, text]) => text).map(([name, text]) => `${name}=${encoded(text)}`);
  return `${addressOf(scene)}?${asked.join("&")}`;
}

/** Text for an address. */
export const encoded = encodeURIComponent;

/**
 * A value as a person reads it, in this unit, or in the usual one if the unit is of no use here.
 *
 * @param {import("./units.js").Units} units
 * @param {string} dimension
 * @param {number|bigint} value
 * @param {string} unit
 */
export function amount(units, dimension, value, unit) {
  const quantity = { dimension, value, unit: "", text: "" };
  try {
    return units.show(quantity, unit || null);
  } catch (problem) {
    if (!(problem instanceof TradeProblem)) throw problem;
    return units.show(quantity);
  }
}

/**
 * Where an entry is, in words: nothing for what the office has.
 *
 * @param {Scene} scene
 * @param {string} entry
 */
export const whereOf = (scene, entry) => (scene.waiting.has(entry) ? wordOf(scene, "where", "tablet") : "");

/**
 * @param {Scene} scene
 * @param {import("./sheet.js").Mark|null} mark
 * @returns {View}
 */
export function markView(scene, mark) {
  if (mark === null) return { shown: false, name: "", at: "", where: "" };
  return { shown: true, name: mark.name, at: scene.voice.when(mark.at_ms), where: whereOf(scene, mark.entry) };
}

/**
 * A form that becomes an entry: its id, what was seen when it was made, and whatever it is about.
 *
 * @param {Scene} scene
 * @param {string} key
 * @param {string} kind
 * @param {[string, string|number][]} [hidden]
 * @returns {View}
 */
export function formView(scene, key, kind, hidden = []) {
  const { sheet } = scene;
  const basis = [
    ["sheet_form", key],
    ["kind", kind],
    ["entry", scene.voice.newId()],
    ["basis_packet", sheet.packet ? indexOf(sheet.packet).hash : ""],
    ["basis_support", sheet.support.revision],
    ["basis_holds", inOrder(sheet.holds).map(([hold]) => hold).join(" ")],
    ...hidden,
  ];
  return { key, hidden: basis.map(([name, value]) => ({ name, value: String(value) })) };
}

/**
 * A field of a form, with what was typed into it if this form was the one just sent.
 *
 * @param {Scene} scene
 * @param {string} form
 * @param {string} name
 * @param {string} label
 * @param {{hint?: string, unit?: string, units?: readonly string[], typed?: string}} [choice]
 * @returns {View}
 */
export function fieldView(scene, form, name, label, { hint = "", unit = "", units = [], typed = "" } = {}) {
  const mine = scene.told.form === form;
  return {
    id: fieldId(form, name),
    name,
    label,
    hint,
    unit,
    units: units.join("|"),
    typed: (mine ? at(scene.told.typed, name) : undefined) ?? typed,
    trouble: (mine ? at(scene.told.troubles, name) : undefined) ?? "",
  };
}

/**
 * A question with a closed set of answers. Nothing is chosen unless this form was just sent with it.
 *
 * @param {Scene} scene
 * @param {string} form
 * @param {string} name
 * @param {string} label
 * @param {[string, string][]} options
 * @returns {View}
 */
export function choiceView(scene, form, name, label, options) {
  const mine = scene.told.form === form;
  const chosen = (mine ? at(scene.told.typed, name) : undefined) ?? "";
  const id = fieldId(form, name);
  return {
    id,
    name,
    label,
    options: options.map(([key, words]) => ({ id: `${id}-${key}`, value: key, words, chosen: key === chosen })),
    trouble: (mine ? at(scene.told.troubles, name) : undefined) ?? "",
  };
}

/**
 * @param {string} form
 * @param {string} name
 */
const fieldId = (form, name) => `${form}-${name}`;
