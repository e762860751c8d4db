// @ts-check
/**
 * A field to sign in: what is drawn becomes an SVG path of whole numbers in a field of 1000 by 300, in the form's own
 * input. Without script, or without a hand that can draw, a name is typed and ticked instead.
 */
const WIDTH = 1000;
const HEIGHT = 300;
const LONGEST = 11_900; // The office takes 12,000 characters; a stroke that would pass it ends there.

/** @param {HTMLElement} field */
export function signature(field) {
  const board = field.querySelector("svg");
  const path = field.querySelector("path");
  const input = field.querySelector("input");
  const clear = field.querySelector("button");
  if (!board || !path || !input || !clear) return;
  let drawn = input.value;
  let last = "";
  const show = () => {
    path.setAttribute("d", drawn);
    input.value = drawn;
  };
  /** @param {PointerEvent} event */
  const point = (event) => {
    const box = board.getBoundingClientRect();
    const within = (/** @type {number} */ at, /** @type {number} */ most) => Math.max(0, Math.min(most, Math.round(at)));
    const x = within(((event.clientX - box.left) / box.width) * WIDTH, WIDTH);
    const y = within(((event.clientY - box.top) / box.height) * HEIGHT, HEIGHT);
    return `${x} ${y}`;
  };
  /** @param {string} move @param {string} at */
  const add = (move, at) => {
    if (at === last && move === "L") return;
    if (drawn.length < LONGEST) drawn += move + at;
    last = at;
    show();
  };
  board.addEventListener("pointerdown", (event) => {
    board.setPointerCapture(event.pointerId);
    add("M", point(event));
    event.preventDefault();
  });
  board.addEventListener("pointermove", (event) => {
    if (board.hasPointerCapture(event.pointerId)) add("L", point(event));
  });
  clear.hidden = false;
  clear.addEventListener("click", () => {
    drawn = last = "";
    show();
  });
}
