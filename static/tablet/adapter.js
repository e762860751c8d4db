// @ts-check
/**
 * The only file that knows htmx: what a sheet's page asks for is answered on the tablet, whether the office answers or
 * not. Signing in and out are plain forms, answered by the worker.
 *
 * Listens from the first moment; a request that comes before the pocket is open waits for it.
 *
 * @param {Document} root
 * @param {(method: string, url: URL, fields: FormData|URLSearchParams) => Promise<Response>} answer
 */
export function adapter(root, answer) {
  root.addEventListener("htmx:before:request", (event) => {
    const { ctx } = /** @type {CustomEvent} */ (event).detail;
    const url = new URL(ctx.request.action, location.href);
    if (url.origin !== location.origin || !HERE.test(url.pathname)) return;
    ctx.fetch = (/** @type {string} */ action, /** @type {any} */ request) => {
      const asked = new URL(action, location.href);
      const method = String(request.method).toUpperCase();
      return answer(method, asked, method === "GET" ? asked.searchParams : request.body);
    };
  });
}

const HERE = /^\/(work|jobs\/[^/]+\/(sheet|entries|photos))$/;
