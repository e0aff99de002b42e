// The stage in the page. What a hand moves is drawn here at once; every reading shown comes from the kernel.
// The kernel joins these files into one module: link, drawing, plan, numbers, reading, stage.
//
//   ops (ordered, merged) -> pump: one message in flight -> ack -> the next, holding only the latest positions

const FT = 0.3048; // m
const SVG = "http://www.w3.org/2000/svg";
const KIND_WORDS = { light: "light", board: "board", frame: "diffusion frame", flag: "flag", piece: "piece", mark: "mark", spot: "spot", camera: "camera", window: "window" };
const FIELD_WORDS = {
  centre_m: ["middle, along the wall", "m"], sill_m: ["sill", "m"], width_m: ["width", "m"], depth_m: ["depth", "m"], height_m: ["height", "m"], roll_deg: ["roll", "°"], dim_stops: ["dim", "stops"], focus: ["focus, 0 flood 1 spot", ""], focal_mm: ["lens", "mm"],
  t_stop: ["T", ""], iso: ["ISO", ""], fps: ["fps", ""], shutter_deg: ["shutter", "°"], nd_stops: ["ND", "stops"],
};
const BY_KIND = {
  light: ["at", "aim", "dim_stops", "focus", "roll_deg"], board: ["at", "aim", "width_m", "height_m", "roll_deg"], piece: ["at", "aim", "width_m", "depth_m", "height_m"], mark: ["at", "aim"], spot: ["at"],
  window: ["centre_m", "sill_m", "width_m", "height_m"],
  camera: ["at", "aim", "focal_mm", "t_stop", "iso", "fps", "shutter_deg", "nd_stops"],
};
BY_KIND.frame = BY_KIND.flag = BY_KIND.board;
const NO_ANSWER_MS = 3000, LOST_MS = 10000;

// ---- small helpers -------------------------------------------------------------------------------

function node(tag, attrs = {}, ...kids) {
  const el = document.createElement(tag);
  return fill(el, attrs, kids);
}
function shape(tag, attrs = {}, ...kids) {
  return fill(document.createElementNS(SVG, tag), attrs, kids);
}
function fill(el, attrs, kids) {
  for (const [k, v] of Object.entries(attrs)) if (v !== null && v !== undefined) el.setAttribute(k, v);
  el.append(...kids);
  return el;
}
function text(el, words) {
  if (el.textContent !== words) el.textContent = words;
}
// What is the same is left alone: the browser lays out and paints again whatever was set.
function set(el, name, value) {
  if (el.getAttribute(name) !== String(value)) el.setAttribute(name, value);
}
// JupyterLab runs single-key commands (two d's delete the cell) unless the focused element itself says no.
function hush(el) {
  el.setAttribute("data-lm-suppress-shortcuts", "true");
  return el;
}
const clamp = (v, low, high) => Math.min(high, Math.max(low, v));
const minus = (words) => words.replace("-", "\u2212");
const wide = (words, size = 11) => words.length * size * 0.58; // a generous guess, for keeping labels apart
const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);

// ---- what all views of one model share: changes on their way, and the answer ---------------------------

class Link {
  constructor() {
    this.client = Math.random().toString(36).slice(2);
    this.ops = []; this.over = {}; this.views = new Set();
    this.sent = this.acked = this.sentAt = this.gestures = 0;
    this.held = null; this.silent = this.gone = this.moved = this.rest = false;
  }
  join(model) {
    if (this.model) return;
    this.model = model;
    this.snaps = model.get("place").snap_m > 0;
    model.on("change:ack", () => this.answered(model.get("ack")));
    // ipywidgets says this when the kernel that made the model is restarted; it never comes back to this one.
    model.on("comm_live_update", () => { this.gone = true; this.tell(); });
    for (const name of ["place", "values", "shown", "frame", "units"]) model.on(`change:${name}`, () => this.tell());
  }
  get busy() { return this.sent !== this.acked || this.ops.length > 0; }
  final(part) { return !this.busy && this.model.get("shown").quality[part] === "final"; }
  get settled() { return this.final("readings") && (!this.model.get("place").parts.includes("picture") || this.final("picture")); }
  // The step that dragged things keep to: the kernel's own if it has one, else a round one; a centimetre while the box is off.
  get step_m() { return this.model.get("place").snap_m || (this.model.get("units") === "feet" ? 0.5 * FT : 0.1); }
  get grain() { return this.snaps ? this.step_m : 0.01; }
  gesture() { return `${this.client}-${++this.gestures}`; }
  value(id) { return { ...this.model.get("values")[id], ...this.over[id] }; }

  move(gesture, id, fields) {
    const now = this.value(id);
    if (Object.entries(fields).every(([k, v]) => JSON.stringify(now[k]) === JSON.stringify(v))) return;
    this.over[id] = { ...this.over[id], ...fields };
    this.moved = true; this.rest = false;
    const last = this.ops[this.ops.length - 1];
    if (last && last.move && last.gesture === gesture) last.move[id] = { ...last.move[id], ...fields };
    else this.ops.push({ move: { [id]: { ...fields } }, gesture });
    this.pump();
  }
  step(n) {
    this.over = {};
    const last = this.ops[this.ops.length - 1];
    if (last && last.step) last.step += n;
    else this.ops.push({ step: n });
    this.pump();
  }
  save() { this.ops.push({ save: true }); this.pump(); }
  hold(id) { this.held = id; this.moved = false; }
  // With `off` the hand has left for sure: the kernel need not wait any longer to see whether it rests.
  release(off = false) {
    if (off && this.held && this.moved) { this.rest = true; this.pump(); }
    this.held = null; this.moved = false;
    if (!this.busy) this.over = {};
    this.tell();
  }
  pump() {
    this.tell();
    const now = performance.now();
    if (!(this.ops.length || this.rest) || this.gone || (this.sent > this.acked && now - this.sentAt < LOST_MS)) return;
    const { ops, rest } = this;
    this.ops = []; this.rest = false; this.sentAt = now;
    this.model.send({ ops, client: this.client, seq: ++this.sent, ...(rest ? { rest } : {}) });
    clearTimeout(this.watch);
    this.watch = setTimeout(() => { this.silent = this.sent > this.acked; this.tell(); }, NO_ANSWER_MS);
  }
  answered([client, seq] = []) {
    if (client === this.client) {
      this.acked = Math.max(this.acked, seq);
      if (this.sent === this.acked) this.silent = false;
      if (this.ops.length || this.rest) this.pump();
      else if (!this.busy) this.over = this.held && this.over[this.held] ? { [this.held]: this.over[this.held] } : {};
    }
    this.tell();
  }
  // One redraw however many traits one update brought.
  tell() {
    if (this.told) return;
    this.told = true;
    queueMicrotask(() => { this.told = false; for (const view of this.views) view.update(); });
  }
}
