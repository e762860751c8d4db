// @ts-check
/**
 * Photos taken on this tablet, until the office has them. In a database of their own, and never in the last room there
 * is: a browser gives all that its pages keep one quota. Before the first photo a place is taken that holds nothing; it
 * is given up for a sign-off that finds no room, and while it cannot be taken, no photo is kept.
 *
 *  1. A photo is kept before the entry that names it is noted; one that cannot be kept is said and stops nothing.
 *  2. It is sent after its entry, in pieces, from wherever the office says it stopped.
 *  3. It leaves only when the office says that it has it whole.
 *  4. One photo at a time is in memory, and a few pieces are sent at a time: entries never wait behind photos.
 */
import { asked, complete, within } from "./transactions.js";

/** `refused`: why the office never takes it. @typedef {{sha256: string, size: number, kept_ms: number, refused: string}} Kept */
/**
 * @typedef {object} Photos
 * @property {() => Promise<Kept[]>} all in the order they were taken
 * @property {(sha: string) => Promise<ArrayBuffer|null>} photoBytes
 * @property {(sha: string, bytes: ArrayBuffer, atMs: number) => Promise<void>} keep rejects where it is not kept
 * @property {(sha: string, problem: string) => Promise<void>} refuse
 * @property {(sha: string) => Promise<void>} forget
 * @property {() => Promise<void>} makeRoom for an entry, out of what photos leave free
 */

const NAME = "cotterpin-photos";
export const PIECE_BYTES = 256 * 1024;
export const PIECES_AT_ONCE = 8;
const LONGEST_EDGE = 1_600;
const QUALITY = 0.82;
/** What photos leave to entries, which take about 1 kB each: a house rule. Random, since browsers pack what they keep. */
const FOR_ENTRIES = 4 * 1024 * 1024;
const MOST_RANDOM = 65_536;
// What the office never takes, however often it is sent.
const FOR_GOOD = ["photo_kind", "photo_not_whole", "photo_too_many_pixels", "photo_too_large", "photo_says_more", "photos_full"];

/**
 * Open the photos of this tablet, and make a place for them where there is none.
 *
 * @param {IDBFactory} factory
 * @returns {Promise<Photos>}
 */
export async function openPhotos(factory) {
  const request = factory.open(NAME, 1);
  // Bytes apart from what is said of them: counting photos reads none.
  request.onupgradeneeded = () => ["kept", "bytes"].forEach((store) => request.result.createObjectStore(store));
  const db = await asked(request);
  db.onversionchange = () => db.close();
  /** @param {string} store @param {(all: IDBObjectStore) => IDBRequest} ask */
  const reading = (store, ask) => within(db.transaction(store), (at) => asked(ask(at(store))));
  /** @param {(kept: IDBObjectStore, bytes: IDBObjectStore) => void} change */
  const writing = (change) => {
    const transaction = db.transaction(["kept", "bytes"], "readwrite", { durability: "strict" });
    return within(transaction, (at) => {
      const over = complete(transaction);
      change(at("kept"), at("bytes"));
      return over;
    });
  };
  return {
    all: async () => (await reading("kept", (all) => all.getAll())).sort((/** @type {Kept} */ one, /** @type {Kept} */ other) => one.kept_ms - other.kept_ms),
    photoBytes: async (sha) => (await reading("bytes", (all) => all.get(sha))) ?? null,
    makeRoom: () => writing((_, all) => all.delete("room")),
    keep: async (sha, bytes, atMs) => {
      if (!(await reading("bytes", (all) => all.getKey("room")))) {
        const room = new Uint8Array(FOR_ENTRIES);
        for (let at = 0; at < FOR_ENTRIES; at += MOST_RANDOM) crypto.getRandomValues(room.subarray(at, at + MOST_RANDOM));
        await writing((_, all) => all.put(room.buffer, "room"));
      }
      return writing((kept, all) => {
        kept.put({ sha256: sha, size: bytes.byteLength, kept_ms: atMs, refused: "" }, sha);
        all.put(bytes, sha);
      });
    },
    refuse: (sha, problem) => writing((kept) => {
      const found = kept.get(sha);
      found.onsuccess = () => found.result && kept.put({ ...found.result, refused: problem }, sha);
    }),
    forget: (sha) => writing((kept, all) => [kept, all].forEach((store) => store.delete(sha))),
  };
}

