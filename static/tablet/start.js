// @ts-check
/**
 * Where the tablet's script begins: `tabletPage` on a page the tablet made, `backstage` on a page of the office, `worker`
 * in the worker. Loading this does nothing by itself.
 */
import { page } from "../js/page.js";
import { adapter } from "./adapter.js";
import { answered, newsOf, openTablet, savedWords } from "./answer.js";
import { timeWords } from "./dates.js";
import { indexOf } from "./packet.js";
import { openPocket } from "./pocket.js";
import { sendPhotos } from "./photos.js";
import { exchange, keepSending, postFrom } from "./sender.js";
import { sheetNow } from "./sheet_now.js";
import { worker } from "./worker.js";

/* The readiness page opens the pocket as this bundle does. */
export { openPocket, worker };

/** @typedef {import("./answer.js").Tablet} Tablet */

// Said only when it lasts: an office that restarts is back sooner.
const AWAY_MS = 12_000;
// Whoever tapped sees the answer first; sending and looking round come right behind it.
const BEHIND_MS = 100;

/** @param {string} hash of the bundle this page is of */
export function tabletPage(hash) {
  const opening = openTablet(hash);
  page(document);
  adapter(document, async (method, url, fields) => {
    const answer = await answered(await opening, method, url, fields, false);
    return answer ?? fetch(url, method === "GET" ? {} : { method, body: fields });
  });
  opening.then((tablet) => {
    send(tablet);
    follow(tablet);
  });
  newBundle();
}

/** @param {string} hash of the bundle that is in use */
export async function backstage(hash) {
  send(await openTablet(hash));
}

/** @param {Tablet} tablet */
function send(tablet) {
  const { pocket, now, hash } = tablet;
  const post = postFrom(pocket, 20_000);
  const renew = renewing(tablet);
  /** @type {import("./sender.js").Outcome} */
  let last = "answered";
  const poke = keepSending({
    once: (isOffered) => exchange(pocket, post, now, hash, photosOf(tablet), isOffered),
    told: (outcome) => {
      say(tablet, (last = outcome));
      if (outcome !== "answered") return;
      renew();
      spokenHere(tablet).catch(console.error);
    },
    locks: navigator.locks,
    random: Math.random,
  });
  // Of several pages one sends, and that need not be the one that noted.
  pocket.onChange((/** @type {string[]} */ _jobs, /** @type {boolean} */ noted) => { if (noted) setTimeout(poke, BEHIND_MS); });
  // The longer the office is silent, the seldomer it is tried; that it is silent is said in time all the same.
  setInterval(() => say(tablet, last), 3_000);
  addEventListener("online", poke);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) poke(); });
}

/** @type {Set<string>} */
const here = new Set();

/** Have every language on this tablet that somebody of the shop reads, before they come to it. @param {Tablet} tablet */
async function spokenHere({ pocket, part }) {
  const [shop, people] = await Promise.all([pocket.shop(), pocket.people()]);
  for (const language of [shop.language, ...people.map((/** @type {{language: string}} */ one) => one.language)]) {
    if (!language || language === "en" || here.has(language)) continue;
    await part(`tables.${language}`);
    here.add(language);
  }
}

/**
 * Fetches the worker of another bundle, whose address names it, when the office has said that it has one. It waits there
 * until it may take over.
 *
 * @param {Tablet} tablet
 */
function renewing({ pocket, hash }) {
  let asked = hash;
  return async () => {
    const bundle = await pocket.bundle();
    if (!bundle || bundle === asked) return;
    asked = bundle;
    try {
      await navigator.serviceWorker.register(`/worker.js?${bundle}`, { type: "module", updateViaCache: "all" });
    } catch {
      // An office that does not answer says it again when it does.
      asked = hash;
    }
  };
}

