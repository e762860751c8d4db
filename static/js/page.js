// @ts-check
/**
 * Starts each behaviour on the elements that ask for it with `data-behaviour`, and again after htmx has swapped.
 * A page works without any of these.
 */
import { bounce } from "./behaviours/bounce.js";
import { keypad } from "./behaviours/keypad.js";
import { live } from "./behaviours/live.js";
import { pressed } from "./behaviours/pressed.js";
import { sheetLive } from "./behaviours/sheet-live.js";
import { swapped } from "./behaviours/swapped.js";
import { takeFocus } from "./behaviours/take-focus.js";
import { unsaved } from "./behaviours/unsaved.js";

/** @type {Record<string, (element: HTMLElement) => void>} */
const behaviours = { bounce, keypad, live, "sheet-live": sheetLive, swapped, "take-focus": takeFocus };

/** @param {ParentNode} root */
function begin(root) {
  for (const element of root.querySelectorAll("[data-behaviour]")) {
    if (!(element instanceof HTMLElement) || element.dataset.started) continue;
    element.dataset.started = "1";
    for (const name of (element.dataset.behaviour ?? "").split(" ")) behaviours[name]?.(element);
  }
}

/**
 * @param {Document} root
 * @param {Record<string, (element: HTMLElement) => void>} more behaviours that only some pages have
 */
export function page(root, more = {}) {
  Object.assign(behaviours, more);
  pressed(root);
  unsaved(root);
  begin(root);
  root.addEventListener("htmx:after:swap", () => begin(root));
  root.addEventListener("htmx:after:settle", () => begin(root));
}
