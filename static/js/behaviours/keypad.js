// @ts-check
/**
 * A keypad for gloves under a number field: digits, point, minus, a slash for fractions, the units its scale may have.
 *
 * The field stays a field: typing on a keyboard works, and a key of the pad only does what typing would. While the pad
 * is there the system's own keyboard stays away (`inputmode="none"`); "abc" brings it back for whoever wants it.
 * Only one pad is open at a time; it stands in the flow below its field and so never covers anything. It goes when the
 * next field is touched or when it is told to, never because the focus left: a button below it would move from under
 * the finger that is just pressing it, and the press would be lost.
 */

/** @typedef {{ label: string, name: string, wide?: boolean, press: (input: HTMLInputElement) => void }} Key */

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
  // The unit printed beside the field gives way to one that is typed into it.
  input.addEventListener("input", () => unitBeside(input));
  unitBeside(input);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });
}

/** @param {HTMLInputElement} input */
function unitBeside(input) {
  const unit = input.parentElement?.querySelector(".number-field__unit");
  if (unit instanceof HTMLElement) unit.hidden = /[^\d\s.,/\-−+½¼¾⅛⅜⅝⅞]/.test(input.value);
}

/** @param {HTMLInputElement} input */
function show(input) {
  if (open?.input === input && open.pad.isConnected) return;
  const before = input.getBoundingClientRect().top;
  close();
  const pad = padFor(input);
  (input.closest(".number-field") ?? input).append(pad);
  input.setAttribute("aria-controls", pad.id);
  open = { input, pad };
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
  pad.role = "group";
  pad.ariaLabel = "Keypad";
  for (const key of keysFor(input)) pad.append(button(input, key));
  // The focus stays in the field, so that its cursor does.
  pad.addEventListener("pointerdown", (event) => event.preventDefault());
  pad.addEventListener("mousedown", (event) => event.preventDefault());
  return pad;
}

/**
 * @param {HTMLInputElement} input
 * @param {Key} key
 */
function button(input, key) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = key.wide ? "button keypad__key keypad__key--word" : "button keypad__key";
  made.textContent = key.label;
  if (key.name !== key.label) made.ariaLabel = key.name;
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
  const digit = (/** @type {string} */ text) => ({ label: text, name: text, press: typing(text) });
  const units = (input.dataset.units ?? "").split("|").filter(Boolean);
  return [
    digit("7"), digit("8"), digit("9"),
    { label: "⌫", name: "Take one back", press: back },
    digit("4"), digit("5"), digit("6"),
    { label: "−", name: "Minus", press: minus },
    digit("1"), digit("2"), digit("3"),
    { label: "/", name: "Fraction", press: typing("/") },
    digit("0"),
    { label: ".", name: "Point", press: typing(".") },
    { label: "␣", name: "Space", press: typing(" ") },
    { label: "Clear", name: "Clear", wide: true, press: (one) => { one.value = ""; } },
    ...(units.length > 1 ? units.map((unit) => ({ label: unit, name: `in ${unit}`, wide: true, press: inUnit(unit) })) : []),
    { label: "abc", name: "Keyboard", wide: true, press: keyboard },
    { label: "Close", name: "Close the keypad", wide: true, press: () => close() },
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
function minus(input) {
  const at = (input.selectionStart ?? 0) + (/^[-−]/.test(input.value) ? -1 : 1);
  input.value = /^[-−]/.test(input.value) ? input.value.slice(1) : `-${input.value}`;
  input.setSelectionRange(Math.max(0, at), Math.max(0, at));
}

/** @param {string} unit @returns {(input: HTMLInputElement) => void} */
function inUnit(unit) {
  return (input) => {
    const number = input.value.replace(/[^0-9.,/ \-−].*$/, "").trimEnd();
    input.value = number ? `${number} ${unit}` : "";
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
