// @ts-check
/**
 * The view of a sheet: everything its page shows, from the sheet, who looks and the moment. Pure.
 *
 * Twin of `app/domain/view.py`: the same names in the same order, ids drawn in the same order. The templates compiled
 * from `templates/tablet` render it.
 */
import { at } from "./canonical.js";
import { cameBackView } from "./coming_back.js";
import { AXLES, SUPPORTS, indexOf } from "./packet.js";
import { askedFor, hasWheelNuts, isHeldHere, loadsOnStands, pictureAt } from "./pictures.js";
import { inOrder, stepNow } from "./sheet.js";
import { keepsOpen, nextStep, openPoints, supported } from "./standing.js";
import {
  addressOf,
  choiceView,
  encoded,
  fieldView,
  formView,
  may,
  stepAddress,
  whereOf,
  wordOf,
} from "./view_parts.js";
import { photoForm, photosView } from "./view_photo.js";
import { asideView, handView, holdForm, isBounce, needsOtherPerson, noteForm, noteView, rowView, tagsView } from "./view_step.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./view_parts.js").View} View */
/** @typedef {import("./packet.js").Packet} Packet */
/** @typedef {import("./packet.js").Step} Step */

const IN_HAND = "in-hand";

/**
 * Build the view. A sheet without a packet shows that it waits for the desk.
 *
 * @param {Scene} scene
 * @returns {View}
 */
export function viewOf(scene) {
  const { sheet, look } = scene;
  const { packet } = sheet;
  const address = addressOf(scene);
  if (packet === null) return { ready: false, address };
  const step = stepInHand(scene, packet);
  const numbers = new Map(packet.steps.map((one, place) => [one.id, place + 1]));
  const hand = step !== null ? handView(scene, step, /** @type {number} */ (numbers.get(step.id))) : { shown: false };
  const photos = photosView(scene, sheet.notes);
  const looks = ["technician", "foreman"].some((role) => scene.viewer.roles.includes(role));
  return {
    ready: true,
    number: packet.number,
    post: `/jobs/${encoded(packet.number)}/entries`,
    bounces: `/jobs/${encoded(packet.number)}/bounces`,
    bounced: looks && packet.steps.some(isBounce),
    measured: `/jobs/${encoded(packet.number)}/measured`,
    post_photo: `/jobs/${encoded(packet.number)}/photos`,
    address,
    here: stepAddress(scene, look.step, { ...look, at: look.fastener, seen: "" }),
    head: head(scene, packet),
    held: heldView(scene),
    told: told(scene),
    focus: focus(scene, hand),
    speak: speak(scene, hand),
    tags: tagsView(scene, ""),
    asides: asides(scene, step),
    groups: packet.lines.map((line) => group(scene, line, packet, numbers, step)),
    hand,
    came_back: cameBackView(scene, packet, numbers),
    finished: finished(scene, step),
    suspects: {
      shown: looks && packet.lines.some((line) => line.procedure === "inspection"),
      link: `/jobs/${encoded(packet.number)}/suspects`,
    },
    support: supportForm(scene, step),
    hold: holdForm(scene, "", "sheet-hold"),
    hand_over: handOver(scene),
    note: noteForm(scene, ""),
    notes: sheet.notes.filter((one) => !one.photo).map((one) => noteView(scene, one)),
    photo_form: photoForm(scene, ""),
    photos,
    photos_shown: photos.length > 0,
    other_person: {
      shown: step !== null && needsOtherPerson(scene, step),
      link: `/sign-in?after=${encoded(stepAddress(scene, step !== null ? step.id : ""))}`,
    },
    closed: sheet.handed_back !== null || scene.about.closed,
    closed_words: closedWords(scene),
    drawing: drawingView(scene, packet, step),
  };
}

/** What became of a job that is over: handed back by somebody, else closed without (cancelled). @param {Scene} scene */
function closedWords({ sheet, about, voice }) {
  if (sheet.handed_back !== null) return voice.say("handed_back", { name: sheet.handed_back.name });
  return about.closed ? voice.say("job_closed", {}) : "";
}

/**
 * The step asked for, else the first open one that nothing has to come before; `null` when all are done.
 *
 * @param {Scene} scene
 * @param {Packet} packet
 * @returns {Step|null}
 */
function stepInHand({ sheet, look }, packet) {
  return indexOf(packet).steps.get(look.step) ?? nextStep(sheet, packet);
}

// The head ------------------------------------------------------------------------------------------------------------

