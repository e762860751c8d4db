// @ts-check
/**
 * Photos on a sheet: those taken at a step or for the whole sheet, and the form that adds one.
 *
 * Twin of `app/domain/view_photo.py`, and of `photos_of` in `app/domain/photos.py`.
 */
import { fieldView, formView, markView, may } from "./view_parts.js";

/** @typedef {import("./view_parts.js").Scene} Scene */
/** @typedef {import("./view_parts.js").View} View */
/** @typedef {import("./sheet.js").Note} Note */

export const PHOTOS_A_JOB = 40;

/**
 * The photos among these notes, in the order they were taken.
 *
 * @param {Scene} scene
 * @param {Note[]} notes
 */
export const photosView = (scene, notes) => notes.filter((one) => one.photo).map((one) => photoView(scene, one));

/**
 * A photo: whose, from when, of what. Its bytes travel apart from its entry and may not be here yet.
 *
 * @param {Scene} scene
 * @param {Note} note
 * @returns {View}
 */
function photoView(scene, note) {
  const { name, at, where } = markView(scene, note.mark);
  const { photo, text } = note;
  return {
    address: `/photos/${photo}`,
    here: !scene.about.photos_missing.includes(photo),
    refused: scene.about.photos_refused.includes(photo),
    alt: scene.voice.say(text ? "photo_by" : "photo_by_unnamed", { name, at, text }),
    text,
    name,
    at,
    where,
  };
}

/**
 * The form that adds a photo to a step, or (step "") to the whole sheet; once there are enough it says so.
 *
 * @param {Scene} scene
 * @param {string} step
 * @returns {View}
 */
export function photoForm(scene, step) {
  const key = step ? "step-photo" : "sheet-photo";
  return {
    shown: may(scene, "photo_added"),
    full: photosOf(scene.sheet).size >= PHOTOS_A_JOB,
    full_words: scene.voice.say("photos_full", { limit: PHOTOS_A_JOB }),
    form: formView(scene, key, "photo_added", [["step", step]]),
    file: fieldView(scene, key, "file", scene.voice.word("ask.photo")),
    field: fieldView(scene, key, "name", scene.voice.word("ask.photo_name")),
  };
}

/**
 * Every photo that counts on this sheet, by the hash of its bytes.
 *
 * @param {import("./sheet.js").Sheet} sheet
 */
export function photosOf(sheet) {
  const notes = [...sheet.notes, ...Object.values(sheet.steps).flatMap((one) => one.notes)];
  return new Set(notes.map((one) => one.photo).filter(Boolean));
}
