// @ts-check
/**
 * The drawings that came beside the packet, looked up: a tablet draws none itself.
 *
 * Twin of `app/domain/pictures.py`, but for making them.
 */
import { at } from "./canonical.js";
import { indexOf } from "./packet.js";
import { WHOLE_VEHICLE } from "./standing.js";

/** @typedef {import("./packet.js").Step} Step */
/** @typedef {{parts: any[], by_key: Record<string, Record<string, number>>, stars: any[]}} Pictures */
/**
 * @typedef {object} Asked
 * @property {string} layout
 * @property {string} place
 * @property {"front"|"rear"} axle
 * @property {boolean} both_axles
 * @property {string} corner
 * @property {string} support
 * @property {string} load
 */

/**
 * What tells the pictures of one packet apart: an axle has one layout in it.
 *
 * @param {Asked} asked
 */
const pictureKey = (asked) =>
  `${asked.axle} ${asked.both_axles ? "both" : "one"} ${asked.corner || "-"} ${asked.support} ${asked.load}`;

/**
 * A picture put together again from its parts; one that is not there is not shown.
 *
 * @param {Pictures|null} pictures
 * @param {Asked} asked
 */
export function pictureAt(pictures, asked) {
  const found = pictures ? at(pictures.by_key, pictureKey(asked)) : undefined;
  if (!pictures || found === undefined) return { shown: false };
  return Object.fromEntries(Object.entries(found).map(([name, place]) => [name, pictures.parts[place]]));
}

/**
 * What is to be drawn beside this step. Without a step the work is on the whole vehicle.
 *
 * @param {import("./packet.js").Packet} packet
 * @param {Step|null} step
 * @param {import("./sheet.js").SupportNow} now
 * @returns {Asked}
 */
export function askedFor(packet, step, now) {
  const axle = step !== null ? step.axle : "both";
  const drawn = axle === "rear" ? "rear" : "front";
  const layout = at(packet.layouts, drawn) ?? "";
  const support = isHeldHere(now, drawn) ? now.state : "on_wheels";
  const loads = loadsOnStands(packet, step, support);
  return {
    layout,
    place: layout === "air" ? at(packet.layouts, `${drawn}_place`) ?? "" : layout,
    axle: drawn,
    both_axles: axle === "both",
    corner: step !== null ? step.corner : "",
    support,
    load: loads.length ? loads[0].text : "",
  };
}

/**
 * Whether what holds the vehicle holds this axle.
 *
 * @param {import("./sheet.js").SupportNow} now
 * @param {"front"|"rear"} drawn
 */
export const isHeldHere = (now, drawn) =>
  WHOLE_VEHICLE.includes(now.state) || now.axle === "both" || now.axle === drawn;

/**
 * What the step's gate reckons that its stands carry, where it stands on any.
 *
 * @param {import("./packet.js").Packet} packet
 * @param {Step|null} step
 * @param {string} support
 */
export function loadsOnStands(packet, step, support) {
  if (step === null || !support.startsWith("stands_")) return [];
  const { gates } = indexOf(packet);
  return step.gates
    .map((key) => /** @type {import("./packet.js").Gate} */ (gates.get(key)))
    .flatMap((gate) => (gate.key === "stands" ? gate.reckoned : []));
}

/**
 * Whether wheel nuts are drawn up here.
 *
 * @param {Step} step
 */
export const hasWheelNuts = (step) => step.fasteners.some((one) => one.figure_key === "wheel_nuts");