/** @param {Scene} scene @param {Packet} packet */
function head(scene, packet) {
  const { about, sheet, voice } = scene;
  /** @param {string} key */
  const fact = (key) => at(packet.vehicle, key) ?? "";
  const done = packet.steps.filter((step) => stepNow(sheet, step.id).done !== null).length;
  const over = sheet.hand_overs.at(-1);
  return {
    plate: fact("plate"),
    vehicle: ["model", "year", "colour"].map(fact).filter(Boolean).join(" · "),
    complaint: about.complaint,
    comeback: fact("comeback"),
    promised: about.promised,
    saved: about.saved,
    edition: String(packet.edition),
    progress: scene.voice.say("shown.steps_done", { done, total: packet.steps.length }),
    over: over
      ? voice.say("handed_over_line", { name: over.mark.name, to: over.to_name, at: voice.when(over.mark.at_ms) })
      : "",
    over_where: over ? whereOf(scene, over.mark.entry) : "",
    over_note: over ? over.note : "",
  };
}

/**
 * How the vehicle is held now, in words.
 *
 * @param {Scene} scene
 */
function heldView(scene) {
  const { state, axle, bears, mark } = scene.sheet.support;
  return {
    state,
    words: wordOf(scene, "support", state),
    axle: axle !== "both" ? wordOf(scene, "axle", axle) : "",
    bears,
    name: mark ? mark.name : "",
    at: mark ? scene.voice.when(mark.at_ms) : "",
    where: mark ? whereOf(scene, mark.entry) : "",
    said: mark !== null,
  };
}

/**
 * Changing how the vehicle is held: the states, those the step in hand needs marked.
 *
 * @param {Scene} scene
 * @param {Step|null} step
 * @returns {View}
 */
function supportForm(scene, step) {
  const key = "support";
  const { sheet, told } = scene;
  /** @type {string[]} */
  const wanted = step !== null && stepNow(sheet, step.id).done === null ? step.supports : [];
  const states = choiceView(
    scene,
    key,
    "state",
    scene.voice.word("ask.held"),
    SUPPORTS.map((state) => [state, wordOf(scene, "support", state)]),
  );
  for (const option of states.options) option.wanted = wanted.includes(option.value);
  return {
    shown: may(scene, "support_changed"),
    open: told.form === key && isAny(told.troubles),
    right: step === null || supported(sheet.support, step.axle, step.supports),
    form: formView(scene, key, "support_changed"),
    states,
    axles: choiceView(
      scene,
      key,
      "axle",
      scene.voice.word("ask.axle"),
      AXLES.map((axle) => [axle, wordOf(scene, "axle", axle)]),
    ),
    bears: fieldView(scene, key, "bears", scene.voice.word("ask.bears"), {
      hint: scene.voice.word("ask.bears_hint"),
    }),
  };
}

// What is said, and where the eye and the focus go next ---------------------------------------------------------------

/** @param {object} object */
const isAny = (object) => Object.keys(object).length > 0;

/** @param {Scene} scene */
const told = ({ told: { form, troubles, lines } }) => ({
  shown: lines.length > 0,
  form_wrong: isAny(troubles),
  lines: lines.map(([name, words]) => ({ field: name ? `${form}-${name}` : "", linked: name !== "", words })),
});

/**
 * The id of what takes the focus after a part was swapped: what was said, else the next thing to do.
 *
 * @param {Scene} scene
 * @param {View} hand
 */
function focus(scene, hand) {
  if (scene.told.lines.length) return "told";
  if (scene.told.recorded) return nextThing(hand);
  return scene.look.fastener ? `fastener-${scene.look.fastener}` : "";
}

/**
 * @param {View} hand
 * @returns {string}
 */
function nextThing(hand) {
  if (!hand.shown) return "finished";
  const gate = hand.barriers.find((/** @type {View} */ one) => one.asked);
  if (gate) {
    const first = gate.checks.find((/** @type {View} */ check) => !check.passed) ?? gate;
    return gate.checks.some((/** @type {View} */ check) => check.answered) ? first.anchor : gate.anchor;
  }
  if (!hand.open_here) return IN_HAND;
  /** @type {View[]} */
  const measures = hand.measures.rows;
  const measured = measures.some((one) => one.taken.shown);
  const wanted = measures.find((one) => one.required && !one.taken.shown);
  if (measured && wanted) return wanted.anchor;
  const tried = hand.trial.shown && hand.trial.recorded.shown;
  const signed = hand.fasteners.some((/** @type {View} */ one) => one.signed.shown);
  if (!measured && !tried && !signed) return IN_HAND;
  const unsigned = hand.fasteners.find((/** @type {View} */ one) => !one.signed.shown);
  return unsigned ? unsigned.anchor : "finish";
}

/**
 * What the status line outside the swapped part says.
 *
 * @param {Scene} scene
 * @param {View} hand
 */
function speak({ told: { lines, recorded }, voice }, hand) {
  if (lines.length) return lines[0][1];
  if (!recorded) return "";
  if (!hand.shown) return voice.say("spoken_all_done", {});
  return voice.say(hand.is_done ? "spoken_recorded" : "spoken_next", { step: hand.name });
}

// Lines of work and their steps ---------------------------------------------------------------------------------------

