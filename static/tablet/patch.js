// @ts-check
/**
 * Put a sheet in the place of the one before by exchanging what differs. Most of a sheet is as it was a tap ago; all of
 * it put in anew would cost a slow tablet more than everything else a tap asks for.
 *
 * A form, and whatever has a behaviour or can be folded, is never changed inside: it is the same or it is a new one.
 */
import { fillIn, spared, standingFor, standsFor } from "./spare.js";

const WHOLE = "form, details, [data-behaviour]";

/**
 * Put markup in the place of a sheet.
 *
 * @param {Element} target @param {string} html of one element @param {Element|null} sent as for `patch`
 */
export function put(target, html, sent) {
  const { text, keep } = spared(target, html);
  const made = document.createElement("template");
  made.innerHTML = text;
  patch(target, /** @type {Element} */ (made.content.firstElementChild), sent);
  keep();
}

/**
 * @param {Element} before stays in the page
 * @param {Element} after its twin, taken to pieces
 * @param {Element|null} sent the form that was just sent: its entry's id is used up
 */
export function patch(before, after, sent = null) {
  keepIds(before, after, sent);
  // Something that holds the focus is taken out at the price of a whole reckoning of styles.
  const { activeElement } = document;
  if (activeElement instanceof HTMLElement && before.contains(activeElement)) activeElement.blur();
  change(before, after, standingFor(after));
}

/** @param {Element} before @param {Element} after @param {Map<string, Element>} standing */
function change(before, after, standing) {
  for (const { name } of [...before.attributes]) if (!after.hasAttribute(name)) before.removeAttribute(name);
  for (const { name, value } of after.attributes) if (before.getAttribute(name) !== value) before.setAttribute(name, value);
  let next = before.firstChild;
  for (const made of [...after.childNodes]) {
    const piece = standing.get(standsFor(made) ?? "") ?? null;
    const kept = piece === null ? twinOf(made, next) : isAhead(before, next, piece) ? piece : null;
    const there = kept ?? piece ?? made;
    if (kept === null) {
      before.insertBefore(there, next);
      fillIn(there, standing);
    } else {
      while (next !== kept) next = removed(/** @type {ChildNode} */ (next));
      if (piece === null && !kept.isEqualNode(made)) change(/** @type {Element} */ (kept), /** @type {Element} */ (made), standing);
    }
    // Only now: a piece that stood there may have gone to where it belongs.
    next = there.nextSibling;
  }
  while (next !== null) next = removed(next);
}

/**
 * What stands there already for a node: its equal, or what can become it, from `from` on. Text is looked for in its own
 * place only, or the space between two things would be found behind everything else.
 *
 * @param {Node} made @param {ChildNode|null} from @returns {ChildNode|null}
 */
function twinOf(made, from) {
  if (!(made instanceof Element)) return from?.isEqualNode(made) ? from : null;
  let alike = null;
  for (let one = from; one !== null; one = one.nextSibling) {
    if (one.isEqualNode(made)) return one;
    if (one instanceof Element) alike ??= isAlike(one, made) ? one : null;
  }
  return alike;
}

/** Whether a piece stands at a place of its parent or behind it. @param {Element} parent @param {Node|null} from @param {Element} piece */
const isAhead = (parent, from, piece) =>
  piece.parentNode === parent && from !== null
  && (from === piece || !!(from.compareDocumentPosition(piece) & Node.DOCUMENT_POSITION_FOLLOWING));

/** Whether the one may become the other by changes within. @param {Element} one @param {Element} other */
const isAlike = (one, other) =>
  one.tagName === other.tagName && one.id === other.id && (one.id !== "" || one.className === other.className)
  && !one.matches(WHOLE) && !other.matches(WHOLE);

/** Take a node out, and give what stood behind it. @param {ChildNode} node */
function removed(node) {
  const behind = node.nextSibling;
  node.remove();
  return behind;
}

/**
 * A form that was not sent keeps the id of the entry it may become: with a new one it would be another form.
 *
 * @param {Element} before @param {Element} after @param {Element|null} sent
 */
function keepIds(before, after, sent) {
  /** @param {Element} form */
  const keyOf = (form) => form.querySelector('[name="sheet_form"]')?.getAttribute("value");
  const known = new Map([...before.querySelectorAll("form")].filter((one) => one !== sent).map((one) => [keyOf(one), one]));
  for (const form of after.querySelectorAll("form")) {
    const old = known.get(keyOf(form));
    for (const field of old ? form.querySelectorAll('[name^="entry"]') : []) {
      const id = old?.querySelector(`[name="${CSS.escape(field.getAttribute("name") ?? "")}"]`)?.getAttribute("value");
      if (id) field.setAttribute("value", id);
    }
  }
}
