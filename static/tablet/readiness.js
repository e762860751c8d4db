// @ts-check
/**
 * Proves on the tablet, one by one, what keeping sheets on it rests on, shows each and tells the office. Each proof does
 * the thing itself, as the pocket and the worker do it, rather than asking whether it could be done.
 *
 * The page brings the sentences: for each point one by what was found. `{count}` in one is filled here.
 */

import { onTablet } from "../js/on-tablet.js";

/** @typedef {{passed: boolean, why: string, count?: number}} Proof */
/** @typedef {{hash: string, parts: Record<string, {bytes: number, sha256: string, language?: string}>}} Manifest */
/** @typedef {{hash: string, manifest: Manifest|null, offset: number|null}} Found what the worker and the office said */

const PATIENCE_MS = 10_000;
// House rules: two weeks of photos; and what an entry's claimed time may be off by.
const ROOM_MB = 200;
const CLOCK_MINUTES = 2;
const PROOF = "cotterpin-readiness";

/** @type {[string, (found: Found) => Promise<Proof>|Proof][]} */
const PROOFS = [
  ["secure", secure],
  ["worker", worker],
  ["bundle", bundle],
  ["write", write],
  ["storage", storage],
  ["room", room],
  ["clock", clock],
  ["camera", camera],
];

/** @param {string} why @param {number} [count] @returns {Proof} */
const no = (why, count) => ({ passed: false, why, count });
/** @param {number} [count] @returns {Proof} */
const yes = (count) => ({ passed: true, why: "yes", count });

/**
 * Look at every point, show each as it is found, and tell the office.
 *
 * @param {HTMLElement} place the list of points
 */
export async function look(place) {
  if (place.dataset.looking) return;
  place.dataset.looking = "1";
  delete place.dataset.looked;
  say("");
  const found = await asked();
  const told = [];
  for (const [key, prove] of PROOFS) {
    const proof = await Promise.resolve(found).then(prove).catch((error) => (console.error(error), no("failed")));
    told.push({ key, passed: proof.passed, words: show(place, key, proof) });
  }
  const proof = await tell(place, found.hash, told).catch((error) => (console.error(error), no("away")));
  show(place, "credential", proof);
  const missing = [...place.querySelectorAll("[data-point]:not([data-optional])")].filter((one) => one.getAttribute("data-state") !== "yes");
  say(`${filled(place.dataset[missing.length ? "some" : "all"], missing.length)} ${place.dataset[proof.passed ? "kept" : "unkept"]}`);
  delete place.dataset.looking;
  place.dataset.looked = "1";
}

/** @param {string} words */
function say(words) {
  const line = document.getElementById("readiness-result");
  if (line) line.textContent = words;
}

/** @param {HTMLElement} place @param {string} key @param {Proof} proof the words shown */
function show(place, key, proof) {
  const line = /** @type {HTMLElement} */ (place.querySelector(`[data-point="${key}"]`));
  const words = filled(line.getAttribute(`data-says-${proof.why}`) ?? line.getAttribute("data-says-failed"), proof.count ?? 0);
  line.dataset.state = proof.passed ? "yes" : "no";
  for (const [part, text] of [["mark", place.dataset[proof.passed ? "yes" : "optional" in line.dataset ? "without" : "no"]], ["words", words]]) {
    const at = line.querySelector(`[data-${part}]`);
    if (at) at.textContent = text ?? "";
  }
  return words;
}

/** @param {string|null|undefined} words @param {number} count */
const filled = (words, count) => (words ?? "").replace("{count}", String(count));

/** What the worker is of, what the office now has, and by how much the clocks differ. @returns {Promise<Found>} */
async function asked() {
  const hash = await which().catch(() => "");
  const before = Date.now();
  const answer = await within(fetch("/bundle/manifest.json", { cache: "no-store" })).catch(() => null);
  const middle = (before + Date.now()) / 2;
  const date = Date.parse(answer?.headers.get("date") ?? "");
  const manifest = answer?.ok ? await answer.json().catch(() => null) : null;
  return { hash, manifest, offset: Number.isNaN(date) ? null : date - middle };
}

/** The hash of the bundle that the active worker is of. @returns {Promise<string>} */
async function which() {
  // Right after enrolling, the page itself may still be installing it.
  if (!(await navigator.serviceWorker.getRegistration()) && !localStorage.getItem("cotterpin-tablet")) return "";
  const { active } = await within(navigator.serviceWorker.ready);
  const { port1, port2 } = new MessageChannel();
  const said = new Promise((resolve) => (port1.onmessage = ({ data }) => resolve(String(data))));
  active?.postMessage("which", [port2]);
  return within(said);
}

/** @template T @param {Promise<T>} promise @returns {Promise<T>} */
const within = (promise) =>
  Promise.race([promise, new Promise((_, reject) => setTimeout(() => reject(new Error("no answer")), PATIENCE_MS))]);

// --- The points ---

/** A certificate that was clicked away leaves the context secure, but then no worker can be registered. */
function secure() {
  const { hostname, protocol } = location;
  if (!isSecureContext) return no(protocol === "https:" ? "failed" : "plain");
  if (protocol !== "https:") return { passed: true, why: "here" };
  return /^[\d.]+$|:/.test(hostname) ? no("number") : yes();
}

