// @ts-check
/**
 * Says so when what was sent did not reach the office, or was not taken: never lost in silence. What was typed stays on
 * the page (htmx is told in base.html not to put such an answer in its place); the entry keeps its id, so pressing
 * again records it once even if the first one had arrived.
 *
 * The sentences come with the page, on the element `unsaved`. Looking again (GET) loses nothing and says nothing.
 * @param {Document} root
 */
export function unsaved(root) {
  const place = root.getElementById("unsaved");
  if (!place) return;
  /** @param {string | undefined} words */
  const say = (words) => {
    place.textContent = words ?? "";
    place.hidden = !words;
  };
  /** @param {Event} event */
  const sent = (event) => {
    const ctx = event instanceof CustomEvent ? event.detail?.ctx : null;
    return ctx && String(ctx.request?.method).toUpperCase() !== "GET" ? ctx : null;
  };
  root.addEventListener("htmx:error", (event) => {
    if (sent(event)) say(place.dataset.noAnswer);
  });
  root.addEventListener("htmx:response:error", (event) => {
    const status = sent(event)?.response?.status;
    if (status === 401 || status === 403) say(place.dataset.signedOut);
    else if (status === 413) say(place.dataset.tooLarge);
    else if (status >= 500) say(place.dataset.notTaken);
  });
  root.addEventListener("htmx:before:request", (event) => {
    if (sent(event)) say("");
  });
}
