// @ts-check
/**
 * What the tablet answers at its own addresses: My work, Sheet, Sign in, and the entries a sheet's forms become. The
 * worker asks for whole pages, the adapter for parts; both get the same answer whether the office can be reached or not.
 */
import { sheetNow, withRows } from "./sheet_now.js";
import { uuid7 } from "./ids.js";
import { entriesFrom } from "./make_entry.js";
import { NotKept, openPocket } from "./pocket.js";
import { partOfPage, wholePage } from "./render.js";
import { lookAfter, toldOf } from "./reply.js";
import { Rules } from "./rules.js";
import { postFrom } from "./sender.js";
import { signInHere } from "./sign_in.js";
import { textsOf } from "./texts.js";
import { openPhotos, takePhoto } from "./photos.js";
import { PHOTOS_A_JOB, photosOf } from "./view_photo.js";
import { timeWords } from "./dates.js";
import { strip } from "./canonical.js";
import { useText } from "./templates.js";
import { Units } from "./units.js";
import { viewOf } from "./view.js";
import { packetIn, picturesIn } from "./wording.js";

/** @typedef {import("./render.js").Me} Me */
/**
 * @typedef {object} Tablet
 * @property {string} hash of the bundle
 * @property {string} language that is spoken
 * @property {(name: string) => Promise<any>} part of the bundle, read as JSON
 * @property {any} pocket
 * @property {Rules} rules
 * @property {any} texts
 * @property {any} units
 * @property {() => number} now
 * @property {() => string} newId
 * @property {import("./photos.js").Photos|null} photos `null` where this browser has no place for them
 * @property {string} shown what the sheet on the screen was made of
 */

const ADDRESS = /^\/jobs\/([^/]+)\/(sheet|entries|photos)$/;
const LOOKED_AT = 200;

/**
 * Open the tablet with the tables of this bundle.
 *
 * @param {string} hash
 * @returns {Promise<Tablet>}
 */
export async function openTablet(hash) {
  /** @param {string} name */
  const part = async (name) => {
    const address = `/bundle/${hash}/${name}.json`;
    const kept = await caches.match(address);
    if (kept) return kept.json();
    // A language that nobody read here until now.
    const answer = await fetch(address);
    if (answer.ok) await (await caches.open(`cotterpin-${hash}`)).put(address, answer.clone());
    return answer.json();
  };
  const [pocket, photos, tables] = await Promise.all([
    openPocket(indexedDB),
    openPhotos(indexedDB).catch((error) => (console.error(error), null)),
    part("tables"),
  ]);
  const tablet = tabletOf(hash, tables, pocket, Date.now, () => crypto.getRandomValues(new Uint8Array(10)), part);
  await speak(tablet, await pocket.here());
  return Object.assign(tablet, { photos });
}

/**
 * Go on in the language of who is signed in, else in the workshop's; in the one before, where the other is not here yet.
 *
 * @param {Tablet} tablet
 * @param {{me: any, shop: any}} here
 */
async function speak(tablet, { me, shop }) {
  const language = me?.language || shop.language || "en";
  if (language === tablet.language) return;
  const tables = await tablet.part(language === "en" ? "tables" : `tables.${language}`).catch(console.error);
  if (!tables) return;
  useText(tables.templates);
  Object.assign(tablet, { language, texts: textsOf(tables.texts) });
}

/**
 * @param {string} hash
 * @param {any} tables
 * @param {any} pocket
 * @param {() => number} now
 * @param {() => Uint8Array} random ten random bytes
 * @param {(name: string) => Promise<any>} part of the bundle, read as JSON
 * @returns {Tablet}
 */
export function tabletOf(hash, tables, pocket, now, random, part) {
  useText(tables.templates);
  return {
    hash,
    language: "en",
    part,
    pocket,
    photos: null,
    shown: "",
    rules: new Rules(tables.entries),
    texts: textsOf(tables.texts),
    units: new Units(tables.units),
    now,
    newId: () => uuid7(now(), random()),
  };
}

/**
 * The tablet's answer, or `null` where it is the office's to answer.
 *
 * @param {Tablet} tablet
 * @param {string} method
 * @param {URL} url
 * @param {FormData|URLSearchParams} fields
 * @param {boolean} whole a page, not a part of one
 * @returns {Promise<Response|null>}
 */
