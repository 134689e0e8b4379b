// @ts-check
// The slider below the trend: draws the chamber as it was recorded at the
// chosen instant, and follows the cursor of the plots.

/** @typedef {import("./trend.js").Chart} Chart */

export function rewind() {
  const form = document.querySelector("form[data-rewind]");
  const plot = document.querySelector(".plot.tall");
  const shown = document.getElementById("rewound");
  if (!(form instanceof HTMLFormElement) || !(plot instanceof HTMLElement) || !shown) return;
  const slider = form.querySelector("input[type=range]");
  if (!(slider instanceof HTMLInputElement)) return;
  const knob = slider, source = `${form.dataset.rewind}?units=${form.dataset.units}`;
  for (const e of form.querySelectorAll("[hidden]")) e.removeAttribute("hidden");
  for (const e of form.querySelectorAll(".plain")) e.setAttribute("hidden", "");

  /** @type {Chart | null} */
  let chart = null;
  let wanted = 0, drawn = 0, busy = false;

  /** Draws the newest wanted instant; one request at a time. */
  async function draw() {
    if (busy || wanted === drawn) return;
    busy = true;
    const at = wanted;
    try {
      const answer = await fetch(`${source}&at=${new Date(at * 1000).toISOString()}`);
      const text = await answer.text();
      if (answer.ok && shown) shown.innerHTML = text;
      else if (shown) shown.textContent = text;
    } catch {
      if (shown) shown.textContent = "Not connected. The chamber cannot be drawn.";
    }
    drawn = at;
    busy = false;
    draw();
  }

  /** @param {number} time @param {boolean} [move] */
  function go(time, move = true) {
    if (!chart) return;
    wanted = time;
    if (move) knob.value = String(Math.round(1000 * (time - chart.from) / (chart.to - chart.from)));
    draw();
  }

  plot.addEventListener("chart", (event) => {
    chart = /** @type {CustomEvent<Chart>} */ (event).detail;
  });
  plot.addEventListener("cursor", (event) => go(/** @type {CustomEvent<{time: number}>} */ (event).detail.time));
  slider.addEventListener("input", () => {
    if (chart) go(chart.from + (chart.to - chart.from) * Number(slider.value) / 1000, false);
  });
  slider.addEventListener("change", () => { if (chart) plot.dispatchEvent(new CustomEvent("mark", { detail: { time: wanted } })); });
  for (const button of form.querySelectorAll("[data-jump]")) {
    button.addEventListener("click", () => {
      if (!chart || !(button instanceof HTMLElement)) return;
      const found = beyondGap(chart, wanted || chart.to, Number(button.dataset.jump));
      if (found != null) go(found);
    });
  }
}

/**
 * The edge of the nearest gap in the history: the last bucket with samples
 * before a gap to the left, or the first after a gap to the right.
 * @param {Chart} chart @param {number} from @param {number} by
 */
export function beyondGap(chart, from, by) {
  const has = chart.time.map((_, j) => chart.lines.some((l) => l.kind === "level" && l.max[j] != null));
  let j = chart.time.findIndex((t) => t + chart.step / 2 >= from);
  if (j < 0) j = chart.time.length - 1;
  while (j >= 0 && j < has.length && has[j]) j += by;
  while (j >= 0 && j < has.length && !has[j]) j += by;
  return j >= 0 && j < has.length ? chart.time[j] : null;
}
