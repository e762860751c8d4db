// @ts-check
/**
 * After a part was swapped in: says it through the status line that lies outside, and puts the focus on what comes next
 * (`data-focus` is its id), so that neither a screen reader nor a keyboard is left on something that is gone.
 * On a page just loaded both are empty and nothing moves.
 * @param {HTMLElement} element
 */
export function swapped(element) {
  const spoken = document.getElementById("spoken");
  if (spoken && element.dataset.speak) spoken.textContent = element.dataset.speak;
  const next = element.dataset.focus ? document.getElementById(element.dataset.focus) : null;
  if (!next) return;
  next.focus({ preventScroll: true });
  next.scrollIntoView({ block: "start" });
}