// --- Taking one ---

/**
 * A photo as it is kept: as large as a screen needs and with nothing in it but the picture. `null` for what is none.
 *
 * @param {Blob} file
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer}|null>}
 */
export async function takePhoto(file) {
  const image = await createImageBitmap(file).catch(() => null);
  if (image === null) return null;
  const scale = Math.min(1, LONGEST_EDGE / Math.max(image.width, image.height));
  const canvas = new OffscreenCanvas(Math.max(1, Math.round(image.width * scale)), Math.max(1, Math.round(image.height * scale)));
  const at = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: false }));
  at.imageSmoothingQuality = "high";
  at.drawImage(image, 0, 0, canvas.width, canvas.height);
  image.close();
  const blob = await canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY });
  const bytes = onlyPicture(new Uint8Array(await blob.arrayBuffer()));
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return { sha256: Array.from(digest, (one) => one.toString(16).padStart(2, "0")).join(""), bytes: bytes.buffer };
}

/**
 * A JPEG just made, without what some encoders write beside the picture: all of its application segments but JFIF's and
 * Adobe's, and comments. Source: ITU-T T.81, B.1.1.
 *
 * @param {Uint8Array} bytes
 */
export function onlyPicture(bytes) {
  const kept = [bytes.subarray(0, 2)];
  let at = 2;
  while (bytes[at] === 0xff && bytes[at + 1] !== 0xda) {
    const after = at + 2 + bytes[at + 2] * 256 + bytes[at + 3];
    const marker = bytes[at + 1];
    const says = marker === 0xfe || (marker > 0xe0 && marker < 0xf0 && marker !== 0xee);
    if (!says) kept.push(bytes.subarray(at, after));
    at = after;
  }
  kept.push(bytes.subarray(at));
  const whole = new Uint8Array(kept.reduce((sum, part) => sum + part.length, 0));
  let filled = 0;
  for (const part of kept) { whole.set(part, filled); filled += part.length; }
  return whole;
}

// --- Sending ---

/** @typedef {(path: string, init: RequestInit) => Promise<{status: number, headers: {get: (name: string) => string|null}, json: () => Promise<any>}>} Fetch */

/**
 * Send what is kept, a few pieces of it. Rejects where nothing came back.
 *
 * @param {object} given
 * @param {Fetch} given.fetch
 * @param {{id: string, secret: string}} given.tablet
 * @param {Photos} given.db
 * @returns {Promise<"answered"|"unknown"|"more">} more: some is left that the office would take at once
 */
export async function sendPhotos({ fetch, tablet, db }) {
  const headers = { Authorization: `Tablet ${tablet.id}.${tablet.secret}` };
  let left = PIECES_AT_ONCE;
  for (const one of await db.all()) {
    if (one.refused) continue;
    const path = `/sync/photos/${one.sha256}`;
    const here = await fetch(path, { method: "HEAD", headers });
    if (here.status === 401) return "unknown";
    let have = Number(here.headers.get("X-Photo-Have"));
    let whole = here.headers.get("X-Photo-Whole") === "yes";
    const bytes = here.status === 200 && !whole ? await db.photoBytes(one.sha256) : null;
    let refused = here.status === 409 ? "photos_full" : "";
    while (bytes !== null && !whole && !refused) {
      if (left === 0) return "more";
      left -= 1;
      const body = bytes.slice(have, have + PIECE_BYTES);
      const answer = await fetch(`${path}?offset=${have}&size=${one.size}`, { method: "POST", headers, body });
      if (answer.status === 401) return "unknown";
      const told = await answer.json();
      if (FOR_GOOD.includes(told.problem)) refused = told.problem;
      whole = told.whole === true;
      // Neither further nor elsewhere: a full disk, pieces thrown away. Another time.
      if (!whole && !(told.have > have) && told.problem !== "photo_gap") break;
      have = told.have;
    }
    if (whole) await db.forget(one.sha256);
    else if (refused) await db.refuse(one.sha256, refused);
  }
  return "answered";
}
