// @ts-check
/**
 * What interrupted whoever comes back to a sheet: where it stopped, and what was half done there. Pure.
 *
 * Twin of `app/domain/coming_back.py`.
 */
import { at, byCodePoint } from "./canonical.js";
import { indexOf } from "./packet.js";
import { hasWheelNuts } from "./pictures.js";
import { stepNow } from "./sheet.js";
import { askedGates, nextStep } from "./standing.js";
import { may, stepAddress } from "./view_parts.js";
import { standingOf } from "./view_gate.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./packet.js").Step} Step */
/** @typedef {import("./sheet.js").Mark} Mark */
/** @typedef {{mark: Mark, step?: string, gate?: string, away?: boolean}} Act */

const AWAY_MS = 10 * 60_000;
const LONG_MINUTES = 120;

/**
 * Everything on the sheet that says who recorded it and when.
 *
 * @param {import("./sheet.js").Sheet} sheet
 * @returns {Act[]}
 */
function actsOf(sheet) {
  /** @type {{mark: Mark|null|undefined, step?: string, gate?: string, away?: boolean}[]} */
  const acts = [{ mark: sheet.support.mark }];
  for (const [step, now] of Object.entries(sheet.steps)) {
    const marked = [now.readings, now.signatures, now.counters].flatMap((one) => Object.values(one));
    const marks = [now.done, now.seen, now.outcome?.mark, ...[...marked, ...now.notes, ...now.reopened].map((one) => one.mark)];
    acts.push(...marks.map((mark) => ({ mark, step })));
  }
  for (const [gate, { person, name, answers }] of Object.entries(sheet.gates)) {
    for (const { at_ms, entry } of Object.values(answers)) acts.push({ mark: { person, name, at_ms, entry }, gate });
  }
  for (const { mark, lifted, step } of Object.values(sheet.holds)) acts.push({ mark, step }, { mark: lifted, step });
  for (const { mark, settled, step } of Object.values(sheet.asides)) acts.push({ mark, step }, { mark: settled, step });
  acts.push(...sheet.notes, ...sheet.hand_overs.map(({ mark }) => ({ mark, away: true })));
  return acts.flatMap(({ mark, step, gate, away }) => (mark ? [{ mark, step, gate, away }] : []));
}

/**
 * The line for whoever comes back, or that there is none: too soon, put away, nothing of theirs, nothing left.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Packet} packet
 * @param {Map<string, number>} numbers
 */
export function cameBackView(scene, packet, numbers) {
  const { sheet, look, viewer, voice } = scene;
  const acts = actsOf(sheet).sort(({ mark: a }, { mark: b }) => a.at_ms - b.at_ms || byCodePoint(a.entry, b.entry));
  const own = acts.filter((one) => one.mark.person === viewer.person).at(-1);
  if (own === undefined || own.away || scene.about.closed || !may(scene, "step_done")) return { shown: false };
  const { entry, at_ms: atMs } = own.mark;
  const step = stoppedAt(sheet, packet, own);
  if (step === null || scene.now_ms - atMs < AWAY_MS || look.seen.split(" ").includes(entry)) return { shown: false };
  const minutes = Math.floor((scene.now_ms - atMs) / 60_000);
  const { readings, signatures, outcome } = stepNow(sheet, step.id);
  const begun = isAny(readings) || isAny(signatures) || outcome !== null || own.step === step.id || own.gate;
  const how = `${begun ? "begun" : "fresh"}${minutes > LONG_MINUTES ? "_long" : ""}`;
  const number = /** @type {number} */ (numbers.get(step.id));
  const last = acts[acts.length - 1].mark;
  return {
    shown: true,
    words: voice.say(`came_back.${how}`, { minutes, at: voice.when(atMs), number, step: step.title }),
    points: [
      ...(last.person !== viewer.person ? [voice.say("came_back.other", { name: last.name, at: voice.when(last.at_ms) })] : []),
      ...gatesOf(scene, step),
      ...halfDone(scene, step),
    ],
    number: String(number),
    link: `${stepAddress(scene, step.id)}#${anchor(scene, step)}`,
    put_away: stepAddress(scene, look.step, { ...look, at: look.fastener, seen: entry }),
  };
}

/** @param {object} object */
const isAny = (object) => Object.keys(object).length > 0;

/**
 * The step of the last act while it is not done; else the one that comes next.
 *
 * @param {import("./sheet.js").Sheet} sheet
 * @param {import("./packet.js").Packet} packet
 * @param {Act} last
 */
const stoppedAt = (sheet, packet, { step, gate = "" }) =>
  packet.steps.find((one) => (one.id === step || one.gates.includes(gate)) && stepNow(sheet, one.id).done === null)
  ?? nextStep(sheet, packet);

/**
 * Where on the card it goes on: the first joint or value without a reading, behind gates the card itself.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
function anchor(scene, step) {
  if (askedGates(scene.sheet, step).some((gate) => standingOf(scene, gate) !== null)) return "in-hand";
  const { readings, signatures } = stepNow(scene.sheet, step.id);
  const value = step.measures.find((one) => one.required && !at(readings, one.id));
  const joint = step.fasteners.find((one) => !at(signatures, one.id));
  if (!isAny(readings) && !isAny(signatures)) return "in-hand";
  return value ? `measures-${value.id}` : joint ? `fastener-${joint.id}` : "in-hand";
}

/**
 * The step's gates that this person answered before the break.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
const gatesOf = (scene, step) =>
  askedGates(scene.sheet, step).flatMap((gate) => {
    const now = at(scene.sheet.gates, gate.id);
    if (now?.person !== scene.viewer.person) return [];
    const how = standingOf(scene, gate) === null ? "open" : now.cleared_at_ms === null ? "half" : "again";
    return [scene.voice.say(`came_back.gate_${how}`, {
      gate: gate.title,
      done: Object.values(now.answers).filter((said) => said.passes).length,
      total: gate.checks.length,
      at: scene.voice.when(now.cleared_at_ms || now.began_at_ms),
    })];
  });

/**
 * What of the step has a reading and what has none; and what nothing on record can tell.
 *
 * @param {Scene} scene
 * @param {Step} step
 */
function halfDone({ sheet, voice }, step) {
  const { readings, signatures } = stepNow(sheet, step.id);
  const values = step.measures.filter((one) => one.required);
  const unread = values.filter((one) => !at(readings, one.id)).map((one) => one.ask);
  const joints = step.fasteners;
  const left = joints.filter((one) => !at(signatures, one.id));
  /** @param {string} how @param {number} total @param {string[]} open */
  const some = (how, total, open) =>
    open.length && open.length < total
      ? [voice.say(`came_back.${how}`, { done: total - open.length, total, left: open.join(", ") })]
      : [];
  const stages = left.length ? stagesOf(left[0]) : 0;
  return [
    ...some("read", values.length, unread),
    ...some(joints.every((one) => one.tighten === "snug") ? "snug" : "tightened", joints.length, left.map((one) => one.place)),
    ...(left.length && hasWheelNuts(step)
      ? [voice.say("came_back.star", {})]
      : stages > 1
        ? [voice.say("came_back.stages", { place: left[0].place, stages })]
        : []),
  ];
}

/** How many stages its figure has, where that may be shown. @param {import("./packet.js").Fastener} fastener */
const stagesOf = ({ figure, tighten }) => (figure?.verified && tighten === "final" ? figure.stages.length : 0);
