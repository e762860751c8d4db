// @ts-check
/** A sheet as this tablet knows it: the office's own, with what was noted here since replayed over it. */
import { parse } from "./canonical.js";
import { entryFrom } from "./entry.js";
import { packetFrom } from "./packet.js";
import { isRuled } from "./pocket.js";
import { sheetFrom } from "./sheet.js";

/** @typedef {import("./case.js").Ruling} Ruling */

/**
 * `rulings`: of what was noted here, the office's where it has ruled, else what the rules say on the sheet as it is
 * now, so that a hold that came meanwhile shows at once. `waiting`: the ids of what is on this tablet only.
 *
 * @param {any} kept what `pocket.sheet` gave
 * @param {import("./rules.js").Rules} rules
 */
export function sheetNow(kept, rules) {
  const { state, packet, through } = kept.base;
  let sheet = sheetFrom(state, packet === null ? null : packetFrom(packet));
  let order = through;
  /** @type {Record<string, Ruling>} */
  const rulings = {};
  /** @type {Set<string>} */
  const waiting = new Set();
  for (const row of kept.later) {
    const office = isRuled(row) ? row.office : null;
    if (office !== null && office.order <= through) continue;
    order += 1;
    const { name, roles, at_ms: atMs } = row.heard;
    const heard = { entry: entryFrom(parse(row.text)), order, heard_at_ms: atMs, name, roles };
    const ruling = office ?? rules.decide(sheet, heard);
    sheet = rules.evolve(sheet, heard, ruling);
    rulings[row.id] = ruling;
    if (office === null) waiting.add(row.id);
  }
  return { sheet, rulings, waiting };
}
