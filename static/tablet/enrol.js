// @ts-check
/**
 * Makes this device a tablet of the workshop: gives a foreman's one-time code to the office and keeps the credential that
 * comes back. Refused where a tablet could not work: at a bare address, and where the page is not trusted.
 */
import { onTablet, register } from "../js/on-tablet.js";

const PATIENCE_MS = 20_000;
// Whether this device is a tablet is asked on every page, before any database is opened: start.js reads this.
const HINT = "cotterpin-tablet";

/**
 * Why this page cannot make a tablet: a key of the page's sentences, or "".
 *
 * @param {string} hostname
 * @param {boolean} isSecure
 * @returns {"address"|"insecure"|""}
 */
export function whyNot(hostname, isSecure) {
  if (/^\d+(\.\d+){3}$/.test(hostname) || hostname.startsWith("[")) return "address";
  return isSecure ? "" : "insecure";
}

/**
 * Ask the office, and keep what it gives. A device that was a tablet before says so by its old credential and stays the
 * same one, with all that waits on it.
 *
 * @param {any} pocket
 * @param {(body: string, headers: Record<string, string>) => Promise<{status: number, json: () => Promise<any>}>} post
 * @param {string} code
 * @param {string} name
 * @returns {Promise<{id: string, says: ""|"away"|"unkept", words: string}>} id "" where nothing came of it
 */
export async function enrol(pocket, post, code, name) {
  const before = await pocket.tablet();
  /** @type {Record<string, string>} */
  const headers = before === null ? {} : { Authorization: `Tablet ${before.id}.${before.secret}` };
  const answer = await post(JSON.stringify({ code, name }), headers).catch(() => null);
  if (answer === null || answer.status >= 500) return { id: "", says: "away", words: "" };
  const told = await answer.json();
  if (answer.status !== 200) return { id: "", says: "", words: told.words };
  try {
    await pocket.keepTablet({ id: told.tablet.id, name: told.tablet.name, secret: told.secret });
  } catch {
    return { id: "", says: "unkept", words: "" };
  }
  return { id: told.tablet.id, says: "", words: "" };
}

/** @param {string} body @param {Record<string, string>} headers */
const post = (body, headers) =>
  fetch("/sync/enrol", {
    method: "POST",
    headers: { "Content-Type": "application/json", ...headers },
    body,
    signal: AbortSignal.timeout(PATIENCE_MS),
  });

/**
 * Have everything a tablet carries brought by its worker, before this page asks for any of it: a browser fetches for a
 * first worker past all that pages have kept. Where there can be no worker, the readiness page says why.
 *
 * @param {string} address of the script
 */
async function carried(address) {
  // The script lies under its bundle's hash.
  if (!(await navigator.serviceWorker.getRegistration())) await register(address.split("/")[2]);
  const late = new Promise((_, reject) => setTimeout(() => reject(new Error("no worker in time")), PATIENCE_MS));
  await Promise.race([navigator.serviceWorker.ready, late]);
}

/** @param {HTMLFormElement} form */
function start(form) {
  const line = /** @type {HTMLElement} */ (document.getElementById("enrol-says"));
  const say = (/** @type {string} */ words) => { line.textContent = words; };
  const refused = whyNot(location.hostname, isSecureContext);
  if (refused) return say(form.dataset[refused] ?? "");
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = /** @type {HTMLButtonElement} */ (form.querySelector("button"));
    button.disabled = true;
    const sent = new FormData(form);
    const script = String(form.dataset.pocket);
    await carried(script).catch(console.error);
    const pocket = await import(script).then(({ openPocket }) => openPocket(indexedDB)).catch(() => null);
    const { id, says, words } = pocket === null
      ? { id: "", says: "unkept", words: "" }
      : await enrol(pocket, post, String(sent.get("code")), String(sent.get("name")));
    button.disabled = false;
    if (!id) return say(words || (form.dataset[says] ?? ""));
    say(form.dataset.done ?? "");
    localStorage.setItem(HINT, id);
    location.assign("/readiness");
  });
}

if (typeof document !== "undefined") {
  void onTablet();
  const form = document.getElementById("enrol");
  if (form instanceof HTMLFormElement) start(form);
}
