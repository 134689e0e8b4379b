// @ts-check
// Plots of a gauge: levels, gap against what is allowed, points; one cursor
// for all of them. The server sends shared buckets with least and greatest
// value, so what is drawn is what was recorded, spikes included.

/** @typedef {{key: string, label: string, kind: string, unit: string, min: (number|null)[], max: (number|null)[], mean: (number|null)[]}} Line */
/** @typedef {{from: number, to: number, step: number, most: number, time: number[], lines: Line[], spans: {from: number, to: number, kind: string, label: string}[]}} Chart */

const uPlot = /** @type {any} */ (window).uPlot;

/** @param {string} name */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

const inks = /** @type {Record<string, {ink: string, dash?: number[], mark: string}>} */ ({
  float: { ink: "float", mark: "◆" },
  transmitter: { ink: "trans", dash: [7, 3], mark: "■" },
  second: { ink: "second", dash: [2, 3], mark: "▲" },
  vessel: { ink: "vessel", dash: [12, 3, 2, 3], mark: "●" },
});

/** Times of the plant, not of the browser. @param {string} zone */
function clock(zone) {
  const part = new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
  /** @param {number} seconds */
  const parts = (seconds) => Object.fromEntries(part.formatToParts(new Date(seconds * 1000)).map((p) => [p.type, p.value]));
  return {
    /** @param {number} s */
    full: (s) => { const p = parts(s); return `${p.year}-${p.month}-${p.day} ${p.hour}:${p.minute}:${p.second}`; },
    /** @param {number[]} splits */
    axis: (splits) => {
      let day = "";
      const step = splits.length > 1 ? splits[1] - splits[0] : 0;
      return splits.map((s) => {
        const p = parts(s);
        const date = `${p.year}-${p.month}-${p.day}`;
        const time = step < 60 ? `${p.hour}:${p.minute}:${p.second}` : `${p.hour}:${p.minute}`;
        if (step >= 86400) return date;
        if (date === day) return time;
        day = date;
        return `${time}\n${date}`;
      });
    },
  };
}

/** @param {number|null|undefined} v @param {string} unit */
const written = (v, unit) => (v == null ? "–" : v.toLocaleString("en", { maximumFractionDigits: 2, useGrouping: false }).replace("-", "−") + (unit ? "\u00a0" + unit : ""));

export function plots() {
  for (const box of document.querySelectorAll(".plot[data-trend]")) {
    if (box instanceof HTMLElement) new Plot(box);
  }
}

class Plot {
  /** @param {HTMLElement} box */
  constructor(box) {
    this.box = box;
    this.mini = box.dataset.mini === "yes";
    this.zone = box.dataset.zone || "UTC";
    this.clock = clock(this.zone);
    /** @type {any[]} */
    this.charts = [];
    /** @type {Chart | null} */
    this.data = null;
    this.shown = 0;
    this.tools();
    this.read();
    new ResizeObserver(() => this.resize()).observe(box);
    box.addEventListener("mark", (e) => this.mark(/** @type {CustomEvent<{time: number}>} */ (e).detail.time));
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
    addEventListener("beforeprint", () => this.resize(680));
    addEventListener("afterprint", () => this.resize());
    if (this.mini) setInterval(() => { if (!document.hidden) this.read(); }, 30000);
  }