/** What is sent of photos. That they cannot be read keeps no entry back. @param {Tablet} tablet */
const photosOf = ({ photos }) => ({
  send: (/** @type {{id: string, secret: string}} */ tablet) => photos === null ? Promise.resolve("answered") : sendPhotos({
    fetch: (path, init) => fetch(path, { ...init, signal: AbortSignal.timeout(60_000) }),
    tablet,
    db: photos,
  }),
  owed: async () => photos === null ? 0 : (await photos.all()).filter((one) => !one.refused).length,
});

/** What the office's silence means, in a line on top; nothing while it answers. @param {Tablet} tablet @param {string} outcome */
async function say(tablet, outcome) {
  const line = document.getElementById("tablet-line");
  if (!line) return;
  const { pocket, texts } = tablet;
  const [at, shop, debt, refused] = await Promise.all([pocket.answeredAt(), pocket.shop(), pocket.debt(), pocket.photosRefused()]);
  const now = tablet.now();
  let words = "";
  if (["unknown", "full", "stuck"].includes(outcome)) words = texts.sentence(`tablet.${outcome}`, {});
  else if (at === null) words = outcome === "answered" ? "" : texts.sentence("tablet.away_never", {});
  else if (now - at > AWAY_MS) words = texts.sentence(outcome === "refused" ? "tablet.refused" : "tablet.away", { at: timeWords(at, now, shop.timezone, texts.word) });
  else if (debt.not_taken) words = texts.sentence("tablet.not_taken", { count: debt.not_taken });
  else if (refused) words = texts.sentence("tablet.photos_refused", { count: refused });
  if (line.textContent !== words) line.textContent = words;
  line.hidden = !words;
  document.documentElement.toggleAttribute("data-lined", !!words);
}

/** Show what changed in the pocket. @param {Tablet} tablet */
function follow(tablet) {
  const found = /^\/jobs\/([^/]+)\/sheet$/.exec(location.pathname);
  const number = found ? decodeURIComponent(found[1]) : "";
  // What the page was made of: the first thing that comes afterwards is news too.
  if (number) tablet.pocket.sheet(number).then((/** @type {any} */ kept) => {
    if (kept === null) return;
    const { sheet } = sheetNow(kept, tablet.rules);
    tablet.shown ||= newsOf(sheet);
    // Now, so that the first tap has not to: the packet is read and its hash is reckoned.
    if (sheet.packet !== null) indexOf(sheet.packet);
  });
  /** @type {Set<string>} */
  const changed = new Set();
  let timer = 0;
  tablet.pocket.onChange((/** @type {string[]} */ jobs) => {
    for (const job of jobs) changed.add(job);
    clearTimeout(timer);
    timer = setTimeout(lookRound, BEHIND_MS);
  });
  async function lookRound() {
    const jobs = new Set(changed);
    changed.clear();
    const kept = number ? await tablet.pocket.sheet(number) : null;
    if (kept === null) return document.querySelector(".work")?.dispatchEvent(new CustomEvent("look-again"));
    if (!jobs.has(kept.job)) return;
    const { sheet, waiting } = sheetNow(kept, tablet.rules);
    const saved = document.getElementById("saved");
    const words = savedWords(tablet, sheet.entries, waiting.size);
    if (saved && saved.textContent !== words) saved.textContent = words;
    const news = newsOf(sheet);
    if (tablet.shown && tablet.shown !== news) document.querySelector("[data-behaviour~=sheet-live]")?.dispatchEvent(new CustomEvent("sheet-changed"));
    tablet.shown = news;
  }
}

/** A new bundle is asked to take over on My work, where no sheet is in hand; then this page is made anew by it. */
async function newBundle() {
  if (location.pathname !== "/work") return;
  const { serviceWorker } = navigator;
  const registration = await serviceWorker.getRegistration();
  if (!registration) return;
  const before = serviceWorker.controller;
  serviceWorker.addEventListener("controllerchange", () => { if (before) location.reload(); });
  // Asked again and again: it may still be on its way, or a sheet that is open beside this page may be closed.
  setInterval(() => registration.waiting?.postMessage("take-over"), 2_000);
}
