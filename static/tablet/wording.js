// @ts-check
/**
 * A packet with its texts in the language of who reads it, from the table that came beside it.
 *
 * Twin of `app/domain/wording.py`: for what is shown; what is ruled on keeps the English.
 */
import { at } from "./canonical.js";
import { indexOf } from "./packet.js";

/** @typedef {Record<string, string>} Said words by their English */
/** @typedef {{mark: string, packet: Said, pictures: Said}} Beside what came beside a packet, in one language */

// Fields of a packet that hold words of procedures; whatever else is in one is a key, a number or typed by people.
const PACKET_TEXTS = new Set([
  "title", "do", "why", "caution", "tools", "photo", "ask", "window_text", "place", "what", "part", "against",
  "words", "label", "text", "inputs", "certainty", "intro", "otherwise", "limit_text", "needs_input",
]);

// Those of a picture; `parts` are the pieces that pictures have in common.
const PICTURE_TEXTS = new Set(["parts", "words", "side", "bears", "path_words", "joint_words", "spring_words"]);

/**
 * @param {any} value
 * @param {Said} said
 * @param {Set<string>} fields whose texts are said
 * @param {string} [name] of the field it stands in
 * @returns {any}
 */
function saidIn(value, said, fields, name = "") {
  if (typeof value === "string") return fields.has(name) ? at(said, value) ?? value : value;
  if (Array.isArray(value)) return value.map((one) => saidIn(one, said, fields, name));
  if (typeof value !== "object" || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, saidIn(one, said, fields, key)]));
}

/** @type {WeakMap<object, {mark: string, made: any}>} Said once, and not again at each tap. */
const known = new WeakMap();

/** @param {object} thing @param {string} mark @param {() => any} make */
function once(thing, mark, make) {
  const before = known.get(thing);
  if (before?.mark === mark) return before.made;
  const made = make();
  known.set(thing, { mark, made });
  return made;
}

/**
 * The packet with its texts as said. It keeps the hash of what was pinned.
 *
 * @param {import("./packet.js").Packet} packet
 * @param {Beside|null} beside
 * @returns {import("./packet.js").Packet}
 */
export function packetIn(packet, beside) {
  return beside === null ? packet : once(packet, beside.mark, () => {
    const made = saidIn(packet, beside.packet, PACKET_TEXTS);
    indexOf(made, indexOf(packet).hash);
    return made;
  });
}

/**
 * @param {import("./pictures.js").Pictures|null} pictures
 * @param {Beside|null} beside
 * @returns {import("./pictures.js").Pictures|null}
 */
export const picturesIn = (pictures, beside) =>
  pictures === null || beside === null ? pictures : once(pictures, beside.mark, () => saidIn(pictures, beside.pictures, PICTURE_TEXTS));
