// @ts-check
/**
 * What a sheet's page says after one of its forms was sent, and where it looks next.
 *
 * Twin of `app/domain/reply.py`.
 */
import { at, strip } from "./canonical.js";
import { indexOf } from "./packet.js";
import { stepNow } from "./sheet.js";
import { NOTHING_TOLD, NO_LOOK } from "./view_parts.js";

/** @typedef {Record<string, string>} Fields */
/** @typedef {import("./texts.js").Problem} Problem */
/** @typedef {import("./case.js").Ruling} Ruling */

const LOOKED_AT = 200;
// What a person read off a wrench is asked for again when it was set aside: it belonged to that tightening.
const NEVER_KEPT = /^(?:reading\.|new_part|part\.|answer\.|value\.)/;

/** @param {Ruling[]} rulings */
const isAccepted = (rulings) => rulings.length > 0 && rulings.every((one) => one.accepted);

/**
 * Where to look next: on at the same step while something is open in it, and at what could not be recorded.
 *
 * @param {Fields} fields
 * @param {Problem[]} problems with any, there are no rulings
 * @param {Ruling[]} rulings
 * @param {import("./sheet.js").Sheet} sheet after the last of them
 * @returns {import("./view_parts.js").Look}
 */
export function lookAfter(fields, problems, rulings, sheet) {
  /** @param {string} name */
  const field = (name) => at(fields, name) ?? "";
  const step = field("step") || field("look");
  if (problems.length || !isAccepted(rulings)) {
    const [wrench, extension, angle] = ["wrench", "extension", "angle"].map((name) => cut(strip(field(name))));
    return { step: cut(step), fastener: cut(field("fastener")), wrench, extension, angle, seen: "" };
  }
  const known = sheet.packet !== null && indexOf(sheet.packet).steps.has(step);
  // A step just closed gives way to the next one; one that still waits, or was opened again, stays in hand.
  if (!known || (stepNow(sheet, step).done !== null && field("kind") === "step_done")) return NO_LOOK;
  return { ...NO_LOOK, step };
}

/** @param {string} text */
const cut = (text) => (text.length > LOOKED_AT ? Array.from(text).slice(0, LOOKED_AT).join("") : text);

/**
 * What the page says about the form just sent, and what typed it keeps.
 *
 * @param {Fields} fields
 * @param {Problem[]} problems
 * @param {Ruling[]} rulings
 * @param {import("./texts.js").Texts} texts
 * @returns {import("./view_parts.js").Told}
 */
export function toldOf(fields, problems, rulings, texts) {
  const form = at(fields, "sheet_form") ?? "";
  if (problems.length) {
    const lines = problems.map((one) => /** @type {[string, string]} */ ([one.field, texts.say(one)]));
    const troubles = Object.fromEntries(lines.filter(([name]) => name).reverse());
    return { form, typed: fields, troubles, lines, recorded: false };
  }
  if (isAccepted(rulings)) return { ...NOTHING_TOLD, recorded: true };
  const aside = rulings.filter((one) => !one.accepted);
  return {
    form,
    typed: Object.fromEntries(Object.entries(fields).filter(([name]) => !NEVER_KEPT.test(name))),
    troubles: {},
    lines: aside.map((one) => ["", texts.sayRuling(one.reason, one.details)]),
    recorded: false,
  };
}
