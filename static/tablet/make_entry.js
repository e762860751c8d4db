// @ts-check
/**
 * From a form's fields to entries: what was typed, read into the body of its kind, or the problems beside its fields.
 *
 * Twin of `app/use_cases/make_entry.py`: the same names in the same order. Only form is judged here; anything that can be
 * read becomes an entry, and the rules say whether it counts.
 */
import { at, byCodePoint, strip, wordsIn } from "./canonical.js";
import { ENTRY_FORM, TEXT_LIMIT, typedOf } from "./entry.js";
import { AXLES, SUPPORTS, VERDICTS, indexOf } from "./packet.js";
import { stepNow } from "./sheet.js";
import { isOneTime } from "./standing.js";
import { amountTyped, readingOf } from "./typed_amount.js";
import { extensionOf } from "./view_torque.js";

/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./packet.js").Stage} Stage */
/** @typedef {import("./packet.js").Fastener} Fastener */
/** @typedef {import("./packet.js").Check} Check */
/** @typedef {import("./entry.js").Entry} Entry */
/** @typedef {import("./entry.js").Answer} Answer */
/** @typedef {import("./entry.js").Reading} Reading */
/** @typedef {import("./texts.js").Problem} Problem */
/**
 * A form as it came: fields by name, on which sheet, by whom. `people`: those a sheet can be handed to, by id.
 *
 * @typedef {object} Sent
 * @property {Record<string, string>} fields
 * @property {import("./sheet.js").Sheet} sheet
 * @property {string} person
 * @property {number} now_ms
 * @property {Record<string, string>} people
 * @property {import("./units.js").Units} units
 * @property {() => string} newId
 */
/** @typedef {{problems: Problem[], bodies: [string, Record<string, unknown>][]}} Made bodies, each with its id's field */

const ID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const NAME = /^[!-~]{1,100}$/;
const MOST_HOLDS = 1000;

/** @param {Sent} sent @param {string} name */
const text = ({ fields }, name) => strip(at(fields, name) ?? "");

/** @param {Sent} sent */
const indexOfSent = ({ sheet }) => indexOf(/** @type {Packet} */ (sheet.packet));

/** @param {Sent} sent @returns {Step|null} */
const stepOf = (sent) => indexOfSent(sent).steps.get(text(sent, "step")) ?? null;

/**
 * @param {string} code
 * @param {string} [field]
 * @param {Problem["details"]} [details]
 * @returns {Problem}
 */
const problem = (code, field = "", details = {}) => ({ code, field, details });

/** @param {Problem[]} problems @returns {Made} */
const wrong = (...problems) => ({ problems, bodies: [] });

/** @param {Record<string, unknown>} body @returns {Made} */
const one = (body) => ({ problems: [], bodies: [["entry", body]] });

/** @param {object} read @returns {read is Problem} */
const isProblem = (read) => "code" in read;

/**
 * The entries a form makes (several readings typed together are one each), or everything wrong with its fields. The
 * tablet's name and number in sequence are given by the pocket.
 *
 * @param {Sent} sent
 * @returns {{problems: Problem[], entries: Entry[]}}
 */
export function entriesFrom(sent) {
  const maker = at(MAKERS, text(sent, "kind"));
  if (maker === undefined || sent.sheet.packet === null) return { problems: [problem("kind_unknown")], entries: [] };
  const long = tooLong(sent);
  if (long.length) return { problems: long, entries: [] };
  const { problems, bodies } = maker(sent);
  if (problems.length) return { problems, entries: [] };
  return { problems, entries: bodies.map(([idField, body]) => entryOf(sent, idField, body)) };
}

/** @param {Sent} sent */
const tooLong = ({ fields }) =>
  Object.keys(fields)
    .sort(byCodePoint)
    .filter((name) => fields[name].length > TEXT_LIMIT && !name.startsWith("basis_"))
    .filter((name) => Array.from(fields[name]).length > TEXT_LIMIT)
    .map((name) => problem("too_long", name, { limit: TEXT_LIMIT }));

/**
 * @param {Sent} sent
 * @param {string} idField
 * @param {Record<string, unknown>} body
 * @returns {Entry}
 */
function entryOf(sent, idField, body) {
  const given = text(sent, idField);
  return {
    v: ENTRY_FORM,
    id: ID.test(given) ? given : sent.newId(),
    tablet: "",
    seq: 0,
    job: sent.sheet.job,
    kind: text(sent, "kind"),
    body,
    person: sent.person,
    noted_at_ms: sent.now_ms,
    basis: basisOf(sent),
    clock_offset_ms: 0,
    bundle: "",
  };
}

/**
 * What the person saw, as the form carries it; what is not there, or cannot be read, was not shown.
 *
 * @param {Sent} sent
 * @returns {import("./entry.js").Basis}
 */
