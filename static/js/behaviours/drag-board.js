// @ts-check
/**
 * A job is dragged to a bay and a time: a block of the board, or the Place button of a job that waits. Letting go opens
 * the page for placing with both filled in; nothing is placed by a slip of the hand. Mouse and pen; by finger and by
 * keyboard the same pages are reached with Move and Place.
 *
 * It sits on the element around the board and the lists, which may be renewed while a hand is on the way.
 * @param {HTMLElement} floor
 */
export function dragBoard(floor) {
  /** @type {{link: string, x: number, y: number, held: number, moved: boolean}|null} */
  let drag = null;

  floor.addEventListener("pointerdown", (event) => {
    const from = event.target instanceof Element ? event.target.closest("[data-drag]") : null;
    if (!from || event.button !== 0 || event.pointerType === "touch") return;
    // Where on the block it is held: its beginning goes where it was dragged to, not where the hand is.
    const held = from.closest(".board") ? event.clientX - from.getBoundingClientRect().left : 0;
    drag = { link: from.getAttribute("data-drag") ?? "", x: event.clientX, y: event.clientY, held, moved: false };
  });
  document.addEventListener("pointermove", (event) => {
    if (!drag) return;
    if (!drag.moved && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < FAR) return;
    drag.moved = true;
    mark(placeOf(event, drag.held));
  });
  document.addEventListener("pointerup", (event) => {
    const place = drag?.moved ? placeOf(event, drag.held) : null;
    if (drag && place) {
      const asked = new URLSearchParams({ bay: place.bay, begins: place.begins });
      location.assign(`${drag.link}${drag.link.includes("?") ? "&" : "?"}${asked}`);
    }
    if (drag?.moved) document.addEventListener("click", (click) => click.preventDefault(), { once: true, capture: true });
    stop();
  });
  document.addEventListener("pointercancel", stop);
  document.addEventListener("keydown", (event) => { if (event.key === "Escape") stop(); });
  floor.addEventListener("dragstart", (event) => event.preventDefault());

  function stop() {
    drag = null;
    mark(null);
  }

  /** @param {PointerEvent} event @param {number} held */
  function placeOf(event, held) {
    const under = document.elementsFromPoint(event.clientX, event.clientY);
    const strip = /** @type {HTMLElement|undefined} */ (under.find((one) => one.matches("[data-bay]")));
    const board = /** @type {HTMLElement|null} */ (strip?.closest("[data-begins]") ?? null);
    if (!strip || !board) return null;
    const box = strip.getBoundingClientRect();
    const minutes = Number(board.dataset.minutes);
    const share = (event.clientX - held - box.left) / box.width;
    const quarter = Math.min(Math.max(Math.round((share * minutes) / 15) * 15, 0), minutes);
    return { strip, bay: strip.dataset.bay ?? "", begins: later(board.dataset.begins ?? "", quarter), share: quarter / minutes };
  }

  /** @param {{strip: HTMLElement, begins: string, share: number}|null} place */
  function mark(place) {
    const drop = floor.querySelector(".board__drop") ?? document.createElement("p");
    if (!place) return drop.remove();
    drop.className = "board__drop";
    drop.textContent = place.begins.slice(11);
    /** @type {HTMLElement} */ (drop).style.insetInlineStart = `${place.share * 100}%`;
    if (drop.parentElement !== place.strip) place.strip.append(drop);
  }
}

const FAR = 8;

/** A wall-clock time so many minutes later. @param {string} at "2026-05-12T07:00" @param {number} minutes */
const later = (at, minutes) => new Date(Date.parse(`${at}Z`) + minutes * 60_000).toISOString().slice(0, 16);
