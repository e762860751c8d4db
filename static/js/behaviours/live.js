// @ts-check
/**
 * Listens to server-sent events and fetches the element again when something changed (`data-live` is the topic).
 * Waits while someone is typing or choosing inside it, so that nothing is taken from under a hand.
 * @param {HTMLElement} element
 */
export function live(element) {
  const topic = element.dataset.live;
  if (!topic) return;
  const source = new EventSource(`/events/${encodeURIComponent(topic)}`);
  let wanted = false;
  const busy = () => element.contains(document.activeElement) && document.activeElement?.matches("input, select, textarea");
  const refresh = () => {
    if (!document.contains(element)) return source.close();
    if (busy()) return;
    wanted = false;
    element.dispatchEvent(new CustomEvent("look-again", { bubbles: false }));
  };
  source.addEventListener("changed", () => { wanted = true; refresh(); });
  element.addEventListener("focusout", () => setTimeout(() => wanted && refresh(), 200));
  addEventListener("pagehide", () => source.close());
}
