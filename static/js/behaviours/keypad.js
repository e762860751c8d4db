// @ts-check
/**
 * A keypad for gloves under a number field: digits, point, minus, a slash for fractions, the units its scale may have.
 *
 * A unit key says on which scale the number was read: the number stays as it was typed and is never converted, since
 * what is recorded is what somebody read. Pressed before the number it waits for it. Which unit holds, the pad shows.
 *
 * For a keyboard the pad is one stop: arrows go from key to key, Escape goes back to the field and closes it. Its words
 * come with the page, on the element `keypad-words`.
 *
 * The field stays a field: typing on a keyboard works, and a key of the pad only does what typing would. While the pad
 * is there the system's own keyboard stays away (`inputmode="none"`); "abc" brings it back for whoever wants it.
 * Only one pad is open at a time; it stands in the flow below its field and so never covers anything. It goes when the
 * next field is touched or when it is told to, never because the focus left: a button below it would move from under
 * the finger that is just pressing it, and the press would be lost.
 */

/** @typedef {{ label: string, name: string, kind?: "side"|"word"|"unit", press: (input: HTMLInputElement) => void }} Key */

/** @type {{ input: HTMLInputElement, pad: HTMLElement } | null} */
let open = null;

/** @param {HTMLElement} element */
export function keypad(element) {
  if (!(element instanceof HTMLInputElement)) return;
  const input = element;
  input.inputMode = "none";
  input.addEventListener("focus", () => show(input));
  // A second touch on a field that already has the focus brings the pad back after it was closed.
  input.addEventListener("pointerup", () => show(input));
  input.addEventListener("input", () => {
    joinUnit(input);
    showUnit(input);
  });
  showUnit(input);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });
}

/** Whether a unit, or anything else than a number, stands in the field. @param {HTMLInputElement} input */
const isWithUnit = (input) => /[^\d\s.,/\-−+½¼¾⅛⅜⅝⅞]/.test(input.value);

/** A unit that was pressed before there was a number goes behind the number, once. @param {HTMLInputElement} input */
function joinUnit(input) {
  const unit = input.dataset.chosen;
  if (!unit || !/[\d½¼¾⅛⅜⅝⅞]/.test(input.value)) return;
  delete input.dataset.chosen;
  if (isWithUnit(input)) return;
  const at = input.selectionStart;
  input.value = `${input.value} ${unit}`;
  input.setSelectionRange(at, at);
}

/**
 * The unit printed beside the field gives way to one that stands in it; the pad shows which one holds.
 *
 * @param {HTMLInputElement} input
 */
function showUnit(input) {
  const beside = input.parentElement?.querySelector(".number-field__unit");
  const usual = (input.dataset.usual ??= beside?.textContent ?? "");
  if (beside instanceof HTMLElement) {
    beside.hidden = isWithUnit(input);
    beside.textContent = input.dataset.chosen ?? usual;
  }
  const typed = input.value.replace(/^[\d\s.,/\-−+½¼¾⅛⅜⅝⅞]*/, "").trim();
  const holds = typed || (input.dataset.chosen ?? usual);
  for (const key of open?.input === input ? open.pad.querySelectorAll("[data-unit]") : []) {
    key.ariaPressed = String(key instanceof HTMLElement && key.dataset.unit === holds);
  }
}

/** @param {HTMLInputElement} input */
const unitsOf = (input) => (input.dataset.units ?? "").split("|").filter(Boolean);

/** @param {string} name */
const word = (name) => document.getElementById("keypad-words")?.dataset[name] ?? name;

/** @param {HTMLInputElement} input */
function show(input) {
  if (open?.input === input && open.pad.isConnected) return;
  const before = input.getBoundingClientRect().top;
  close();
  const pad = padFor(input);
  (input.closest(".number-field") ?? input).append(pad);
  input.setAttribute("aria-controls", pad.id);
  open = { input, pad };
  showUnit(input);
  // A pad that closed further up takes its height with it; the field stays where it was touched.
  scrollBy(0, input.getBoundingClientRect().top - before);
}

function close() {
  if (!open) return;
  open.pad.remove();
  open.input.removeAttribute("aria-controls");
  open.input.inputMode = "none";
  open = null;
}

/** @param {HTMLInputElement} input */
function padFor(input) {
  const pad = document.createElement("div");
  pad.className = "keypad";
  pad.id = `${input.id}-keypad`;
  pad.role = "toolbar";
  pad.ariaLabel = word("pad");
  pad.append(...keysFor(input).map((key) => button(input, key)));
  byArrows(input, pad);
  // The focus stays in the field, so that its cursor does.
  pad.addEventListener("pointerdown", (event) => event.preventDefault());
  pad.addEventListener("mousedown", (event) => event.preventDefault());
  return pad;
}