export async function answered(tablet, method, url, fields, whole) {
  const found = ADDRESS.exec(url.pathname);
  const [here, kept] = await Promise.all([tablet.pocket.here(), found && tablet.pocket.sheet(decodeURIComponent(found[1]))]);
  if (here.tablet === null) return null;
  await speak(tablet, here);
  if (url.pathname === "/sign-in") return signIn(tablet, method, url, fields);
  if (url.pathname === "/sign-out") {
    await tablet.pocket.signOut();
    return goTo("/sign-in", true);
  }
  const { me } = here;
  if (me === null) return goTo(`/sign-in?after=${encodeURIComponent(url.pathname + url.search)}`, whole);
  if (url.pathname === "/work") return work(tablet, me, whole);
  if (url.pathname === "/jobs") {
    const number = strip(String(fields.get("number") ?? "")).slice(0, 40);
    return (await tablet.pocket.sheet(number)) === null ? null : goTo(`/jobs/${encodeURIComponent(number)}/sheet`, true);
  }
  return kept === null ? null : sheet(tablet, here, kept, method, fields, whole);
}

/** @param {string} address @param {boolean} whole */
const goTo = (address, whole) =>
  whole
    ? new Response(null, { status: 303, headers: { Location: address } })
    : new Response("", { status: 401, headers: { "HX-Redirect": address } });

/** @param {string} html @param {number} status */
const shown = (html, status = 200) =>
  new Response(html, { status, headers: { "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" } });

// --- Signing in ---

const PATIENCE_MS = 3_000;

/** @param {Tablet} tablet @param {string} method @param {URL} url @param {FormData|URLSearchParams} sent */
async function signIn(tablet, method, url, sent) {
  if (method !== "POST") return signInPage(tablet, "", url.searchParams.get("after") ?? "/", []);
  const [person, pin, after] = ["person", "pin", "after"].map((name) => strip(String(sent.get(name) ?? "")));
  const post = postFrom(tablet.pocket, PATIENCE_MS);
  const { problem, words } = await signInHere({ pocket: tablet.pocket, post, now: tablet.now, crypto }, person, pin);
  if (problem === null && !words) return goTo(localPath(after), true);
  return signInPage(tablet, person, after, [{ field: "pin", words: words || tablet.texts.say(/** @type {any} */ (problem)) }], 422);
}

/** A path at the office, whatever was asked for. @param {string} wanted */
function localPath(wanted) {
  const isLocal = wanted.startsWith("/") && !/^\/[/\\]|\n/.test(wanted);
  return isLocal && wanted !== "/" ? wanted : "/work";
}

/** @param {Tablet} tablet @param {string} chosen @param {string} after @param {{field: string, words: string}[]} lines @param {number} status */
async function signInPage(tablet, chosen, after, lines, status = 200) {
  const people = (await tablet.pocket.people())
    .map((/** @type {any} */ one) => ({ id: one.id, name: one.name, roles: one.roles.map((/** @type {string} */ role) => tablet.texts.word(`role.${role}`)).join(", ") }))
    .sort((/** @type {any} */ one, /** @type {any} */ other) => one.name.localeCompare(other.name));
  const page = { title: tablet.texts.word("title.sign_in"), people, chosen, after, told: { lines } };
  return shown(wholePage(tablet, null, "sign_in", page), status);
}

// --- My work ---

/** @param {Tablet} tablet @param {Me} me @param {boolean} whole */
async function work(tablet, me, whole) {
  const view = (await tablet.pocket.work(me.person))?.view;
  const empty = { now: [], next: [], in_hand: [], second_looks: [], asides: [] };
  const page = { ...(view ?? empty), unheard: !view, title: tablet.texts.word("title.work"), live: "", asked_number: "", number_unknown: false };
  return shown(whole ? wholePage(tablet, me, "work", page) : partOfPage("work", page, {}));
}

/**
 * What stands in the place of a page of the office that does not answer.
 *
 * @param {Tablet} tablet
 * @param {Me|null} me
 * @param {URL} url
 */
export function away(tablet, me, url) {
  const page = {
    title: tablet.texts.word("title.away"),
    words: tablet.texts.sentence("tablet.page_away", {}),
    again: url.pathname + url.search,
  };
  return shown(wholePage(tablet, me, "away", page), 503);
}

// --- Sheet ---

/** @typedef {{me: Me, clock: {offset_ms: number}, shop: {timezone: string}, seen: string}} Here who is at this tablet, and when it is */

/**
 * @param {Tablet} tablet
 * @param {Here} here
 * @param {any} kept
 * @param {string} method
 * @param {FormData|URLSearchParams} sent
 * @param {boolean} whole
 */
