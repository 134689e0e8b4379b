// @ts-check
// What every page does beyond being read: notice silence, listen to keys,
// apply choices at once. Without this file the pages are complete but do not
// renew themselves.

import { plots } from "./trend.js";
import { rewind } from "./rewind.js";

const body = document.body;
const base = body.dataset.base ?? "";
let heard = performance.now(); // when a fresh piece arrived last
let paused = false;

/** Seconds after which silence is said aloud. */
const SILENT = 15;

document.addEventListener("htmx:after:swap", (event) => {
  if (event instanceof CustomEvent && event.detail?.ctx?.response?.status >= 400) return; // refused: nothing fresh came
  heard = performance.now();
  const piece = document.querySelector(".piece");
  const time = document.querySelector(".asof-time");
  if (piece instanceof HTMLElement && time && piece.dataset.asof) time.textContent = piece.dataset.asof;
});

document.addEventListener("htmx:sse:before:message", (event) => {
  if (paused) event.preventDefault();
});
document.addEventListener("htmx:before:request", (event) => {
  if (paused && !(event.target instanceof HTMLFormElement)) event.preventDefault();
});

function watchSilence() {
  const renews = document.getElementById("live") ?? document.getElementById("list");
  const age = document.getElementById("age");
  const banner = document.getElementById("connection");
  if (!renews || !age || !banner) return;
  const seconds = Math.round((performance.now() - heard) / 1000);
  age.hidden = seconds < 3;
  age.textContent = paused ? `(paused, ${seconds} s ago)` : `(${seconds} s ago)`;
  age.classList.toggle("late", seconds >= SILENT && !paused);
  const lost = seconds >= SILENT && !paused;
  if (lost && banner.hidden) {
    banner.textContent = "Not connected. What is shown is from " + (document.querySelector(".asof-time")?.textContent ?? "before") + ".";
  }
  banner.hidden = !lost;
}
setInterval(watchSilence, 1000);

/** Says when the clock of this device and the clock of the service differ. */
function compareClocks() {
  const served = Number(body.dataset.rendered);
  const opened = performance.timeOrigin + (performance.getEntriesByType("navigation")[0]?.duration ?? 0);
  const off = (opened - served) / 1000;
  const banner = document.getElementById("connection");
  if (!banner || !served || Math.abs(off) < 60) return;
  const note = document.createElement("p");
  note.className = "notice";
  note.textContent = `The clock of this device and the clock of the service differ by about ${Math.round(Math.abs(off))} s. Times on this page are those of the service.`;
  banner.after(note);
}
compareClocks();

/** The choices at the foot of the page take effect when they are made. */
for (const select of document.querySelectorAll(".choices select")) {
  select.addEventListener("change", () => {
    if (select instanceof HTMLSelectElement) select.form?.requestSubmit();
  });
}
for (const button of document.querySelectorAll(".choices button[type=submit]")) button.setAttribute("hidden", "");

/** @param {string} selector */
function follow(selector) {
  const link = document.querySelector(selector);
  if (link instanceof HTMLAnchorElement) link.click();
}

/** Moves the focus along the rows of a list. @param {number} by */
function row(by) {
  const rows = [...document.querySelectorAll(".visits a.tag, .goodlist a.tag")];
  if (rows.length === 0) return;
  const at = rows.indexOf(/** @type {Element} */ (document.activeElement));
  const next = rows[Math.min(rows.length - 1, Math.max(0, at + by))];
  if (next instanceof HTMLElement) next.focus();
}

/** @type {Record<string, () => void>} */
const keys = {
  "/": () => document.getElementById("find")?.focus(),
  "?": () => { const help = document.getElementById("keys"); if (help instanceof HTMLDialogElement) help.showModal(); },
  j: () => row(1),
  k: () => row(-1),
  v: () => { location.href = base + "/"; },
  p: pause,
  "[": () => follow('a[rel="prev"]'),
  "]": () => follow('a[rel="next"]'),
};
for (const link of document.querySelectorAll("a[data-key]")) {
  if (link instanceof HTMLAnchorElement && link.dataset.key) keys[link.dataset.key] = () => link.click();
}

function pause() {
  paused = !paused;
  const button = document.getElementById("pause");
  if (button) {
    button.setAttribute("aria-pressed", String(paused));
    button.textContent = paused ? "Go on" : "Pause";
  }
  watchSilence();
}
document.getElementById("pause")?.addEventListener("click", pause);
document.getElementById("pause")?.toggleAttribute("hidden", !document.querySelector("#live, #list"));
document.getElementById("help")?.removeAttribute("hidden");
document.getElementById("help")?.addEventListener("click", () => keys["?"]());

document.addEventListener("keydown", (event) => {
  if (body.dataset.keys !== "on" || event.ctrlKey || event.altKey || event.metaKey) return;
  const target = event.target;
  if (target instanceof HTMLInputElement || target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement) return;
  if (document.querySelector("dialog[open]")) return;
  const act = keys[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

plots();
rewind();
