// @ts-check
/**
 * A packet: everything a sheet needs, compiled from procedures and one vehicle's facts, pinned and hashed.
 *
 * Twin of `app/domain/packet.py`: the same names in the same order. A packet here is its plain JSON form.
 */
import { digest } from "./canonical.js";
import { list, oneOf, orNone, pair, record, table, text, wholeOfAnySize as whole, yes } from "./shapes.js";

/** @typedef {"on_wheels"|"on_ramp"|"lift_frame"|"stands_frame"|"stands_arm"|"stands_axle"} Support */
/** @typedef {"front"|"rear"|"both"} Axle */
/** @typedef {{key: string, words: string, passes: boolean, until_ms?: number}} Choice */
/** @typedef {{label: string, text: string, inputs: string, certainty: string}} Reckoned */
/**
 * @typedef {object} Check
 * @property {string} id
 * @property {"seen"|"value"|"ready"} kind
 * @property {string} ask
 * @property {string} otherwise
 * @property {Choice[]} choices
 * @property {string} dimension
 * @property {string} unit
 * @property {number|null} at_least
 * @property {number|null} at_most
 * @property {[string, string]|null} halve_unless
 * @property {string} limit_text
 * @property {string} needs_input
 */
/**
 * @typedef {object} Gate
 * @property {string} id
 * @property {string} key
 * @property {string} title
 * @property {"danger"|"warning"|"caution"} signal
 * @property {string} symbol
 * @property {string} intro
 * @property {Check[]} checks
 * @property {number} stale_after_s
 * @property {boolean} follows_support
 * @property {Reckoned[]} reckoned
 * @property {Support[]} supports
 */
/**
 * @typedef {object} Measure
 * @property {string} id
 * @property {string} ask
 * @property {string} dimension
 * @property {string} unit
 * @property {boolean} must
 * @property {boolean} required
 * @property {number|null} low
 * @property {number|null} high
 * @property {string} window_text
 * @property {string} source
 */
/**
 * @typedef {object} Stage
 * @property {number|null} low_mnm
 * @property {number|null} target_mnm
 * @property {number|null} high_mnm
 * @property {number|null} low_mdeg
 * @property {number|null} target_mdeg
 * @property {number|null} high_mdeg
 * @property {string} text
 */
/**
 * @typedef {object} Figure
 * @property {string} id
 * @property {string} text
 * @property {string} unit
 * @property {Stage[]} stages
 * @property {string} source
 * @property {boolean} verified
 * @property {string} thread
 * @property {string} strength
 * @property {string} lubrication
 * @property {boolean} one_time
 * @property {boolean} critical
 */
/**
 * @typedef {object} Fastener
 * @property {string} id
 * @property {string} place
 * @property {"snug"|"final"} tighten
 * @property {Support[]} load_states
 * @property {string} figure_key
 * @property {string} thread
 * @property {string} strength
 * @property {string} lubrication
 * @property {boolean} one_time
 * @property {boolean} critical
 * @property {boolean} castellated
 * @property {Figure|null} figure
 */
/** @typedef {{id: string, what: string}} OneTime */
/** @typedef {{id: string, part: string, choices: Choice[], against: string}} Trial */
/**
 * @typedef {object} Step
 * @property {string} id
 * @property {string} line
 * @property {string} key
 * @property {string} title
 * @property {string} do
 * @property {string} why
 * @property {Axle} axle
 * @property {Support[]} supports
 * @property {string} corner
 * @property {string} caution
 * @property {string[]} gates
 * @property {Measure[]} measures
 * @property {Fastener[]} fasteners
 * @property {OneTime[]} one_time
 * @property {string[]} tools
 * @property {Trial|null} trial
 * @property {string[]} after
 * @property {boolean} countersign
 * @property {string} photo
 * @property {Reckoned[]} reckoned
 * @property {number} revision
 */
/** @typedef {"waiting"|"agreed"|"changed"|"refused"|"put_back"} PriceState */
/**
 * @typedef {{id: string, procedure: string, version: number, title: string, axle: Axle, corner: string,
 *   price?: PriceState, price_edition?: number}} Line */
/**
 * @typedef {object} Wrench
 * @property {string} tag
 * @property {string} name
 * @property {string} unit
 * @property {number} low_mnm
 * @property {number} high_mnm
 * @property {string} due_on
 * @property {number|null} length_um
 * @property {string} fault
 * @property {number|null} due_end_ms
 */
/**
 * @typedef {object} Packet
 * @property {number} v
 * @property {string} job
 * @property {string} number
 * @property {number} edition
 * @property {Record<string, string>} vehicle
 * @property {Record<string, string>} layouts
 * @property {Line[]} lines
 * @property {Step[]} steps
 * @property {Gate[]} gates
 * @property {Wrench[]} wrenches
 * @property {Record<string, string>} procedures
 * @property {string[]} missing
 */

/** @type {Support[]} */
export const SUPPORTS = ["on_wheels", "on_ramp", "lift_frame", "stands_frame", "stands_arm", "stands_axle"];
/** @type {Axle[]} */
export const AXLES = ["front", "rear", "both"];
export const VERDICTS = ["sound", "watch", "replace"];

// Keys nobody knows are passed over here and found by `isKept` in `pinning.js`.
/** @type {(fields: Record<string, [import("./shapes.js").Reader<any>] | [import("./shapes.js").Reader<any>, unknown]>) => import("./shapes.js").Reader<any>} */
const part = (fields) => record(fields, { extra: "ignored" });
const words = text();
const support = oneOf(SUPPORTS);
const axle = oneOf(AXLES);