function basisOf(sent) {
  const packet = text(sent, "basis_packet");
  const holds = at(sent.fields, "basis_holds");
  /** @param {string} name */
  const revision = (name) => (/^\d{1,9}$/.test(text(sent, name)) ? Number(text(sent, name)) : null);
  return {
    packet: NAME.test(packet) ? packet : "",
    step_revision: revision("basis_step"),
    support_revision: revision("basis_support"),
    gate_revision: revision("basis_gate"),
    holds: holds === undefined ? null : wordsIn(holds).filter((key) => NAME.test(key)).slice(0, MOST_HOLDS),
  };
}

// One maker per kind of form ------------------------------------------------------------------------------------------

/** @param {Sent} sent */
function gateAnswered(sent) {
  const key = text(sent, "gate");
  const gate = indexOfSent(sent).gates.get(key);
  if (gate === undefined) return one({ gate: key, answers: {} });
  /** @type {[string, Answer][]} */
  const answers = [];
  /** @type {Problem[]} */
  const problems = [];
  for (const check of gate.checks) {
    const name = `answer.${check.id}`;
    const typed = text(sent, name);
    if (!typed) continue;
    const read = answerOf(sent, check, typed, name);
    if (isProblem(read)) problems.push(read);
    else answers.push([check.id, read]);
  }
  if (!answers.length && !problems.length) problems.push(problem("answer_missing", firstOf("answer", gate.checks)));
  return problems.length ? wrong(...problems) : one({ gate: key, answers: Object.fromEntries(answers) });
}

/** @param {string} group @param {{id: string}[]} parts */
const firstOf = (group, parts) => (parts.length ? `${group}.${parts[0].id}` : "");

/**
 * @param {Sent} sent
 * @param {Check} check
 * @param {string} typed
 * @param {string} name
 * @returns {Answer|Problem}
 */
function answerOf({ units }, check, typed, name) {
  const answer = { choice: "", ready: null, value: null, text: "", unit: "" };
  if (check.kind === "seen") {
    return check.choices.some((each) => each.key === typed) ? { ...answer, choice: typed } : problem("choose_one", name);
  }
  if (check.kind === "ready") {
    return typed === "yes" || typed === "no" ? { ...answer, ready: typed === "yes" } : problem("choose_one", name);
  }
  const read = amountTyped(units, typed, check.dimension, check.unit, name);
  if (isProblem(read)) return read;
  const reading = readingOf(units, read);
  return { ...answer, value: reading.value, text: typedOf(reading), unit: reading.unit };
}

/** @param {Sent} sent @returns {Made} */
function readingTaken(sent) {
  const measures = stepOf(sent)?.measures ?? [];
  /** @type {Made} */
  const { problems, bodies } = { problems: [], bodies: [] };
  for (const { id, dimension, unit } of measures) {
    const name = `value.${id}`;
    const typed = text(sent, name);
    if (!typed) continue;
    const read = amountTyped(sent.units, typed, dimension, unit, name);
    if (isProblem(read)) problems.push(read);
    else {
      const reading = readingOf(sent.units, read);
      const trace = text(sent, `trace.${id}`);
      bodies.push([`entry.${id}`, { step: text(sent, "step"), measure: id, reading, ...(trace && { trace }) }]);
    }
  }
  if (!bodies.length && !problems.length) problems.push(problem("nothing_given", firstOf("value", measures)));
  return { problems, bodies };
}

/** @param {Sent} sent */
function testRecorded(sent) {
  const [step, choice, verdict, reason] = ["step", "choice", "verdict", "reason"].map((name) => text(sent, name));
  const chosen = stepOf(sent)?.trial?.choices.find((each) => each.key === choice);
  const problems = [];
  if (chosen === undefined) problems.push(problem("observation_missing", "choice"));
  if (!VERDICTS.includes(verdict)) problems.push(problem("verdict_missing", "verdict"));
  else if (!reason && (verdict !== "sound" || (chosen !== undefined && !chosen.passes))) {
    problems.push(problem("verdict_reason_missing", "reason"));
  }
  return problems.length ? wrong(...problems) : one({ step, choice, verdict, reason });
}

/** @param {Sent} sent */
function signedOff(sent) {
  const fastener = fastenerOf(sent);
  const newPart = text(sent, "new_part") === "yes";
  const { problems, ...tight } = tightened(sent, fastener);
  if (fastener !== null && isOneTime(fastener) && !newPart) problems.push(problem("new_part_missing", "new_part"));
  if (problems.length) return wrong(...problems);
  return one({ step: text(sent, "step"), fastener: text(sent, "fastener"), ...tight, new_part: newPart });
}

/** @param {Sent} sent */
function countersigned(sent) {
  const [step, fastener, seen] = ["step", "fastener", "seen"].map((name) => text(sent, name));
  if (!fastener) {
    if (!seen) return wrong(problem("seen_missing", "seen"));
    return one({ step, fastener, readings: [], wrench: "", extension: null, seen });
  }
  const { problems, ...tight } = tightened(sent, fastenerOf(sent));
  return problems.length ? wrong(...problems) : one({ step, fastener, ...tight, seen: "" });
}

