// @ts-check
/**
 * Records a bounce test with the tablet's own motion sensor: the push along the plumb line, fifty times a second, into
 * the form that counts the swings. What a sensor left out stays out; whether it tells anything is the office's to say.
 *
 * Shown only where a browser knows of motion; without it the swings are counted, as they are with it.
 */

const RATE = 50;
const SECONDS = 8;
const LEAST_SECONDS = 2;
const LONGEST_MS = 30_000;
// Two missed beats of a slow sensor; what lies further apart is not drawn through.
const GAP_MS = 60;
const SILENT_MS = 1_500;
const TEXT = 1_990; // The office takes 2,000 characters.

/** @typedef {{at: number, pull: [number, number, number]}} Beat */

/** @param {HTMLElement} element */
export function bounce(element) {
  const [field, button, said, picture] = ["input", "button", ".bounce__said", "svg"].map((one) => element.querySelector(one));
  if (!(field instanceof HTMLInputElement && button instanceof HTMLButtonElement && said instanceof HTMLElement)) return;
  if (typeof DeviceMotionEvent === "undefined") return;
  element.hidden = false;
  const first = button.textContent;
  /** @type {Beat[]|null} */
  let beats = null;
  /** @param {DeviceMotionEvent} event */
  const beat = ({ accelerationIncludingGravity: pull, timeStamp: at }) => {
    if (beats && pull && pull.x !== null && pull.y !== null && pull.z !== null) beats.push({ at, pull: [pull.x, pull.y, pull.z] });
  };
  const stop = () => {
    if (!beats) return;
    const trace = traceOf(beats);
    const words = said.dataset;
    said.textContent = (beats.length === 0 ? words.none : trace === "" ? words.short : words.kept) ?? "";
    removeEventListener("devicemotion", beat);
    beats = null;
    button.textContent = first;
    // A recording that failed leaves the one before.
    if (trace === "") return;
    field.value = trace;
    draw(picture, trace);
    reckon(element.dataset.reckon ?? "", trace, said, () => field.value === trace);
  };
  button.addEventListener("click", async () => {
    if (beats) return stop();
    if (!(await mayListen())) return (said.textContent = said.dataset.refused ?? "");
    beats = [];
    said.textContent = "";
    button.textContent = button.dataset.going ?? "";
    addEventListener("devicemotion", beat);
    setTimeout(() => { if (beats?.length === 0) stop(); }, SILENT_MS);
    setTimeout(stop, LONGEST_MS);
  });
}

/** Some browsers ask the person first, and only at a tap. */
async function mayListen() {
  const { requestPermission } = /** @type {any} */ (DeviceMotionEvent);
  if (typeof requestPermission !== "function") return true;
  return (await requestPermission.call(DeviceMotionEvent).catch(() => "denied")) === "granted";
}

/**
 * The last seconds as the office reads them (`app/domain/bounce.py`); "" where there is too little.
 *
 * @param {Beat[]} beats
 */
function traceOf(beats) {
  const end = beats.at(-1)?.at ?? 0;
  const kept = beats.filter((one) => end - one.at <= SECONDS * 1_000);
  if (kept.length < 2 || end - kept[0].at < LEAST_SECONDS * 1_000) return "";
  // However the tablet lies: what it feels on the average is the plumb line.
  const plumb = [0, 1, 2].map((axis) => kept.reduce((sum, { pull }) => sum + pull[axis], 0) / kept.length);
  const down = Math.hypot(...plumb);
  if (down === 0) return "";
  const along = kept.map(({ at, pull }) => ({ at, value: (pull.reduce((sum, one, axis) => sum + one * plumb[axis], 0) / down - down) * 100 }));
  const samples = [];
  let next = 1;
  for (let at = along[0].at; at <= end; at += 1_000 / RATE) {
    while (along[next].at < at && next < along.length - 1) next += 1;
    const [before, after] = [along[next - 1], along[next]];
    const part = (at - before.at) / (after.at - before.at || 1);
    samples.push(after.at - before.at > GAP_MS ? "" : `${Math.round(before.value + (after.value - before.value) * part)}`);
  }
  let text = samples.join(",");
  // A wild one is written in more figures: its beginning, the pushes, is what can be spared.
  while (text.length > TEXT) text = text.slice(text.indexOf(",") + 1);
  return `${RATE};${text}`;
}

/** @param {Element|null} picture @param {string} trace */
function draw(picture, trace) {
  const values = trace.slice(trace.indexOf(";") + 1).split(",").map((one) => (one === "" ? null : Number(one)));
  const most = Math.max(1, ...values.map((one) => Math.abs(one ?? 0)));
  const points = values.flatMap((one, place) =>
    one === null ? [] : [`${Math.round((480 * place) / values.length)},${Math.round(80 - (76 * one) / most)}`]);
  picture?.querySelector("polyline")?.setAttribute("points", points.join(" "));
  picture?.removeAttribute("hidden");
}

/**
 * What the office makes of it, where it answers; else it says so when it has it.
 *
 * @param {string} address @param {string} trace @param {HTMLElement} said @param {() => boolean} isLast
 */
async function reckon(address, trace, said, isLast) {
  try {
    const answer = await fetch(`${address}?trace=${encodeURIComponent(trace)}`, { redirect: "error" });
    const words = answer.ok ? await answer.text() : "";
    if (words && isLast()) said.textContent = words;
  } catch { /* the office does not answer: what stands there already says what becomes of it */ }
}