async function sheet(tablet, here, kept, method, sent, whole) {
  const before = sheetNow(kept, tablet.rules);
  if (method !== "POST") return sheetShown(tablet, here, kept, before, await lookOf(tablet, here, sent), NOTHING_TOLD, whole, 200);
  const fields = fieldsOf(sent);
  /** @param {any[]} problems @param {any[]} rows */
  const shownAfter = async (problems, rows) => {
    // Not read again: what was noted comes behind what was there. What else came meanwhile is told by the pocket itself.
    const isNew = (/** @type {{id: string}} */ row) => !(row.id in before.rulings);
    const now = withRows(before, rows.filter(isNew), tablet.rules);
    const rulings = rows.map((/** @type {{id: string}} */ row) => now.rulings[row.id]);
    const look = { ...lookAfter(fields, problems, rulings, now.sheet), seen: here.seen };
    const told = toldOf(fields, problems, rulings, textsFor(tablet, saidOf(tablet, kept)));
    return sheetShown(tablet, here, kept, now, look, told, whole, problems.length ? 422 : 200);
  };
  // Made while the entries are on their way to the disk, and shown only when they are there.
  /** @type {Promise<Response>|null} */
  let early = null;
  const { problems, rows } = await record(tablet, here, kept, before.sheet, fields, sent.get("file"), (rows) => {
    early = shownAfter([], rows);
    early.catch(() => {});
  });
  return problems.length === 0 && early !== null ? early : shownAfter(problems, rows);
}

const NOTHING_TOLD = { form: "", typed: {}, troubles: {}, lines: [], recorded: false };

/**
 * Make entries of a form and keep them. A problem is told and nothing is kept; what the pocket could not keep is a
 * problem too, so that what was typed stays on the page.
 *
 * @param {Tablet} tablet
 * @param {Here} here
 * @param {any} kept
 * @param {import("./sheet.js").Sheet} sheet
 * @param {Record<string, string>} fields
 * @param {unknown} file what was chosen, of a form that takes a photo
 * @param {(rows: any[]) => void} meanwhile
 */
async function record(tablet, { me, clock }, kept, sheet, fields, file, meanwhile) {
  /** @param {string} code @param {string} field @param {Record<string, number>} details */
  const told = (code, field = "", details = {}) => ({ problems: [{ code, field, details }], rows: [] });
  const isPhoto = fields.kind === "photo_added" && file instanceof Blob && file.size > 0;
  const photo = isPhoto ? await takePhoto(file) : null;
  if (isPhoto && photo === null) return told("photo_kind", "file");
  fields.sha256 = photo === null ? "" : photo.sha256;
  if (photo !== null && photosOf(sheet).size >= PHOTOS_A_JOB) return told("photos_full", "file", { limit: PHOTOS_A_JOB });
  const offset = clock.offset_ms;
  if (!kept.open && sheet.handed_back === null) return told("job_closed");
  const people = Object.fromEntries(kept.about.people);
  const made = entriesFrom({ fields, sheet, person: me.person, now_ms: tablet.now(), people, units: tablet.units, newId: tablet.newId });
  if (made.problems.length) return { problems: made.problems, rows: [] };
  const entries = made.entries.map((/** @type {any} */ one) => ({ ...one, clock_offset_ms: offset, bundle: tablet.hash }));
  if (photo !== null) {
    const isKept = await tablet.photos?.keep(photo.sha256, photo.bytes, tablet.now()).then(() => true, (error) => console.error(error));
    if (!isKept) return told("photo_not_kept", "file");
  }
  try {
    const heard = { name: me.name, roles: me.roles, at_ms: tablet.now() + offset };
    const noting = () => tablet.pocket.note(entries, heard, meanwhile);
    const rows = await noting().catch(async (/** @type {any} */ error) => {
      if (error.code !== "quota" || tablet.photos === null) throw error;
      await tablet.photos.makeRoom();
      return noting();
    });
    return { problems: [], rows };
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    if (photo !== null) await tablet.photos?.forget(photo.sha256).catch(console.error);
    return told(`not_kept.${error.code}`);
  }
}

/** @param {FormData|URLSearchParams} sent @returns {Record<string, string>} */
function fieldsOf(sent) {
  /** @type {Record<string, string>} */
  const fields = {};
  for (const [name, value] of sent) {
    if (typeof value === "string" && name !== "csrf" && name !== "pin") fields[name] = clean(value);
  }
  return fields;
}

/** Text without what no keyboard types, as the office reads a form. @param {string} value */
const clean = (value) => value.replaceAll("\r\n", "\n").replace(/[\0\ud800-\udfff]/gu, "");

/**
 * What is asked to be seen. A break that is put away stays so, as far as this tablet can keep it.
 *
 * @param {Tablet} tablet
 * @param {Here} here
 * @param {FormData|URLSearchParams} asked
 */
