// @ts-check
/**
 * A gate as a barrier across the card: its questions, what was answered, why it has to be answered again.
 *
 * Twin of `app/domain/view_gate.py`: the same names in the same order.
 */
import { at } from "./canonical.js";
import { answersGoOn, gateState } from "./standing.js";
import { floorDiv } from "./torque.js";
import { amount, choiceView, fieldView, formView, may, whereOf, wordOf } from "./view_parts.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./view_parts.js").View} View */
/** @typedef {import("./packet.js").Gate} Gate */
/** @typedef {import("./packet.js").Check} Check */
/** @typedef {import("./sheet.js").GateNow} GateNow */
/** @typedef {import("./sheet.js").Said} Said */

/**
 * One gate for this person now. `asked`: its questions are put; else it only shows that it comes.
 *
 * Nothing is ever filled in beforehand, not even on asking again.
 *
 * @param {Scene} scene
 * @param {Gate} gate
 * @param {import("./packet.js").Step} step
 * @param {{asked: boolean}} choice
 * @returns {View}
 */
export function gateView(scene, gate, step, { asked }) {
  const now = at(scene.sheet.gates, gate.id) ?? null;
  const state = standingOf(scene, gate);
  const said = now !== null && stillCounts(scene, gate, now) ? now.answers : {};
  const key = `gate-${gate.id}`;
  const checks = gate.checks.map((check) => checkView(scene, key, check, at(said, check.id) ?? null));
  const open = checks.filter((one) => !one.passed).length;
  return {
    id: gate.id,
    anchor: key,
    name: gate.title,
    signal: gate.signal,
    signal_word: wordOf(scene, "signal", gate.signal),
    symbol: gate.symbol,
    intro: gate.intro,
    reckoned: gate.reckoned.map((one) => reckonedView(one.label, one.text, one.inputs, one.certainty)),
    is_open: state === null,
    again: again(scene, gate, now, state),
    asked: asked && state !== null,
    may: may(scene, "gate_answered"),
    checks,
    progress: scene.voice.say("shown.clear", { done: checks.length - open, total: checks.length }),
    last_one: open === 1,
    refused: checks.some((one) => one.refused),
    stuck: checks.some((one) => one.needs !== ""),
    form: formView(scene, key, "gate_answered", [
      ["gate", gate.id],
      ["look", step.id],
      ["basis_gate", now !== null ? now.revision : 0],
    ]),
    cleared: state === null && now !== null ? cleared(scene, gate, now) : "",
  };
}

/**
 * @param {string} label
 * @param {string} text
 * @param {string} inputs
 * @param {string} certainty
 */
export const reckonedView = (label, text, inputs, certainty) => ({ label, text, inputs, certainty });

/**
 * How the gate stands for who looks: someone who does not work on it sees it as the one who cleared it does.
 *
 * @param {Scene} scene
 * @param {Gate} gate
 */
export const standingOf = (scene, gate) =>
  gateState(scene.sheet, gate.id, may(scene, "gate_answered") ? scene.viewer.person : null, scene.now_ms);

/** @param {Scene} scene @param {Gate} gate @param {GateNow} now */
const stillCounts = (scene, gate, now) => answersGoOn(scene.sheet, gate, now, scene.viewer.person, scene.now_ms);

/**
 * @param {Scene} scene
 * @param {string} form
 * @param {Check} check
 * @param {Said|null} said
 * @returns {View}
 */
function checkView(scene, form, check, said) {
  const passed = said !== null && said.passes;
  const name = `answer.${check.id}`;
  /** @param {[string, string][]} options */
  const choice = (options) => choiceView(scene, form, name, check.ask, options);
  return {
    id: check.id,
    anchor: `${form}-${check.id}`,
    kind: check.kind,
    ask: check.ask,
    answered: said !== null,
    passed,
    refused: said !== null && !passed,
    answer: said !== null ? answerWords(scene, check, said) : "",
    where: said !== null ? whereOf(scene, said.entry) : "",
    otherwise: check.otherwise,
    needs: check.needs_input,
    halves: check.halve_unless !== null,
    choice:
      check.kind === "seen"
        ? choice(check.choices.map((one) => [one.key, one.words]))
        : check.kind === "ready"
          ? choice([["yes", scene.voice.word("ask.yes")], ["no", scene.voice.word("ask.not_ready")]])
          : {},
    field:
      check.kind === "value"
        ? fieldView(scene, form, name, check.ask, {
            hint: check.limit_text ? scene.voice.say("shown.needed", { limit: check.limit_text }) : "",
            unit: check.unit,
            units: unitsFor(check.dimension, check.unit),
          })
        : {},
  };
}

/** @type {Record<string, string[]>} */
export const UNITS = {
  torque: ["N·m", "lbf·ft"],
  length: ["mm", "in"],
  mass: ["kg", "lb"],
  force: ["N", "kN", "lbf"],
  pressure: ["kPa", "bar", "psi"],
  angle: ["°"],
  duration: ["min", "s"],
};

/**
 * The units a keypad offers: the one asked in first, then what else is printed on scales of its kind.
 *
 * @param {string} dimension
 * @param {string} unit
 */
export const unitsFor = (dimension, unit) => [...new Set([unit, ...(at(UNITS, dimension) ?? [])])];

/** @param {Scene} scene @param {Check} check @param {Said} said */
function answerWords(scene, check, said) {
  if (check.kind === "seen") return check.choices.find((one) => one.key === said.choice)?.words ?? said.choice;
  if (check.kind === "ready") return scene.voice.word(said.ready ? "ask.yes" : "ask.not_ready");
  return said.text || (said.value !== null ? amount(scene.units, check.dimension, said.value, check.unit) : "");
}

/**
 * Why a gate that was answered has to be answered again, in a sentence; nothing for one never begun.
 *
 * @param {Scene} scene
 * @param {Gate} gate
 * @param {GateNow|null} now
 * @param {string|null} state
 */
function again(scene, gate, now, state) {
  const { say, when } = scene.voice;
  let words = "";
  if (now !== null && state !== null && state !== "shut") {
    words = say(`gate_again.${now.handed_over ? "handed_over" : state}`, {
      name: now.name,
      at: when(now.cleared_at_ms || now.began_at_ms),
      minutes: Number(floorDiv(BigInt(gate.stale_after_s), 60n)),
    });
  } else if (now !== null && state === "shut" && !stillCounts(scene, gate, now)) {
    words = say("gate_again.begun", { name: now.name, at: when(now.began_at_ms) });
  }
  return { shown: words !== "", words };
}

/** The last day but one that a date of the office can name. */
const LAST_MS = 253_402_128_000_000;

/** @param {Scene} scene @param {Gate} gate @param {GateNow} now */
const cleared = ({ voice: { say, when } }, gate, now) =>
  say(gate.follows_support ? "gate_cleared.support" : "gate_cleared", {
    name: now.name,
    at: when(now.cleared_at_ms ?? 0),
    until: when(Math.min(now.began_at_ms + gate.stale_after_s * 1000, LAST_MS)),
  });
