// @ts-check
/**
 * Keeps a sheet up to date: hears that it changed and looks again, or, while something is typed and not sent, only
 * offers to. And carries what is typed in other forms over a swap, so that recording one thing loses no other.
 *
 * It sits on the element around the swapped part, so that one page has one line to the server, however often it swaps.
 * @param {HTMLElement} element
 */
export function sheetLive(element) {
  listen(element);
  keepTyped(element);
  lookAfterSilence(element);
}

/** @param {HTMLElement} element */
function listen(element) {
  let own = 0;
  // What this page just sent is announced too; its answer is the news already.
  element.addEventListener("htmx:after:request", () => { own = Date.now(); });
  const changed = () => {
    // The answer that is on its way brings it.
    if (element.querySelector(".htmx-request")) return;
    const again = element.querySelector("[data-look-again]");
    if (!(again instanceof HTMLElement)) return;
    if (typed(element).length || element.querySelector("#told") || element.contains(document.activeElement)) {
      const offer = again.closest("[hidden]");
      if (offer instanceof HTMLElement) offer.hidden = false;
    } else {
      again.click();
    }
  };
  // On a tablet the news comes with what the office sends to its pocket.
  element.addEventListener("sheet-changed", changed);
  const topic = element.dataset.topic;
  if (!topic) return;
  const source = new EventSource(`/events/${encodeURIComponent(topic)}`);
  source.addEventListener("changed", () => { if (Date.now() - own >= 1_500) changed(); });
  addEventListener("pagehide", () => source.close());
}

/** @typedef {HTMLInputElement | HTMLTextAreaElement} Field */

/**
 * Fields that hold something else than they came with.
 * @param {ParentNode} root
 * @returns {Field[]}
 */
function typed(root) {
  return fields(root).filter((field) => {
    if (field.type === "hidden") return false;
    return field instanceof HTMLInputElement && ["radio", "checkbox"].includes(field.type)
      ? field.checked !== field.defaultChecked
      : field.value !== field.defaultValue;
  });
}

/**
 * @param {ParentNode} root
 * @returns {Field[]}
 */
function fields(root) {
  return [.../** @type {NodeListOf<Field>} */ (root.querySelectorAll("input, textarea"))];
}

// As long as a break has to be before the sheet says so (app/domain/coming_back.py).
const AWAY_MS = 10 * 60_000;

/**
 * Whoever comes back to a page that lay there, lit or asleep, finds it as it is now, with the line about the break. By
 * the clock on the wall, since timers stand still while a tablet sleeps. What is typed is carried over; what was just
 * said stays until somebody has read it.
 *
 * @param {HTMLElement} element
 */
function lookAfterSilence(element) {
  let last = Date.now();
  const look = () => {
    if (document.hidden || Date.now() - last < AWAY_MS || element.querySelector(".htmx-request, #told")) return;
    last = Date.now();
    const again = element.querySelector("[data-look-again]");
    if (again instanceof HTMLElement) again.click();
  };
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => { last = Date.now(); });
  document.addEventListener("visibilitychange", look);
  setInterval(look, 20_000);
}

/** @param {HTMLElement} element */
function keepTyped(element) {
  /** @type {{ id: string, value: string }[]} */
  let kept = [];
  let inside = false;
  element.addEventListener("htmx:before:request", (event) => {
    inside = element.contains(document.activeElement);
    const sent = event.target instanceof Element ? event.target.closest("form") : null;
    // Words only: a choice or a confirmation is never made for anyone, and a reading belongs to its own form.
    kept = fields(element)
      .filter((field) => field.id && field.value && field.form !== sent && !["radio", "checkbox", "hidden"].includes(field.type))
      .map((field) => ({ id: field.id, value: field.value }));
  });
  element.addEventListener("htmx:after:swap", () => {
    for (const one of kept) {
      const field = document.getElementById(one.id);
      if (!(field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement) || field.value) continue;
      field.value = one.value;
      field.closest("details")?.setAttribute("open", "");
    }
    kept = [];
    // What had the focus is gone with the part that was swapped; the step in hand takes it, unless something else did.
    if (inside && document.activeElement === document.body) document.getElementById("in-hand")?.focus({ preventScroll: true });
    inside = false;
  });
}
