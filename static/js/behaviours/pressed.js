// @ts-check
/**
 * Shows at pointerdown that a button was hit: with gloves on, the finger hides the rest.
 * @param {Document} root
 */
export function pressed(root) {
  /** @type {HTMLElement | null} */
  let down = null;
  root.addEventListener("pointerdown", (event) => {
    const button = event.target instanceof Element ? event.target.closest(".button") : null;
    if (button instanceof HTMLElement) (down = button).dataset.pressed = "";
  });
  const up = () => { if (down) delete down.dataset.pressed; down = null; };
  for (const name of ["pointerup", "pointercancel", "pagehide"]) root.addEventListener(name, up);
}
