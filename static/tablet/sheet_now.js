// @ts-check
/** A sheet as this tablet knows it: the office's own, with what was noted here since replayed over it. */
import { parse } from "./canonical.js";
import { entryFrom } from "./entry.js";
import { packetFrom } from "./packet.js";
import { isRuled } from "./pocket.js";
import { sheetFrom } from "./sheet.js";

/** @typedef {import("./case.js").Ruling} Ruling */

/** @type {WeakMap<object, import("./packet.js").Packet>} A packet is read once, and not again at each tap. */
const packets = new WeakMap();

/** @param {object|null} plain as the pocket keeps it */
function packetOf(plain) {
  if (plain === null) return null;
  const packet = packets.get(plain) ?? packetFrom(plain);
  packets.set(plain, packet);
  return packet;
}

/** @typedef {{sheet: import("./sheet.js").Sheet, rulings: Record<string, Ruling>, waiting: Set<string>, through: number, order: number}} Now */

/**
 * `rulings`: of what was noted here, the office's where it has ruled, else what the rules say on the sheet as it is
 * now, so that a hold that came meanwhile shows at once. `waiting`: the ids of what is on this tablet only.
 *
 * @param {any} kept what `pocket.sheet` gave
 * @param {import("./rules.js").Rules} rules
 * @returns {Now}
 */
export function sheetNow(kept, rules) {
  const { state, packet, through } = kept.base;
  const base = { sheet: sheetFrom(state, packetOf(packet)), rulings: {}, waiting: new Set(), through, order: through };
  return withRows(base, kept.later, rules);
}

/**
 * The sheet after more was noted: from where it was, not from the beginning.
 *
 * @param {Now} now
 * @param {any[]} rows in the order of their numbers
 * @param {import("./rules.js").Rules} rules
 * @returns {Now}
 */
export function withRows(now, rows, rules) {
  let { sheet, order } = now;
  const rulings = { ...now.rulings };
  const waiting = new Set(now.waiting);
  for (const row of rows) {
    const office = isRuled(row) ? row.office : null;
    if (office !== null) rulings[row.id] = office;
    if (office !== null && office.order <= now.through) continue;
    order += 1;
    const { name, roles, at_ms: atMs } = row.heard;
    const heard = { entry: entryFrom(parse(row.text)), order, heard_at_ms: atMs, name, roles };
    const ruling = office ?? rules.decide(sheet, heard);
    sheet = rules.evolve(sheet, heard, ruling);
    rulings[row.id] = ruling;
    if (office === null) waiting.add(row.id);
  }
  return { ...now, sheet, rulings, waiting, order };
}
