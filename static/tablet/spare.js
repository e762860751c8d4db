// @ts-check
/**
 * What of a sheet's markup need not be read again. Rows, closed lines and the drawing are most of a sheet and are as
 * they were a tap ago: reading them anew would cost a slow tablet more than all that has changed.
 *
 * A piece has an id and stands in the page as it was last put there, so that its text tells whether it is the same.
 */

/** Closed lines first: the rows in one that has not changed are not looked at. */
const PIECES = [
  /<details class="line fold line--closed" id="([^"]+)">[^]*?<\/ol>\n<\/details>/g,
  /<details class="fold axle-fold" id="([^"]+)">[^]*?<\/figure>\n<\/details>/g,
  /<li class="rail__row[^>]* id="([^"]+)">[^]*?<\/li>(?=\s*(?:<li class="rail__|<\/ol>))/g,
];
const STANDS = "data-stands";

/** The pieces of each sheet by id, as they were put there. @type {WeakMap<Element, Map<string, string>>} */
const known = new WeakMap();

/**
 * Markup with a mark in the place of each piece that stands in the page already. Call `keep` when it is put there.
 *
 * @param {Element} target @param {string} html
 */
export function spared(target, html) {
  const before = known.get(target);
  const now = new Map(before);
  known.delete(target);
  let text = html;
  for (const piece of PIECES) {
    text = text.replace(piece, (whole, id) => {
      const isSame = before?.get(id) === whole && target.contains(document.getElementById(id));
      now.set(id, whole);
      return isSame ? `<template ${STANDS}="${id}"></template>` : whole;
    });
  }
  return { text, keep: () => known.set(target, now) };
}

/** The id of the piece that a mark stands for. @param {Node} node @returns {string|null} */
export const standsFor = (node) => (node instanceof HTMLTemplateElement ? node.getAttribute(STANDS) : null);

/**
 * Put the pieces that stand for themselves into what is put in anew.
 *
 * @param {Node} made @param {Map<string, Element>} standing
 */
export function fillIn(made, standing) {
  if (!(made instanceof Element)) return;
  for (const mark of made.querySelectorAll(`template[${STANDS}]`)) mark.replaceWith(/** @type {Element} */ (standing.get(standsFor(mark) ?? "")));
}

/** The pieces that marks stand for, from before anything is moved. @param {Element} made @returns {Map<string, Element>} */
export const standingFor = (made) =>
  new Map([...made.querySelectorAll(`template[${STANDS}]`)].map((mark) => {
    const id = standsFor(mark) ?? "";
    return [id, /** @type {Element} */ (document.getElementById(id))];
  }));
