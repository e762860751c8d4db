// @ts-check
/**
 * The only file that knows htmx: what a sheet's page asks for is answered on the tablet, whether the office answers or
 * not. It does what the attributes `hx-get`, `hx-post` and `hx-swap` say and tells what htmx tells, so that templates and
 * behaviours are the same at both ends; htmx itself is not on these pages, since its way round takes longer than all
 * the rest of a tap. Signing in and out are plain forms, answered by the worker.
 *
 * Listens from the first moment; a request that comes before the pocket is open waits for it.
 */
import { put } from "./patch.js";

/** @typedef {{request: {method: string, action: string}, response?: {status: number}}} Ctx what behaviours read */

/**
 * @param {Document} root
 * @param {(method: string, url: URL, fields: FormData|URLSearchParams) => Promise<Response>} answer
 */
export function adapter(root, answer) {
  /** One after the other, as they were asked for. @type {Promise<void>} */
  let last = Promise.resolve();
  /** @param {Event} event @param {HTMLElement} source @param {FormData|undefined} form */
  const ask = (event, source, form) => {
    const method = source.hasAttribute("hx-post") ? "POST" : "GET";
    const address = source.getAttribute(`hx-${method.toLowerCase()}`);
    if (address === null || event.defaultPrevented) return;
    event.preventDefault();
    // The second tap of a double tap.
    if (source.classList.contains(ASKING)) return;
    source.classList.add(ASKING);
    const url = new URL(address, location.href);
    if (method === "GET" && form) url.search = `${new URLSearchParams(/** @type {any} */ (form))}`;
    /** @type {Ctx} */
    const ctx = { request: { method, action: url.href } };
    tell(source, "before:request", ctx);
    last = last
      .then(() => answer(method, url, method === "GET" ? url.searchParams : /** @type {FormData} */ (form)))
      .then((response) => heard(source, ctx, response))
      .catch((error) => {
        console.error(error);
        tell(source, "error", ctx);
      })
      .then(() => {
        source.classList.remove(ASKING);
        tell(root, "finally:request", ctx);
      });
  };
  root.addEventListener("submit", (event) => {
    if (event.target instanceof HTMLFormElement) ask(event, event.target, new FormData(event.target, event.submitter));
  });
  root.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[hx-get]") : null;
    const isPlain = event instanceof MouseEvent && !(event.ctrlKey || event.metaKey || event.shiftKey);
    if (link instanceof HTMLElement && isPlain) ask(event, link, undefined);
  });
  // It does not bubble.
  root.addEventListener("look-again", (event) => {
    if (event.target instanceof HTMLElement) ask(event, event.target, undefined);
  }, true);
}

const ASKING = "htmx-request";

/** @param {EventTarget} target @param {string} name @param {Ctx} ctx */
const tell = (target, name, ctx) => target.dispatchEvent(new CustomEvent(`htmx:${name}`, { detail: { ctx }, bubbles: true }));

/** @param {HTMLElement} source @param {Ctx} ctx @param {Response} response */
async function heard(source, ctx, response) {
  const { status } = response;
  ctx.response = { status };
  const elsewhere = response.headers.get("HX-Redirect");
  if (elsewhere !== null) return location.assign(elsewhere);
  const html = await response.text();
  tell(source, "after:request", ctx);
  // Unprocessable is a page that says why; any other refusal is no page.
  if (!response.ok && status !== 422) return tell(source, "response:error", ctx);
  const target = source.closest("[hx-swap], [hx-swap\\:inherited]");
  if (target === null) return;
  put(target, html, source);
  tell(target, "after:swap", ctx);
}