/**
 * A line of work. The one with the card in hand stands open; of the others, each is one line to unfold.
 *
 * @param {Scene} scene
 * @param {import("./packet.js").Line} line
 * @param {Packet} packet
 * @param {Map<string, number>} numbers
 * @param {Step|null} hand
 */
function group(scene, line, packet, numbers, hand) {
  const rows = packet.steps
    .filter((step) => step.line === line.id)
    .map((step) => rowView(scene, step, /** @type {number} */ (numbers.get(step.id)), hand !== null ? hand.id : ""));
  const place = rows.findIndex((row) => row.is_hand);
  const done = rows.filter((row) => row.is_done).length;
  // The last two done stay in sight above the card; earlier ones fold away, so that the card is near the top.
  const fold = place > 4 ? place - 2 : 0;
  return {
    id: line.id,
    name: line.title,
    progress: scene.voice.say("shown.done", { done, total: rows.length }),
    mark: done === rows.length ? "done" : done ? "open" : "empty",
    has_hand: place >= 0,
    folded: rows.slice(0, fold),
    folded_shown: fold > 0,
    folded_words: scene.voice.say("shown.earlier", { count: fold }),
    rows: rows.slice(fold),
  };
}

/**
 * When nothing is left to do: what still keeps the sheet from being handed back.
 *
 * @param {Scene} scene
 * @param {Step|null} hand
 */
function finished(scene, hand) {
  if (hand !== null || scene.sheet.handed_back !== null) return { shown: false, ready: false, points: [] };
  const points = openPoints(scene.sheet);
  return {
    shown: true,
    ready: points.length === 0,
    points: points.map(({ kind, step, words }) => ({
      kind_words: wordOf(scene, "point", kind),
      words: kind === "aside" ? scene.voice.say(words, {}) : words,
      link: step ? `${stepAddress(scene, step)}#in-hand` : "",
      linked: step !== "",
    })),
  };
}

/**
 * What was set aside and waits, but for that of the step in hand, which its card shows.
 *
 * @param {Scene} scene
 * @param {Step|null} hand
 */
function asides(scene, hand) {
  const here = hand !== null ? hand.id : "";
  const waiting = inOrder(scene.sheet.asides).filter(([, one]) => keepsOpen(one));
  const elsewhere = waiting.filter(([, one]) => !one.step || one.step !== here);
  return {
    shown: elsewhere.length > 0,
    words: scene.voice.say(elsewhere.length === 1 ? "shown.aside_one" : "shown.asides", { count: elsewhere.length }),
    rows: elsewhere.map(([key, one]) => asideView(scene, key, one)),
  };
}

/**
 * @param {Scene} scene
 * @returns {View}
 */
function handOver(scene) {
  const key = "hand-over";
  const people = scene.about.people.filter(([person]) => person !== scene.viewer.person);
  return {
    shown: may(scene, "handed_over") && people.length > 0,
    form: formView(scene, key, "handed_over"),
    to: choiceView(scene, key, "to", scene.voice.word("ask.hand_over"), people),
    field: fieldView(scene, key, "note", scene.voice.word("ask.hand_over_note")),
  };
}

// The drawing ---------------------------------------------------------------------------------------------------------

/** Which joint carries the spring's force, by layout. @type {Record<string, string>} */
export const LOAD_JOINTS = {
  wishbone_lower_coil: "lower",
  wishbone_upper_coil: "upper",
  torsion_bar_lower: "lower",
  torsion_bar_upper: "upper",
  strut_arm_coil: "lower",
  multilink_link_coil: "link_outer",
  solid_coil: "axle",
  solid_leaf: "axle",
  air: "unknown",
};

/**
 * What the drawing of the axle is made from: layout, axle, corner, how it is held, the load joint.
 *
 * @param {Scene} scene
 * @param {Packet} packet
 * @param {Step|null} step
 */
function drawingView(scene, packet, step) {
  const now = scene.sheet.support;
  const asked = askedFor(packet, step, now);
  const { layout, place, axle, corner, support } = asked;
  const loadJoint = at(LOAD_JOINTS, place || layout) ?? "none";
  const stars = step !== null && hasWheelNuts(step) && scene.pictures ? scene.pictures.stars : [];
  return {
    shown: layout !== "",
    layout,
    place,
    axle,
    corner,
    support,
    bears: isHeldHere(now, axle) ? now.bears : "",
    load_joint: loadJoint,
    layout_words: wordOf(scene, "layout", layout),
    axle_words: wordOf(scene, "axle", axle),
    load_joint_words: wordOf(scene, "load_joint", loadJoint),
    support_words: wordOf(scene, "support", support),
    loads: loadsOnStands(packet, step, support).map(({ label, text }) => ({ label, text })),
    picture: pictureAt(scene.pictures, asked),
    stars,
    stars_words: wordOf(scene, "drawing", "star"),
    stars_shown: stars.length > 0,
  };
}