/**
 * One stop for a keyboard: the key nearest in the arrow's direction takes the focus.
 *
 * @param {HTMLInputElement} input
 * @param {HTMLElement} pad
 */
function byArrows(input, pad) {
  const keys = /** @type {HTMLElement[]} */ ([...pad.children]);
  keys.forEach((key, place) => { key.tabIndex = place ? -1 : 0; });
  pad.addEventListener("keydown", (event) => {
    const way = WAYS[event.key];
    const from = keys.find((key) => key === event.target)?.getBoundingClientRect();
    if (event.key === "Escape") {
      input.focus();
      close();
    }
    if (!way || !from) return;
    event.preventDefault();
    const [next] = keys
      .map((key) => {
        const box = key.getBoundingClientRect();
        const [x, y] = [box.x + box.width / 2 - from.x - from.width / 2, box.y + box.height / 2 - from.y - from.height / 2];
        const [along, aside] = [x * way[0] + y * way[1], Math.abs(x * way[1]) + Math.abs(y * way[0])];
        return { key, along, far: along + 3 * aside };
      })
      .filter(({ along }) => along > 1)
      .sort((one, other) => one.far - other.far);
    if (!next) return;
    for (const key of keys) key.tabIndex = key === next.key ? 0 : -1;
    next.key.focus();
  });
}

/** @type {Record<string, [number, number]>} */
const WAYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };

/**
 * @param {HTMLInputElement} input
 * @param {Key} key
 */
function button(input, key) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = `button keypad__key${key.kind ? ` keypad__key--${key.kind}` : ""}`;
  made.textContent = key.label;
  if (key.name !== key.label) made.ariaLabel = key.name;
  if (key.kind === "unit") made.dataset.unit = key.label;
  made.addEventListener("click", () => {
    key.press(input);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  });
  return made;
}

/**
 * @param {HTMLInputElement} input
 * @returns {Key[]}
 */
function keysFor(input) {
  const types = (/** @type {string} */ text, name = text) => ({ label: text, name, press: typing(text) });
  const units = unitsOf(input);
  return [
    ..."789456123".split("").map((digit) => types(digit)),
    types(".", word("point")), types("0"),
    { label: "⌫", name: word("back"), press: back },
    { label: "−", name: word("minus"), kind: "side", press: minus },
    { label: "/", name: word("fraction"), kind: "side", press: typing("/") },
    { label: "␣", name: word("space"), kind: "side", press: typing(" ") },
    { label: word("clear"), name: word("clear"), kind: "word", press: clear },
    ...(units.length > 1 ? units : []).map((unit) =>
      ({ label: unit, name: word("unit").replace("UNIT", unit), kind: /** @type {const} */ ("unit"), press: inUnit(unit) })),
    { label: "abc", name: word("keyboard"), kind: "word", press: keyboard },
    { label: word("close"), name: word("close"), kind: "word", press: () => close() },
  ];
}

/** @param {string} text @returns {(input: HTMLInputElement) => void} */
function typing(text) {
  return (input) => {
    const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
    if (input.value.length + text.length - (to - from) > input.maxLength) return;
    input.setRangeText(text, from, to, "end");
  };
}

/** @param {HTMLInputElement} input */
function back(input) {
  const [from, to] = [input.selectionStart ?? 0, input.selectionEnd ?? 0];
  if (from !== to) input.setRangeText("", from, to, "end");
  else if (from > 0) input.setRangeText("", from - 1, from, "end");
}

/** @param {HTMLInputElement} input */
function clear(input) {
  input.value = "";
  delete input.dataset.chosen;
}

/** @param {HTMLInputElement} input */
function minus(input) {
  const at = (input.selectionStart ?? 0) + (/^[-−]/.test(input.value) ? -1 : 1);
  input.value = /^[-−]/.test(input.value) ? input.value.slice(1) : `-${input.value}`;
  input.setSelectionRange(Math.max(0, at), Math.max(0, at));
}

/** @param {string} unit @returns {(input: HTMLInputElement) => void} */
function inUnit(unit) {
  return (input) => {
    const number = input.value.replace(/[^0-9.,/ \-−+½¼¾⅛⅜⅝⅞].*$/, "").trimEnd();
    input.value = number ? `${number} ${unit}` : "";
    if (!number) input.dataset.chosen = unit;
    // Before the unit, so that further digits go where they belong.
    input.setSelectionRange(number.length, number.length);
  };
}

/** @param {HTMLInputElement} input */
function keyboard(input) {
  input.inputMode = "text";
  input.blur();
  input.focus();
}