async function lookOf(tablet, here, asked) {
  const [step, fastener, wrench, extension, angle, gone] = ["step", "at", "wrench", "extension", "angle", "seen"].map((name) =>
    strip(String(asked.get(name) ?? "")).slice(0, LOOKED_AT));
  const seen = gone ? `${here.seen} ${gone}`.split(" ").slice(-SEEN).join(" ") : here.seen;
  if (gone) await tablet.pocket.keepSeen(seen).catch(console.error);
  return { step, fastener, wrench, extension, angle, seen };
}

/** How many breaks that were put away are remembered: as many sheets as anybody goes to and fro between. */
const SEEN = 8;

/**
 * @param {Tablet} tablet
 * @param {Here} here
 * @param {any} kept
 * @param {ReturnType<typeof sheetNow>} shown
 * @param {any} look
 * @param {any} told
 * @param {boolean} whole
 * @param {number} status
 */
async function sheetShown(tablet, { me, clock, shop }, kept, { sheet, waiting }, look, told, whole, status) {
  tablet.shown = newsOf(sheet);
  const missing = kept.about.photos_missing ?? [];
  const taken = missing.length ? await takenHere(tablet) : new Set();
  const now = tablet.now() + clock.offset_ms;
  const said = saidOf(tablet, kept);
  const texts = textsFor(tablet, said);
  const when = (/** @type {number} */ at) => timeWords(at, now, shop.timezone, texts.word);
  const view = viewOf({
    sheet: sheet.packet === null ? sheet : { ...sheet, packet: packetIn(sheet.packet, said) },
    viewer: me,
    now_ms: now,
    table: tablet.rules.table,
    units: tablet.units,
    voice: { say: texts.sayRuling, word: texts.word, when, newId: tablet.newId },
    about: {
      complaint: kept.about.complaint,
      promised: kept.about.promised_ms === null ? "" : when(kept.about.promised_ms),
      saved: savedWords(tablet, sheet.entries, waiting.size),
      people: kept.about.people,
      photos_missing: missing.filter((/** @type {string} */ sha) => !taken.has(sha)),
      photos_refused: kept.about.photos_refused ?? [],
      closed: !kept.open,
    },
    look,
    told,
    waiting,
    pictures: picturesIn(kept.pictures, said),
  });
  const plate = sheet.packet === null ? "" : (sheet.packet.vehicle.plate ?? "");
  const page = { title: strip(`${tablet.texts.word("title.sheet")} ${kept.number} ${plate}`), topic: "" };
  return shown(whole ? wholePage(tablet, me, "sheet", page, view) : partOfPage("sheet", page, view), status);
}

/**
 * What came beside the packet in the language that is spoken; `null` for none, such as English.
 *
 * @param {Tablet} tablet @param {any} kept
 * @returns {import("./wording.js").Beside|null}
 */
const saidOf = ({ language }, { texts, texts_mark: mark }) => texts[language] ? { mark: `${language} ${mark}`, ...texts[language] } : null;

/** @param {Tablet} tablet @param {import("./wording.js").Beside|null} said */
const textsFor = ({ texts }, said) => (said === null ? texts : texts.of(said.packet));

/**
 * What makes a sheet another one for who looks at it. An entry made here that reaches the office is no news; one of
 * somebody else's is, and one that was set aside.
 *
 * @param {import("./sheet.js").Sheet} sheet
 */
export const newsOf = (sheet) => `${sheet.entries} ${Object.keys(sheet.asides).length}`;

/** @param {Tablet} tablet @param {number} entries @param {number} waiting */
export const savedWords = (tablet, entries, waiting) =>
  waiting
    ? tablet.texts.sentence(waiting === 1 ? "saved.here_one" : "saved.here", { count: waiting })
    : tablet.texts.sentence(entries === 1 ? "saved.office_one" : "saved.office", { count: entries });

/** The photos that were taken here and are still kept here. @param {Tablet} tablet @returns {Promise<Set<string>>} */
const takenHere = async ({ photos }) =>
  new Set(((await photos?.all().catch((error) => (console.error(error), []))) ?? []).map((one) => one.sha256));

/**
 * A photo: from this tablet while it is kept here, else from the office, by this tablet's credential where nobody has
 * signed in at the office.
 *
 * @param {Tablet} tablet
 * @param {Request} request
 * @param {string} sha
 */
export async function photoShown(tablet, request, sha) {
  const bytes = await tablet.photos?.photoBytes(sha).catch((error) => (console.error(error), null));
  if (bytes) return new Response(bytes, { headers: { "Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff" } });
  const office = await fetch(request, { redirect: "manual" });
  const known = office.ok ? null : await tablet.pocket.tablet();
  if (known === null) return office;
  return fetch(`/sync/photos/${sha}`, { headers: { Authorization: `Tablet ${known.id}.${known.secret}` } });
}