const choice = part({ key: [words], words: [words], passes: [yes], until_ms: [whole, undefined] });
const reckoned = part({ label: [words], text: [words], inputs: [words], certainty: [words, ""] });
const check = part({
  id: [words],
  kind: [oneOf(["seen", "value", "ready"])],
  ask: [words],
  otherwise: [words],
  choices: [list(choice), []],
  dimension: [words, ""],
  unit: [words, ""],
  at_least: [orNone(whole), null],
  at_most: [orNone(whole), null],
  halve_unless: [orNone(pair(words)), null],
  limit_text: [words, ""],
  needs_input: [words, ""],
});
const gate = part({
  id: [words],
  key: [words],
  title: [words],
  signal: [oneOf(["danger", "warning", "caution"])],
  symbol: [words],
  intro: [words],
  checks: [list(check)],
  stale_after_s: [whole],
  follows_support: [yes],
  reckoned: [list(reckoned), []],
  supports: [list(support), []],
});
const measure = part({
  id: [words],
  ask: [words],
  dimension: [words],
  unit: [words],
  must: [yes, false],
  required: [yes, true],
  low: [orNone(whole), null],
  high: [orNone(whole), null],
  window_text: [words, ""],
  source: [words, ""],
});
const stage = part({
  low_mnm: [orNone(whole), null],
  target_mnm: [orNone(whole), null],
  high_mnm: [orNone(whole), null],
  low_mdeg: [orNone(whole), null],
  target_mdeg: [orNone(whole), null],
  high_mdeg: [orNone(whole), null],
  text: [words, ""],
});
const figure = part({
  id: [words],
  text: [words],
  unit: [words],
  stages: [list(stage)],
  source: [words],
  verified: [yes],
  thread: [words, ""],
  strength: [words, ""],
  lubrication: [words, ""],
  one_time: [yes, false],
  critical: [yes, false],
});
const fastener = part({
  id: [words],
  place: [words],
  tighten: [oneOf(["snug", "final"])],
  load_states: [list(support)],
  figure_key: [words],
  thread: [words, ""],
  strength: [words, ""],
  lubrication: [words, ""],
  one_time: [yes, false],
  critical: [yes, false],
  castellated: [yes, false],
  figure: [orNone(figure), null],
});
const oneTime = part({ id: [words], what: [words] });
const trial = part({ id: [words], part: [words], choices: [list(choice)], against: [words, ""] });
const step = part({
  id: [words],
  line: [words],
  key: [words],
  title: [words],
  do: [words],
  why: [words],
  axle: [axle],
  supports: [list(support)],
  corner: [words, ""],
  caution: [words, ""],
  gates: [list(words), []],
  measures: [list(measure), []],
  fasteners: [list(fastener), []],
  one_time: [list(oneTime), []],
  tools: [list(words), []],
  trial: [orNone(trial), null],
  after: [list(words), []],
  countersign: [yes, false],
  photo: [words, ""],
  reckoned: [list(reckoned), []],
  revision: [whole, 1],
});
const line = part({
  id: [words],
  procedure: [words],
  version: [whole],
  title: [words],
  axle: [axle],
  corner: [words, ""],
  price: [oneOf(["waiting", "agreed", "changed", "refused", "put_back"]), undefined],
  price_edition: [whole, undefined],
});
const wrench = part({
  tag: [words],
  name: [words],
  unit: [words],
  low_mnm: [whole],
  high_mnm: [whole],
  due_on: [words],
  length_um: [orNone(whole), null],
  fault: [words, ""],
  due_end_ms: [orNone(whole), null],
});

/**
 * Read a packet from its JSON form, what was left out filled in.
 * Throws `Unreadable` for a form this version does not know.
 *
 * @type {import("./shapes.js").Reader<Packet>}
 */
export const packetFrom = part({
  v: [whole],
  job: [words],
  number: [words],
  edition: [whole],
  vehicle: [table(words, words)],
  layouts: [table(words, words)],
  lines: [list(line)],
  steps: [list(step)],
  gates: [list(gate)],
  wrenches: [list(wrench)],
  procedures: [table(words, words)],
  missing: [list(words), []],
});

/**
 * @typedef {object} Index
 * @property {string} hash
 * @property {Map<string, Line>} lines
 * @property {Map<string, Step>} steps
 * @property {Map<string, Gate>} gates
 * @property {Map<string, Wrench>} wrenches
 */

/** @type {WeakMap<Packet, Index>} What was found out about a packet, for as long as it is held. */
const indices = new WeakMap();

/**
 * A packet's hash, and its lines, steps, gates and wrenches by name.
 *
 * @param {Packet} packet
 * @param {string} [hash] of what was pinned, where this says it in another language
 * @returns {Index}
 */
export function indexOf(packet, hash) {
  let index = indices.get(packet);
  if (index === undefined) {
    index = {
      hash: hash ?? digest(packet),
      lines: new Map(packet.lines.map((one) => [one.id, one])),
      steps: new Map(packet.steps.map((one) => [one.id, one])),
      gates: new Map(packet.gates.map((one) => [one.id, one])),
      wrenches: new Map(packet.wrenches.map((one) => [one.tag, one])),
    };
    indices.set(packet, index);
  }
  return index;
}

/**
 * @param {Choice} one
 * @param {number} atMs
 */
export const passesAt = (one, atMs) => one.passes && (one.until_ms === undefined || atMs < one.until_ms);

/**
 * Whether a gate is asked at all in this state of support.
 *
 * @param {Gate} one
 * @param {Support} state
 */
export const isAsked = (one, state) => one.supports.length === 0 || one.supports.includes(state);