/** @param {Found} found */
function worker({ hash, manifest }) {
  if (hash === "") return no("serviceWorker" in navigator ? "none" : "unable");
  if (manifest === null) return no("away");
  return hash === manifest.hash ? yes() : no("older");
}

/** Every part is read and hashed; what is missing or spoilt is fetched again. @param {Found} found */
async function bundle({ manifest }) {
  if (manifest === null) return no("away");
  const name = `cotterpin-${manifest.hash}`;
  if (!("caches" in globalThis) || !(await caches.has(name))) return no("none");
  const cache = await caches.open(name);
  const all = Object.entries(manifest.parts).map(([path, part]) => ({ address: `/bundle/${manifest.hash}/${path}`, wanted: part.sha256, language: part.language }));
  // A language is brought when somebody of the shop reads it.
  const brought = await Promise.all(all.map(async ({ address, language }) => !language || !!(await cache.match(address, { ignoreVary: true }))));
  const parts = all.filter((_, at) => brought[at]);
  const wrong = await spoilt(cache, parts);
  for (const { address } of wrong) {
    await cache.delete(address);
    await cache.add(address).catch(console.error);
  }
  const left = wrong.length ? await spoilt(cache, wrong) : [];
  if (left.length) return no("missing", left.length);
  return wrong.length ? { passed: true, why: "mended", count: wrong.length } : yes(parts.length);
}

/** @param {Cache} cache @param {{address: string, wanted: string}[]} parts */
async function spoilt(cache, parts) {
  const whole = await Promise.all(parts.map(async ({ address, wanted }) => {
    const kept = await cache.match(address, { ignoreVary: true });
    return kept !== undefined && (await sha256(await kept.arrayBuffer())) === wanted;
  }));
  return parts.filter((_, at) => !whole[at]);
}

/** @param {ArrayBuffer} bytes */
async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** Write as the pocket writes, close, open again and read. In a store of its own: a proof must not touch the pocket. */
async function write() {
  const wanted = crypto.getRandomValues(new Uint32Array(4)).join("-");
  const first = await opened();
  const transaction = first.transaction("proof", "readwrite", { durability: "strict" });
  const strict = transaction.durability === "strict";
  transaction.objectStore("proof").put(wanted, "last");
  await new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
  first.close();
  const second = await opened();
  const read = await done(second.transaction("proof").objectStore("proof").get("last"));
  second.close();
  if (read !== wanted) return no("failed");
  return strict ? yes() : no("loose");
}

/** @returns {Promise<IDBDatabase>} */
function opened() {
  const request = indexedDB.open(PROOF, 1);
  request.onupgradeneeded = () => request.result.createObjectStore("proof");
  return within(done(request));
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

async function storage() {
  if (!navigator.storage?.persist) return no("unable");
  return (await navigator.storage.persisted()) || (await navigator.storage.persist()) ? yes() : no("no");
}

async function room() {
  if (!navigator.storage?.estimate) return no("unable");
  const { quota = 0, usage = 0 } = await navigator.storage.estimate();
  const left = Math.floor((quota - usage) / 1_000_000);
  return left >= ROOM_MB ? yes(left) : no("little", Math.max(left, 0));
}

/** @param {Found} found */
function clock({ offset }) {
  if (offset === null) return no("away");
  const seconds = Math.round(Math.abs(offset) / 1_000);
  return seconds < CLOCK_MINUTES * 60 ? yes(seconds) : no(offset > 0 ? "slow" : "fast", Math.round(seconds / 60));
}

async function camera() {
  const devices = (await navigator.mediaDevices?.enumerateDevices()) ?? [];
  return devices.some((one) => one.kind === "videoinput") ? yes() : no("no");
}

// --- The office ---

/**
 * Tell the office. That it takes this is the proof of the tablet's credential.
 *
 * @param {HTMLElement} place
 * @param {string} hash
 * @param {{key: string, passed: boolean, words: string}[]} points
 * @returns {Promise<Proof>}
 */
async function tell(place, hash, points) {
  const tablet = await known(place, hash).catch((error) => (console.error(error), undefined));
  if (!tablet) return no(tablet === null ? "none" : "pocket");
  const answer = await within(fetch("/sync/readiness", {
    method: "POST",
    headers: { "Content-Type": "application/json", Authorization: `Tablet ${tablet.id}.${tablet.secret}` },
    body: JSON.stringify({ tablet: tablet.id, points }),
  }));
  if (answer.ok) return yes();
  return no(answer.status === 401 ? "refused" : "failed");
}

/**
 * The tablet as its pocket knows it. Opened by the pocket of the worker's own bundle where there is a worker: this page
 * may come from a newer office, whose pocket would bring the store into a form that the worker cannot read.
 *
 * @param {HTMLElement} place
 * @param {string} hash
 * @returns {Promise<{id: string, secret: string}|null>}
 */
async function known(place, hash) {
  const { openPocket } = await import(hash ? `/bundle/${hash}/tablet/start.js` : String(place.dataset.pocket));
  const pocket = await openPocket(indexedDB);
  try {
    return await pocket.tablet();
  } finally {
    pocket.close();
  }
}

void onTablet();
const place = document.getElementById("readiness");
if (place) {
  document.getElementById("look-again")?.addEventListener("click", () => void look(place));
  void look(place);
}