  tools() {
    this.box.replaceChildren();
    this.note = document.createElement("p");
    this.note.className = "plot-note";
    this.note.setAttribute("role", "status");
    this.area = document.createElement("div");
    this.box.append(this.note, this.area);
    if (this.mini) return;
    const tools = document.createElement("div");
    tools.className = "tools";
    for (const [name, act] of /** @type {[string, () => void][]} */ ([
      ["Zoom in", () => this.zoom(0.5)], ["Zoom out", () => this.zoom(2)], ["Whole period", () => this.whole()],
    ])) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = name;
      button.addEventListener("click", act);
      tools.append(button);
    }
    this.said = document.createElement("p");
    this.said.className = "said";
    this.said.setAttribute("aria-live", "polite");
    this.area.tabIndex = 0;
    this.area.setAttribute("role", "group");
    this.area.setAttribute("aria-label", "Plots. Arrow keys move the cursor, with Shift by sixty; Home and End go to the ends.");
    this.area.addEventListener("keydown", (e) => this.key(e));
    this.box.prepend(tools);
    this.box.append(this.said);
  }

  async read() {
    const late = setTimeout(() => this.say("Reading the history…"), 300);
    try {
      const answer = await fetch(this.box.dataset.trend ?? ""); // as the head of the page has sent for it
      if (!answer.ok) throw new Error(await answer.text());
      this.data = await answer.json();
      this.box.dispatchEvent(new CustomEvent("chart", { detail: this.data }));
      this.say(this.summary());
      this.draw();
    } catch (error) {
      this.say(`The history could not be read (${error instanceof Error ? error.message.trim() : error}). Readings are still being recorded. `);
      const again = document.createElement("button");
      again.type = "button";
      again.textContent = "Try again";
      again.addEventListener("click", () => this.read());
      this.note?.append(again);
    } finally {
      clearTimeout(late);
    }
  }

  /** @param {string} text */
  say(text) {
    if (this.note) { this.note.textContent = text; this.note.hidden = text === ""; }
  }

  summary() {
    const d = this.data;
    if (!d || d.time.length === 0) return "No samples were recorded in this period.";
    if (this.mini) return "";
    const found = d.spans.length > 0 ? ` Shaded: ${d.spans.length} ${d.spans.length === 1 ? "finding, record or change" : "findings, records and changes"}, listed below.` : "";
    return (d.most > 1 ? `Up to ${d.most} samples behind each point: the least and the greatest are drawn.` : "Every sample is drawn.") + found;
  }

  draw() {
    for (const c of this.charts) c.destroy();
    this.charts = [];
    const d = this.data;
    this.box.classList.toggle("nothing", !d || d.time.length === 0);
    if (!d || d.time.length === 0) return;
    this.box.style.minHeight = this.mini ? "" : "0";
    const sync = uPlot.sync(this.box.id || "one");
    const kinds = this.mini ? ["level", "gap"] : ["level", "gap", "point", "density"];
    for (const kind of kinds) {
      const lines = d.lines.filter((l) => l.kind === kind);
      if (lines.length > 0) this.charts.push(this.chart(kind, lines, d, sync));
    }
    requestAnimationFrame(() => setTimeout(() => performance.mark("trend painted")));
  }

  /** @param {string} kind @param {Line[]} lines @param {Chart} d @param {any} sync */
  chart(kind, lines, d, sync) {
    const heights = this.mini ? { level: 170, gap: 104 } : { level: 300, gap: 170, point: 60 + 30 * lines.length, density: 130 };
    const made = kind === "gap" ? this.gap(lines) : kind === "point" ? this.points(lines) : this.levels(lines);
    const holder = document.createElement("div");
    holder.className = this.charts.length > 0 ? "later" : "first";
    const title = document.createElement("p");
    title.className = "plot-title";
    title.textContent = { level: "Level above lower tap", gap: "Gap, float − transmitter, and what is allowed", point: "Points, raised while wet", density: "Liquid density in the chamber" }[kind] + (lines[0].unit ? ", " + lines[0].unit : "");
    holder.append(title);
    this.area?.append(holder);
    const axis = { stroke: colour("muted"), grid: { stroke: colour("soft"), width: 1 }, ticks: { stroke: colour("line"), width: 1 }, font: "12px system-ui, sans-serif" };
    const chart = new uPlot({
      width: this.width(), height: /** @type {any} */ (heights)[kind],
      cursor: { sync: { key: sync.key, setSeries: false }, drag: { x: !this.mini, y: false }, points: { size: 6 } },
      legend: { live: !this.mini, show: !this.mini || kind === "level" },
      tzDate: (/** @type {number} */ s) => uPlot.tzDate(new Date(s * 1000), this.zone),
      scales: { x: { time: true, range: (/** @type {any} */ _u, /** @type {number} */ low, /** @type {number} */ high) => (low === high ? [d.from, d.to] : [low, high]) }, ...made.scales },
      axes: [
        { ...axis, values: (/** @type {any} */ _u, /** @type {number[]} */ splits) => this.clock.axis(splits), space: 90 },
        { ...axis, size: this.mini ? 54 : 76, space: this.mini ? 18 : 26, values: (/** @type {any} */ _u, /** @type {number[]} */ splits) => splits.map((v) => written(v, "")), ...made.axis },
      ],
      series: [{ value: (/** @type {any} */ _u, /** @type {number} */ v) => (v == null ? "–" : this.clock.full(v)) }, ...made.series],
      bands: made.bands,
      hooks: { drawClear: [(/** @type {any} */ u) => this.spans(u)], setCursor: [(/** @type {any} */ u) => this.moved(u)] },
    }, [d.time, ...made.columns], holder);
    return chart;
  }

  /** Each line is its least and greatest value with the space between filled. @param {Line[]} lines */
  levels(lines) {
    const made = { series: /** @type {any[]} */ ([]), columns: /** @type {any[]} */ ([]), bands: /** @type {any[]} */ ([]), scales: {}, axis: {} };
    for (const line of lines) {
      const look = inks[line.key] ?? { ink: "muted", mark: "●" };
      const ink = colour(look.ink);
      const at = made.columns.length + 1;
      const common = { stroke: ink, width: 1.5, dash: look.dash, spanGaps: false, points: { show: false } };
      made.series.push({ ...common, label: look.mark + " " + line.label, value: (/** @type {any} */ u, /** @type {number} */ v, /** @type {number} */ _i, /** @type {number|null} */ j) => this.range(line, j, v) }, { ...common, label: line.label, class: "twin" });
      made.columns.push(line.max, line.min);
      made.bands.push({ series: [at, at + 1], fill: ink + "38" });
    }
    return made;
  }

  /** Shades what was found while it lasted; an alert also has a line on top. What people did has lines at its ends. @param {any} u */
  spans(u) {
    const { ctx, bbox } = u;
    ctx.save();
    for (const s of this.data?.spans ?? []) {
      const left = Math.max(bbox.left, u.valToPos(s.from, "x", true)), right = Math.min(bbox.left + bbox.width, u.valToPos(s.to, "x", true));
      if (s.kind === "record" || s.kind === "configuration" || s.kind === "recomputed") {
        this.done(ctx, bbox, left, right);
        continue;
      }
      if (right <= left) continue;
      ctx.fillStyle = colour(s.kind === "alert" ? "fail" : "spec") + "1c";
      ctx.fillRect(left, bbox.top, Math.max(1, right - left), bbox.height);
      ctx.fillStyle = colour(s.kind === "alert" ? "fail" : "spec");
      ctx.fillRect(left, bbox.top, Math.max(1, right - left), s.kind === "alert" ? 3 : 1);
    }
    ctx.restore();
  }

  /** Marks what people did. @param {CanvasRenderingContext2D} ctx @param {{top: number, height: number, left: number, width: number}} bbox @param {number} left @param {number} right */
  done(ctx, bbox, left, right) {
    if (right < bbox.left || left > bbox.left + bbox.width) return;
    ctx.fillStyle = colour("muted") + "22";
    ctx.fillRect(left, bbox.top, right - left, bbox.height);
    ctx.strokeStyle = colour("muted");
    ctx.setLineDash([6, 4]);
    ctx.beginPath();
    for (const x of left === right ? [left] : [left, right]) {
      ctx.moveTo(x, bbox.top);
      ctx.lineTo(x, bbox.top + bbox.height);
    }
    ctx.stroke();
  }

  /** @param {Line} line @param {number|null} j @param {number} v */
  range(line, j, v) {
    if (j == null) return written(v, line.unit);
    const low = line.min[j], high = line.max[j];
    return low === high ? written(low, line.unit) : `${written(low, "")} … ${written(high, line.unit)}`;
  }

  /** The allowed gap is a shaded band around zero. @param {Line[]} lines */
  gap(lines) {
    const gap = lines.find((l) => l.key === "gap"), budget = lines.find((l) => l.key === "budget");
    if (!gap) return this.levels(lines);
    const made = this.levels([{ ...gap, key: "float" }]);
    made.series[0].stroke = made.series[1].stroke = colour("ink");
    made.bands[0].fill = colour("ink") + "30";
    made.series[0].label = gap.label;
    if (budget) {
      const edge = { stroke: colour("muted"), width: 1, dash: [4, 3], points: { show: false } };
      made.series.push({ ...edge, label: "allowed ±", value: (/** @type {any} */ _u, /** @type {number} */ v) => written(v, budget.unit) }, { ...edge, label: "allowed −", class: "twin" });
      made.columns.push(budget.mean, budget.mean.map((v) => (v == null ? null : -v)));
      made.bands.push({ series: [3, 4], fill: colour("muted") + "22" });
    }
    return made;
  }

  /** Points stand one above the other, each raised while it is wet. @param {Line[]} lines */
  points(lines) {
    const made = { series: /** @type {any[]} */ ([]), columns: /** @type {any[]} */ ([]), bands: /** @type {any[]} */ ([]), scales: { y: { range: [-0.2, lines.length] } }, axis: { splits: lines.map((_, i) => i), values: lines.map((l) => l.label), grid: { show: false } } };
    lines.forEach((line, i) => {
      made.series.push({ label: line.label, stroke: colour("ink"), width: 1.6, points: { show: false }, paths: uPlot.paths.stepped({ align: 1 }), value: (/** @type {any} */ _u, /** @type {number} */ v) => (v == null ? "–" : v - i > 0.4 ? "wet" : "dry") });
      made.columns.push(line.max.map((v) => (v == null ? null : i + 0.7 * v)));
    });
    return made;
  }

  width(printed = 0) { return printed || Math.max(240, this.box.clientWidth); }

  resize(printed = 0) {
    if (this.shown === this.width(printed)) return;
    this.shown = this.width(printed);
    for (const c of this.charts) c.setSize({ width: this.shown, height: c.height });
  }

  /** @param {number} factor */
  zoom(factor) {
    const u = this.charts[0];
    if (!u || !this.data) return;
    const { min, max } = u.scales.x;
    const middle = u.cursor.idx != null ? this.data.time[u.cursor.idx] : (min + max) / 2;
    const half = Math.max(this.data.step * 4, ((max - min) / 2) * factor);
    for (const c of this.charts) c.setScale("x", { min: Math.max(this.data.from, middle - half), max: Math.min(this.data.to, middle + half) });
  }

  whole() {
    if (this.data) for (const c of this.charts) c.setScale("x", { min: this.data.from, max: this.data.to });
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const u = this.charts[0], d = this.data;
    if (!u || !d) return;
    const by = event.shiftKey ? 60 : 1;
    const at = u.cursor.idx ?? d.time.length - 1;
    /** @type {Record<string, number>} */
    const to = { ArrowLeft: at - by, ArrowRight: at + by, Home: 0, End: d.time.length - 1 };
    if (!(event.key in to)) return;
    event.preventDefault();
    const i = Math.min(d.time.length - 1, Math.max(0, to[event.key]));
    u.setCursor({ left: u.valToPos(d.time[i], "x"), top: u.bbox.height / 2 / devicePixelRatio });
    this.speak(i);
  }

  /** @param {number} i */
  speak(i) {
    const d = this.data;
    if (!d || !this.said) return;
    this.said.textContent = this.clock.full(d.time[i]) + ": " + d.lines.filter((l) => l.kind !== "density").map((l) => `${l.label} ${l.kind === "point" ? ((l.max[i] ?? 0) > 0.5 ? "wet" : "dry") : this.range(l, i, 0)}`).join(", ");
  }

  /** Puts the cursor at a time. @param {number} time */
  mark(time) {
    const u = this.charts[0];
    if (u) u.setCursor({ left: u.valToPos(time, "x"), top: 10 }, false);
  }

  /** @param {any} u */
  moved(u) {
    if (u !== this.charts[0] || u.cursor.idx == null || !this.data) return;
    this.box.dispatchEvent(new CustomEvent("cursor", { bubbles: true, detail: { time: this.data.time[u.cursor.idx] } }));
  }
}
