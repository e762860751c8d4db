// @ts-check
/** Whole pages and parts of them, from view models, by the templates both ends have. */
import { render } from "./templates.js";

/** @typedef {import("./answer.js").Tablet} Tablet */
/** @typedef {{person: string, name: string, roles: string[]}} Me */

const UNSAVED = ["no_answer", "not_taken", "signed_out", "too_large"];

/**
 * A whole page as the tablet makes it. `view` is the sheet's, for a sheet.
 *
 * @param {Tablet} tablet
 * @param {Me|null} me
 * @param {"sheet"|"work"|"sign_in"|"away"} kind
 * @param {{title: string}} page
 * @param {object} view
 */
export function wholePage(tablet, me, kind, page, view = {}) {
  const at = `/bundle/${tablet.hash}/`;
  const roles = me === null ? [] : me.roles;
  return render("tablet/_document.html", {
    kind,
    language: tablet.language,
    page,
    title: page.title,
    view,
    me: me === null ? "" : me.name,
    csrf: "",
    place: kind,
    may: Object.fromEntries(["technician", "foreman", "desk"].map((role) => [role, roles.includes(role)])),
    assets: {
      icon: `${at}icon.svg`,
      styles: `${at}css/main.css`,
      script: `${at}tablet/page.js`,
      htmx: "",
    },
    unsaved: Object.fromEntries(UNSAVED.map((name) => [name, tablet.texts.sentence(`unsaved.${name}`, {})])),
  });
}

/**
 * The part of a page that htmx puts in its place.
 *
 * @param {"sheet"|"work"} kind
 * @param {object} page
 * @param {object} view
 */
export const partOfPage = (kind, page, view) =>
  render(kind === "sheet" ? "tablet/_sheet_view.html" : "tablet/_work.html", { page, view, csrf: "" });
