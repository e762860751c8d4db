// @ts-check
/**
 * Stands between the tablet's pages and the network: gives the bundle from its cache, and the tablet's own pages as the
 * same modules make them. Nothing is decided here and nothing is kept here; the pocket has it all.
 *
 * A new bundle waits until it is asked to take over, and says no while a sheet is open.
 */
import { answered, away, openTablet, photoShown } from "./answer.js";

const SHEET = /^\/jobs\/[^/]+\/sheet$/;
const PHOTO = /^\/photos\/[0-9a-f]{64}$/;
const OURS = /^\/(work|sign-in|sign-out|jobs|jobs\/[^/]+\/(sheet|entries|photos))$/;

/**
 * @param {any} self the worker's own global
 * @param {string} hash of the bundle
 */
export function worker(self, hash) {
  const cache = `cotterpin-${hash}`;
  /** @type {Promise<import("./answer.js").Tablet>|null} */
  let opening = null;
  const opened = () => (opening ??= openTablet(hash).catch((error) => { opening = null; throw error; }));

  self.addEventListener("install", (/** @type {any} */ event) => {
    event.waitUntil(fill(cache, hash));
    // So that a browser whose worker sleeps does not ask the office in its place.
    event.addRoutes?.({ condition: { urlPattern: "/*" }, source: "fetch-event" }).catch?.(console.error);
  });
  self.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(forgetOthers(cache).then(() => self.clients.claim())));
  self.addEventListener("message", (/** @type {any} */ event) => {
    if (event.data === "which") event.ports[0].postMessage(hash);
    else if (event.data === "take-over") event.waitUntil(takeOver(self));
  });
  self.addEventListener("fetch", (/** @type {any} */ event) => {
    const { request } = event;
    const url = new URL(request.url);
    if (url.origin !== self.location.origin) return;
    if (url.pathname.startsWith(`/bundle/${hash}/`)) event.respondWith(kept(cache, request));
    else if (PHOTO.test(url.pathname) && request.method === "GET") event.respondWith(photo(opened, request, url));
    else if (request.mode === "navigate" && OURS.test(url.pathname)) event.respondWith(own(opened, request, url));
    else if (request.mode === "navigate" && request.method === "GET") event.respondWith(office(opened, url));
  });
}

/** @param {() => Promise<import("./answer.js").Tablet>} opened @param {Request} request @param {URL} url */
async function own(opened, request, url) {
  const asked = request.clone();
  try {
    const fields = request.method === "POST" ? await request.formData() : url.searchParams;
    const answer = await answered(await opened(), request.method, url, fields, true);
    if (answer !== null) return answer;
  } catch (error) {
    // What the tablet cannot make, the office may.
    console.error(error);
  }
  return request.method === "GET" ? office(opened, url) : fetch(asked);
}

/** @param {() => Promise<import("./answer.js").Tablet>} opened @param {Request} request @param {URL} url */
async function photo(opened, request, url) {
  const tablet = await opened().catch(() => null);
  return tablet === null ? fetch(request) : photoShown(tablet, request, url.pathname.slice(8));
}

/**
 * A page of the office, said for whom: another's sign-in that the browser still has is none of this person's. When the
 * office does not answer, a page that says so.
 *
 * @param {() => Promise<import("./answer.js").Tablet>} opened @param {URL} url
 */
async function office(opened, url) {
  const tablet = await opened().catch(() => null);
  const me = tablet === null ? null : await tablet.pocket.me();
  /** @type {Record<string, string>} */
  const headers = { Accept: "text/html" };
  if (me !== null) headers["X-Tablet-Person"] = me.person;
  try {
    return await fetch(url, { headers, redirect: "manual", credentials: "same-origin" });
  } catch (error) {
    if (tablet === null) throw error;
    return away(tablet, me, url);
  }
}

/** @param {string} cache @param {Request} request */
const kept = async (cache, request) => (await (await caches.open(cache)).match(request)) ?? fetch(request);

/**
 * Fetch every part, each checked against the manifest by the browser itself; of the languages those that the bundle before
 * this has here. Another comes when somebody of the shop reads it (start.js).
 *
 * @param {string} cache @param {string} hash
 */
async function fill(cache, hash) {
  const manifest = await (await fetch(`/bundle/${hash}/manifest.json`)).json();
  const before = await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys()));
  const had = new Set(before.flat().map(({ url }) => url.split("/").pop()));
  const into = await caches.open(cache);
  await into.addAll(Object.entries(manifest.parts).filter(([path, { language }]) => !language || had.has(path)).map(([path, part]) =>
    new Request(`/bundle/${hash}/${path}`, { integrity: `sha256-${base64(part.sha256)}` })));
}

/** @param {string} hex */
const base64 = (hex) => btoa(hex.replace(/../g, (two) => String.fromCharCode(parseInt(two, 16))));

/** @param {string} cache */
async function forgetOthers(cache) {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("cotterpin-") && name !== cache).map((name) => caches.delete(name)));
}

/** @param {any} self */
async function takeOver(self) {
  const open = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  if (!open.some((/** @type {{url: string}} */ one) => SHEET.test(new URL(one.url).pathname))) await self.skipWaiting();
}