/** @param {Sent} sent */
const fastenerOf = (sent) => stepOf(sent)?.fasteners.find((each) => each.id === text(sent, "fastener")) ?? null;

/**
 * What a first or second reading at a fastener has in common: the readings, one per stage, in the wrench's own unit
 * unless another is typed; none for a snug pass.
 *
 * @param {Sent} sent
 * @param {Fastener|null} fastener
 */
function tightened(sent, fastener) {
  /** @type {Problem[]} */
  const problems = [];
  /** @type {Reading[]} */
  const readings = [];
  const nothing = { problems, readings, wrench: "", extension: null };
  if (fastener === null || fastener.tighten === "snug") return nothing;
  const wrench = indexOfSent(sent).wrenches.get(text(sent, "wrench"));
  if (wrench === undefined) {
    problems.push(problem("wrench_missing", "wrench"));
    return nothing;
  }
  const [extension, trouble] = extensionOf(sent.units, text(sent, "extension"), text(sent, "angle"));
  if (trouble) problems.push(problem(trouble, trouble === "extension_angle" ? "angle" : "extension"));
  const stages = fastener.figure !== null ? fastener.figure.stages : [];
  for (const [number, stage] of stages.entries()) {
    const name = `reading.${number}`;
    const read = stageReading(sent, stage, wrench.unit, name);
    if (isProblem(read)) problems.push(read);
    else if (read.dimension === "torque" && wrench.unit && read.unit !== wrench.unit) {
      problems.push(problem("wrench_unit", name, { tag: wrench.tag, unit: wrench.unit, typed: read.text }));
    } else readings.push(readingOf(sent.units, read));
  }
  return { problems, readings, wrench: wrench.tag, extension };
}

/** @param {Sent} sent @param {Stage} stage @param {string} unit @param {string} name */
const stageReading = (sent, stage, unit, name) =>
  stage.target_mdeg !== null
    ? amountTyped(sent.units, text(sent, name), "angle", "°", name)
    : amountTyped(sent.units, text(sent, name), "torque", unit, name);

/** @param {Sent} sent */
function stepDone(sent) {
  const step = stepOf(sent);
  const oneTime = step !== null ? step.one_time : [];
  const parts = oneTime.filter(({ id }) => text(sent, `part.${id}`) === "yes").map(({ id }) => id);
  const known = step !== null ? stepNow(sent.sheet, step.id).new_parts : [];
  const wanted = oneTime.filter(({ id }) => !parts.includes(id) && !known.includes(id));
  if (wanted.length) return wrong(...wanted.map(({ id }) => problem("new_part_missing", `part.${id}`)));
  return one({ step: text(sent, "step"), new_parts: parts });
}

/** @param {Sent} sent @param {Record<string, unknown>} body what it says besides its reason */
function withReason(sent, body) {
  const reason = text(sent, "reason");
  return reason ? one({ ...body, reason }) : wrong(problem("reason_missing", "reason"));
}

/** @param {Sent} sent */
function supportChanged(sent) {
  const [state, axle, bears] = ["state", "axle", "bears"].map((name) => text(sent, name));
  const knownAxle = AXLES.some((each) => each === axle);
  if (!SUPPORTS.some((each) => each === state)) return wrong(problem("support_missing", "state"));
  if (state.startsWith("stands") && !knownAxle) return wrong(problem("support_axle_missing", "axle"));
  return one({ state, axle: knownAxle ? axle : "both", bears });
}

/** @param {Sent} sent */
function handedOver(sent) {
  const to = text(sent, "to");
  const name = at(sent.people, to);
  return name === undefined
    ? wrong(problem("person_missing", "to"))
    : one({ to, to_name: name, note: text(sent, "note") });
}

/** @param {Sent} sent */
function noteAdded(sent) {
  const words = text(sent, "text");
  return words ? one({ text: words, step: text(sent, "step") }) : wrong(problem("note_missing", "text"));
}

/** Its bytes are kept before: the form's file has become `sha256`. @param {Sent} sent */
function photoAdded(sent) {
  const sha256 = text(sent, "sha256");
  if (!/^[0-9a-f]{64}$/.test(sha256)) return wrong(problem("photo_missing", "file"));
  return one({ sha256, name: text(sent, "name"), step: text(sent, "step") });
}

/** @type {Record<string, (sent: Sent) => Made>} */
const MAKERS = {
  gate_answered: gateAnswered,
  reading_taken: readingTaken,
  test_recorded: testRecorded,
  signed_off: signedOff,
  countersigned,
  step_done: stepDone,
  step_reopened: (sent) => withReason(sent, { step: text(sent, "step") }),
  hold_placed: (sent) => withReason(sent, { step: text(sent, "step") }),
  hold_lifted: (sent) => withReason(sent, { hold: text(sent, "hold") }),
  support_changed: supportChanged,
  handed_over: handedOver,
  note_added: noteAdded,
  photo_added: photoAdded,
};
