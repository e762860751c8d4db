// @ts-check
/** Takes the focus when it appears: problems, and the next thing to do after a swap. @param {HTMLElement} element */
export function takeFocus(element) {
  element.focus({ preventScroll: false });
}
