// The stage in the page. What a hand moves is drawn here at once; every reading shown comes from the kernel.
//
//   ops (ordered, merged) -> pump: one message in flight -> ack -> the next, holding only the latest positions

const FT = 0.3048; // m
const SVG = "http://www.w3.org/2000/svg";
const KIND_WORDS = { light: "light", board: "board", frame: "diffusion frame", flag: "flag", mark: "mark", spot: "spot", camera: "camera" };
const FIELD_WORDS = {
  width_m: ["width", "m"], height_m: ["height", "m"], roll_deg: ["roll", "°"], dim_stops: ["dim", "stops"], focal_mm: ["lens", "mm"],
  t_stop: ["T", ""], iso: ["ISO", ""], fps: ["fps", ""], shutter_deg: ["shutter", "°"], nd_stops: ["ND", "stops"],
};
const BY_KIND = {
  light: ["at", "aim", "dim_stops", "roll_deg"], board: ["at", "aim", "width_m", "height_m", "roll_deg"], mark: ["at", "aim"], spot: ["at"],
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
    this.held = null; this.silent = this.gone = false;
  }
  join(model) {
    if (this.model) return;
    this.model = model;
    model.on("change:ack", () => this.answered(model.get("ack")));
    // ipywidgets says this when the kernel that made the model is restarted; it never comes back to this one.
    model.on("comm_live_update", () => { this.gone = true; this.tell(); });
    for (const name of ["place", "values", "shown", "frame", "units"]) model.on(`change:${name}`, () => this.tell());
  }
  get busy() { return this.sent !== this.acked || this.ops.length > 0; }
  final(part) { return !this.busy && this.model.get("shown").quality[part] === "final"; }
  get settled() { return this.final("readings") && this.final("picture"); }
  gesture() { return `${this.client}-${++this.gestures}`; }
  value(id) { return { ...this.model.get("values")[id], ...this.over[id] }; }

  move(gesture, id, fields) {
    const now = this.value(id);
    if (Object.entries(fields).every(([k, v]) => JSON.stringify(now[k]) === JSON.stringify(v))) return;
    this.over[id] = { ...this.over[id], ...fields };
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
  hold(id) { this.held = id; }
  release() {
    this.held = null;
    if (!this.busy) this.over = {};
    this.tell();
  }
  pump() {
    this.tell();
    const now = performance.now();
    if (!this.ops.length || this.gone || (this.sent > this.acked && now - this.sentAt < LOST_MS)) return;
    const ops = this.ops;
    this.ops = []; this.sentAt = now;
    this.model.send({ ops, client: this.client, seq: ++this.sent });
    clearTimeout(this.watch);
    this.watch = setTimeout(() => { this.silent = this.sent > this.acked; this.tell(); }, NO_ANSWER_MS);
  }
  answered([client, seq] = []) {
    if (client === this.client) {
      this.acked = Math.max(this.acked, seq);
      if (this.sent === this.acked) this.silent = false;
      if (this.ops.length) this.pump();
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

// ---- geometry on the plan ------------------------------------------------------------------------------

function basis(at, aim, rollDeg = 0) {
  let f = [aim[0] - at[0], aim[1] - at[1], aim[2] - at[2]];
  const size = Math.hypot(...f) || 1;
  f = f.map((v) => v / size);
  let r = [f[1], -f[0], 0];
  const rs = Math.hypot(...r);
  r = rs > 1e-9 ? r.map((v) => v / rs) : [1, 0, 0];
  const u = [r[1] * f[2] - r[2] * f[1], r[2] * f[0] - r[0] * f[2], r[0] * f[1] - r[1] * f[0]];
  const c = Math.cos((rollDeg * Math.PI) / 180), s = Math.sin((rollDeg * Math.PI) / 180);
  return [r.map((v, i) => c * v - s * u[i]), u.map((v, i) => s * r[i] + c * v), f];
}
function corners(at, aim, w, h, roll) {
  const [r, u] = basis(at, aim, roll);
  return [[1, -1], [-1, -1], [-1, 1], [1, 1]].map(([a, b]) => at.map((v, i) => v + (a * w * r[i]) / 2 + (b * h * u[i]) / 2));
}
// Convex hull of points on the plan (Andrew's monotone chain).
function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const cross = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (list) => {
    const out = [];
    for (const p of list) {
      while (out.length > 1 && cross(out[out.length - 2], out[out.length - 1], p) <= 0) out.pop();
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}
// A window as two ends on the plan, and the direction that points outside.
function opening(win, [w, d]) {
  const a = win.centre_m - win.width_m / 2, b = win.centre_m + win.width_m / 2;
  return { left: [[0, a], [0, b], [-1, 0]], right: [[w, a], [w, b], [1, 0]], near: [[a, 0], [b, 0], [0, -1]], far: [[a, d], [b, d], [0, 1]] }[win.wall];
}
// Outline on the plan of light through a window: each corner's ray runs on until floor or ceiling.
// `from` is a point, or with `sun` a direction towards it.
function shaft(win, size, from, sun = false) {
  const [p, q, out] = opening(win, size);
  const ahead = sun ? from[0] * out[0] + from[1] * out[1] : (from[0] - p[0]) * out[0] + (from[1] - p[1]) * out[1];
  if (ahead <= 1e-6) return null;
  const points = [];
  for (const end of [p, q]) for (const z of [win.sill_m, win.sill_m + win.height_m]) {
    const ray = sun ? from.map((v) => -v) : [end[0] - from[0], end[1] - from[1], z - from[2]];
    const rise = ray[2] < -1e-9 ? -z / ray[2] : ray[2] > 1e-9 ? (size[2] - z) / ray[2] : 1e6;
    const far = Math.min(rise, 1e3 / (Math.hypot(ray[0], ray[1]) || 1e-9));
    points.push(end, [end[0] + far * ray[0], end[1] + far * ray[1]]);
  }
  return hull(points);
}

// ---- the plan --------------------------------------------------------------------------------------------

class Plan {
  constructor(view) {
    this.view = view; this.link = view.link;
    this.sheet = node("div", { class: "lc-sheetbox" });
    this.readout = node("span", { class: "lc-readout" });
    this.box = node("div", { class: "lc-plan" }, this.sheet, node("div", { class: "lc-caption" }, this.readout));
    this.selected = null;
  }
  get place() { return this.link.model.get("place"); }
  get feet() { return this.link.model.get("units") === "feet"; }

  // All of a room, or the part of open ground that is used, and everything that stands somewhere; aim points
  // and spots only as far as they are near.
  extent() {
    const [w, d] = this.place.size, { room, things } = this.place, near = room ? Math.max(2, 0.25 * Math.max(w, d)) : 6;
    const places = things.map((thing) => [thing.kind, this.link.value(thing.id)]), stand = places.filter(([kind]) => kind !== "spot").map(([, v]) => v.at);
    const span = (points) => [0, 1].map((i) => Math.min(...points.map((p) => p[i]))).concat([0, 1].map((i) => Math.max(...points.map((p) => p[i]))));
    const core = room ? [0, 0, w, d] : span(stand);
    const held = (p) => [0, 1].map((i) => clamp(p[i], core[i] - near, core[i + 2] + near));
    const far = (p) => [0, 1].map((i) => clamp(p[i], core[i] - 60, core[i + 2] + 60));
    const box = span([core.slice(0, 2), core.slice(2), ...stand.map(far), ...places.filter(([kind]) => kind === "spot").map(([, v]) => held(v.at)), ...places.filter(([, v]) => v.aim).map(([, v]) => held(v.aim))]);
    const m = Math.max(0.04 * Math.max(box[2] - box[0], box[3] - box[1]), room ? 0.2 : 1);
    return [box[0] - m, box[1] - m, box[2] + m, box[3] + m];
  }
  stamp(width, high) { return JSON.stringify([width, high, this.place, this.feet]); }
  // Rescale only when something left the plan, or the plan has become much too big.
  fits() {
    const a = this.extent(), b = this.core, area = (r) => (r[2] - r[0]) * (r[3] - r[1]), slip = 0.035 * Math.max(b[2] - b[0], b[3] - b[1]);
    return a[0] >= b[0] - slip && a[1] >= b[1] - slip && a[2] <= b[2] + slip && a[3] <= b[3] + slip && area(b) < 1.5 * area(a);
  }

  build(width, high) {
    const kept = this.box.contains(document.activeElement) ? document.activeElement.getAttribute("data-key") : null;
    const left = 26, bottom = 20, edge = 4, [x0, y0, x1, y1] = (this.core = this.extent());
    this.scale = Math.min((width - left - edge) / (x1 - x0), (high - bottom - edge) / (y1 - y0));
    // the grid fills what the scale leaves over
    const more = [(width - left - edge) / this.scale - (x1 - x0), (high - bottom - edge) / this.scale - (y1 - y0)].map((n) => Math.max(0, n / 2));
    this.bounds = [x0 - more[0], y0 - more[1], x1 + more[0], y1 + more[1]];
    this.size = [width, high]; this.left = left; this.top = edge;
    this.svg = shape("svg", { class: "lc-svg", width, height: high, viewBox: `0 0 ${width} ${high}`, role: "group", "aria-label": "Plan, to scale" });
    const clip = (this.clipId = `lc-clip-${this.link.client}-${Math.random().toString(36).slice(2, 8)}`);
    const room = this.rect([0, 0, this.place.size[0], this.place.size[1]]);
    this.svg.append(shape("clipPath", { id: clip }, shape("rect", room)), shape("clipPath", { id: clip + "b" }, shape("rect", this.rect(this.bounds))));
    this.drawGrid();
    this.layer({ "clip-path": `url(#${clip}b)` }).append(shape("rect", { ...room, class: "lc-floor" }));
    this.shafts = this.layer({ "clip-path": this.place.room ? `url(#${clip})` : `url(#${clip}b)` });
    this.wedges = this.layer({ "clip-path": `url(#${clip}b)` });
    this.drawWalls(room);
    this.tapes = this.layer({ class: "lc-tapes" });
    const lines = this.layer({}), items = this.layer({}), aims = this.layer({});
    this.labels = this.layer({ class: "lc-labels" });
    this.parts = {};
    const order = { board: 0, frame: 0, flag: 0, spot: 1, camera: 2, mark: 3, light: 4 };
    for (const thing of [...this.place.things].sort((a, b) => order[a.kind] - order[b.kind])) this.drawThing(thing, lines, items, aims);
    this.svg.addEventListener("pointerdown", (e) => { if (e.target === this.svg || !e.target.closest("[data-key]")) this.view.select(null); });
    this.sheet.replaceChildren(this.svg);
    this.offsets = {};
    this.update(true);
    if (kept) this.box.querySelector(`[data-key="${CSS.escape(kept)}"]`)?.focus({ preventScroll: true });
  }
  layer(attrs) { const g = shape("g", attrs); this.svg.append(g); return g; }
  px(p) { return [this.left + (p[0] - this.bounds[0]) * this.scale, this.top + (this.bounds[3] - p[1]) * this.scale]; }
  metres([x, y]) { return [this.bounds[0] + (x - this.left) / this.scale, this.bounds[3] - (y - this.top) / this.scale]; }
  rect([x0, y0, x1, y1]) {
    const [x, y] = this.px([x0, y1]);
    return { x, y, width: (x1 - x0) * this.scale, height: (y1 - y0) * this.scale };
  }

  drawGrid() {
    const unit = this.feet ? FT : 1, [x0, y0, x1, y1] = this.bounds;
    const step = [1, 2, 5, 10, 20, 50, 100].find((n) => n * unit * this.scale >= 20) || 200;
    const grid = this.layer({ class: "lc-grid" });
    const run = (low, high, draw) => { for (let n = Math.ceil(low / unit / step) * step; n * unit <= high + 1e-9; n += step) draw(n, n * unit); };
    const base = this.px([0, y0])[1], side = this.px([x0, 0])[0];
    run(x0, x1, (n, v) => {
      const [x] = this.px([v, 0]);
      grid.append(shape("line", { x1: x, x2: x, y1: this.top, y2: base }));
      if (x > this.left + 14 && x < this.size[0] - 8) grid.append(shape("text", { x, y: base + 13, "text-anchor": "middle" }, minus(String(n))));
    });
    run(y0, y1, (n, v) => {
      const y = this.px([0, v])[1];
      grid.append(shape("line", { x1: side, x2: this.px([x1, 0])[0], y1: y, y2: y }), shape("text", { x: side - 5, y: y + 4, "text-anchor": "end" }, minus(String(n))));
    });
    grid.append(shape("text", { x: side - 5, y: base + 13, "text-anchor": "end" }, this.feet ? "ft" : "m"));
  }
  drawWalls(room) {
    const walls = this.layer({ class: this.place.room ? "lc-walls" : "lc-walls lc-open", "clip-path": `url(#${this.clipId}b)` });
    walls.append(shape("rect", room));
    for (const win of this.place.windows) {
      const [p, q, out] = opening(win, this.place.size), [x1, y1] = this.px(p), [x2, y2] = this.px(q);
      const g = shape("g", { class: "lc-window" }, shape("title", {}, `window ${win.name}`));
      g.append(shape("line", { x1, y1, x2, y2, class: "lc-gap" }));
      for (const off of [-2.5, 2.5]) g.append(shape("line", { x1: x1 + off * out[0], x2: x2 + off * out[0], y1: y1 - off * out[1], y2: y2 - off * out[1] }));
      for (let i = 1; i <= win.bars; i++) {
        // bars evenly spaced inside the opening
        const share = i / (win.bars + 1), x = x1 + share * (x2 - x1), y = y1 + share * (y2 - y1);
        g.append(shape("line", { x1: x - 5 * out[0], x2: x + 5 * out[0], y1: y + 5 * out[1], y2: y - 5 * out[1], class: "lc-bar-tick", "stroke-width": Math.max(1.5, win.bar_m * this.scale) }));
      }
      walls.append(g);
    }
    if (this.place.sun) this.drawSun(walls);
  }
  drawSun(into) {
    const to = this.place.sun.to, flat = Math.hypot(to[0], to[1]);
    if (flat < 1e-6) return;
    const [w, d] = this.place.size, u = [to[0] / flat, to[1] / flat];
    // where the line from the middle of the room to the sun leaves the plan
    const mid = [w / 2, d / 2], reach = Math.min(...[0, 1].map((i) => (u[i] > 0 ? (this.bounds[i + 2] - mid[i]) / u[i] : u[i] < 0 ? (this.bounds[i] - mid[i]) / u[i] : 1e9)));
    const [x, y] = this.px([mid[0] + (reach - 14 / this.scale) * u[0], mid[1] + (reach - 14 / this.scale) * u[1]]);
    const turn = (Math.atan2(u[1], -u[0]) * 180) / Math.PI;
    const g = shape("g", { class: "lc-sun", transform: `translate(${x} ${y})` }, shape("title", {}, this.place.sun.words));
    g.append(shape("circle", { r: 6 }), shape("path", { d: "M8 0H22M17 -4L22 0L17 4", transform: `rotate(${turn})` }));
    into.append(g);
    for (const win of this.place.windows) {
      const outline = shaft(win, this.place.size, to, true);
      if (outline && to[2] > 0) this.shafts.append(shape("path", { class: "lc-shaft", d: this.path(outline) }));
    }
  }

  drawThing(thing, lines, items, aims) {
    const { id, kind, name } = thing, v = this.link.value(id);
    const part = (this.parts[id] = { thing });
    part.g = hush(shape("g", { class: `lc-item lc-${kind}`, "data-id": id, "data-name": name, "data-key": id, tabindex: 0, role: "button", "aria-roledescription": `movable ${KIND_WORDS[kind]}` }));
    part.tip = shape("title");
    part.ring = shape("circle", { class: "lc-ring", r: 13 });
    part.body = shape("g", { class: "lc-body" });
    part.g.append(part.tip, shape("circle", { class: "lc-hit", r: 13 }), part.ring, part.body);
    items.append(part.g);
    part.label = shape("text", { class: "lc-label" });
    this.labels.append(part.label);
    this.listen(part.g, id, "at");
    if (v.aim) {
      part.line = shape("line", { class: `lc-aimline lc-${kind}` });
      lines.append(part.line);
      part.aim = hush(shape("g", { class: `lc-aim lc-${kind}`, "data-id": id, "data-key": `${id}>aim`, tabindex: -1, role: "button", "aria-roledescription": "movable aim point" }));
      part.aim.append(shape("circle", { class: "lc-hit", r: 12 }), shape("circle", { class: "lc-aimdot", r: 4.5 }), shape("path", { class: "lc-aimcross", d: "M-8 0H8M0 -8V8" }));
      aims.append(part.aim);
      this.listen(part.aim, id, "aim");
    }
    if (kind === "camera" || thing.beam_deg) {
      part.wedge = shape("path", { class: `lc-wedge lc-${kind}` });
      this.wedges.append(part.wedge);
    }
    if (kind === "light" && this.place.room) part.shafts = this.place.windows.map((win) => { const p = shape("path", { class: "lc-shaft" }); this.shafts.append(p); return [win, p]; });
  }
  drawBody(part, v) {
    const { kind, figure } = part.thing, b = part.body, s = this.scale;
    const turn = v.aim ? (Math.atan2(-(v.aim[1] - v.at[1]), v.aim[0] - v.at[0]) * 180) / Math.PI : 0;
    const key = JSON.stringify([s, turn, v.width_m, v.height_m, v.roll_deg, v.dim_stops === null, v.at, v.aim]);
    if (part.drawn === key) return;
    part.drawn = key; b.replaceChildren();
    const turned = (d, cls = "") => shape("path", { d, class: cls, transform: `rotate(${turn})` });
    const sheet = () => {
      const here = this.px(v.at), pts = hull(corners(v.at, v.aim, v.width_m, v.height_m, v.roll_deg).map((c) => this.px(c))).map((p) => [p[0] - here[0], p[1] - here[1]]);
      return shape("path", { d: `M${pts.map((p) => p.map((n) => n.toFixed(1)).join(" ")).join("L")}Z`, class: "lc-sheet" });
    };
    if (kind === "light") {
      if (v.width_m > 0) b.append(sheet());
      b.append(turned("M3 -3.5L11 -6V6L3 3.5Z"), shape("circle", { r: 6 }));
      if (v.dim_stops === null) b.append(shape("path", { d: "M-5 -5L5 5M-5 5L5 -5", class: "lc-offcross" }));
      part.g.classList.toggle("lc-off", v.dim_stops === null);
    } else if (kind === "camera") b.append(turned("M-10 -6H3V6H-10Z"), turned("M4 0L11 -6V6Z"));
    else if (kind === "mark") b.append(...(figure ? [turned("M4 -5L11 0L4 5Z"), shape("circle", { r: 6.5 })] : [shape("path", { d: "M-7 0H7M0 -7V7", class: "lc-cross" }), turned("M8 -4L13 0L8 4", "lc-cross")]));
    else if (kind === "spot") b.append(shape("path", { d: "M0 -6L6 0L0 6L-6 0Z" }));
    else b.append(sheet(), turned("M0 0H9M6 -3L9 0L6 3", "lc-facing"));
  }

  // The first call after a build, and every call at rest, also lays out the labels.
  update(rest) {
    const marks = this.place.things.filter((t) => t.kind === "mark");
    for (const id of Object.keys(this.parts)) this.updateThing(id);
    this.updateTapes(marks);
    if (rest) this.layLabels();
    for (const [id, part] of Object.entries(this.parts)) this.putLabel(id, part);
  }
  updateThing(id) {
    const part = this.parts[id], v = this.link.value(id), { thing } = part, chosen = id === this.selected;
    const [x, y] = (part.at = this.onPlan(this.px(v.at))); // what is far off stands on the edge
    part.g.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    part.g.classList.toggle("lc-chosen", chosen);
    this.drawBody(part, v);
    const where = `${thing.name}: x ${this.view.len(v.at[0])}, y ${this.view.len(v.at[1])}, ${this.view.len(v.at[2])} up`;
    part.g.setAttribute("aria-label", where);
    text(part.tip, thing.note ? `${where} (${thing.note})` : where);
    text(part.label, `${thing.name} ↑${this.view.num(v.at[2], 1)}`);
    if (part.aim) {
      const [ax, ay] = this.onPlan(this.px(v.aim));
      part.aim.setAttribute("transform", `translate(${ax.toFixed(1)} ${ay.toFixed(1)})`);
      part.aim.classList.toggle("lc-chosen", chosen);
      part.aim.setAttribute("tabindex", chosen ? 0 : -1);
      part.aim.setAttribute("aria-label", `${thing.name} faces x ${this.view.len(v.aim[0])}, y ${this.view.len(v.aim[1])}, ${this.view.len(v.aim[2])} up`);
      for (const [k, n] of Object.entries({ x1: x, y1: y, x2: ax, y2: ay })) part.line.setAttribute(k, n.toFixed(1));
      part.line.classList.toggle("lc-chosen", chosen);
    }
    if (part.wedge) part.wedge.setAttribute("d", this.wedge(thing, v));
    for (const [win, p] of part.shafts || []) {
      const outline = v.dim_stops === null ? null : shaft(win, this.place.size, v.at);
      p.setAttribute("d", outline ? this.path(outline) : "");
    }
  }
  path(points) { return `M${points.map((p) => this.px(p).map((n) => n.toFixed(1)).join(" ")).join("L")}Z`; }
  onPlan([x, y]) { return [clamp(x, this.left + 8, this.size[0] - 12), clamp(y, this.top + 8, this.size[1] - 28)]; }
  wedge(thing, v) {
    if (thing.kind === "light" && v.dim_stops === null) return "";
    const half = thing.kind === "camera" ? Math.atan(v.sensor_width_mm / (2 * v.focal_mm)) : (thing.beam_deg * Math.PI) / 360;
    const dx = v.aim[0] - v.at[0], dy = v.aim[1] - v.at[1], flat = Math.hypot(dx, dy);
    if (flat < 1e-6) return "";
    const mid = Math.atan2(dy, dx), reach = thing.kind === "camera" ? 200 : flat;
    const end = (a) => this.px([v.at[0] + (reach * Math.cos(mid + a)) / Math.max(0.2, Math.cos(a)), v.at[1] + (reach * Math.sin(mid + a)) / Math.max(0.2, Math.cos(a))]);
    const p = [end(-half), this.px(v.at), end(half)].map((q) => q.map((n) => n.toFixed(1)).join(" "));
    return `M${p.join("L")}`;
  }

  // Tape measure: straight distances from what is chosen to the camera and to the nearest mark.
  updateTapes(marks) {
    this.tapes.replaceChildren();
    const part = this.selected && this.parts[this.selected];
    if (!part) return text(this.readout, "");
    const at = this.link.value(this.selected).at, ends = [];
    if (this.selected !== "camera") ends.push(["camera", this.link.value("camera").at]);
    const others = marks.filter((m) => m.id !== this.selected).map((m) => [m.name, this.link.value(m.id).at]).sort((a, b) => apart(at, a[1]) - apart(at, b[1]));
    ends.push(...others.slice(0, 1));
    const [x1, y1] = this.px(at);
    for (const [, to] of ends) {
      const [x2, y2] = this.px(to);
      this.tapes.append(shape("line", { x1, y1, x2, y2 }));
    }
    const words = ends.map(([name, to]) => `to ${name} ${this.view.len(apart(at, to))}`);
    const v = this.link.value(this.selected), faces = v.aim ? [`${this.view.len(apart(at, v.aim))} to what it faces`] : [];
    text(this.readout, `${part.thing.name}: ${[...words, ...faces].join(", ")}`);
  }

  layLabels() {
    const taken = [[0, 0, this.left - 4, this.size[1]], [0, this.size[1] - 20, this.size[0], 20]]; // the numbers along two sides
    for (const part of Object.values(this.parts)) taken.push([part.at[0] - 9, part.at[1] - 9, 18, 18]);
    const wall = this.rect([0, 0, this.place.size[0], this.place.size[1]]);
    for (const x of [wall.x, wall.x + wall.width]) taken.push([x - 3, wall.y, 6, wall.height]);
    for (const y of [wall.y, wall.y + wall.height]) taken.push([wall.x, y - 3, wall.width, 6]);
    const over = (a, b) => Math.max(0, Math.min(a[0] + a[2], b[0] + b[2]) - Math.max(a[0], b[0])) * Math.max(0, Math.min(a[1] + a[3], b[1] + b[3]) - Math.max(a[1], b[1]));
    for (const [id, part] of Object.entries(this.parts)) {
      const w = wide(part.label.textContent), [x, y] = part.at;
      const spots = [[12, 4], [-12 - w, 4], [-w / 2, -13], [-w / 2, 22], [10, -9], [10, 17], [-10 - w, -9], [-10 - w, 17], [-w / 2, 34], [-w / 2, -25]];
      const cost = ([dx, dy], i) => {
        const box = [x + dx, y + dy - 10, w, 13];
        const out = Math.max(0, 2 - box[0]) + Math.max(0, box[0] + w - this.size[0] + 2) + Math.max(0, 2 - box[1]) + Math.max(0, box[1] + 13 - this.size[1]);
        return taken.reduce((sum, t) => sum + over(box, t), 0) + 60 * out + i;
      };
      const best = spots.map((s, i) => [cost(s, i), s]).sort((a, b) => a[0] - b[0])[0][1];
      this.offsets[id] = best;
      taken.push([x + best[0], y + best[1] - 10, w, 13]);
    }
  }
  putLabel(id, part) {
    const [dx, dy] = this.offsets[id] || [12, 4];
    part.label.setAttribute("x", (part.at[0] + dx).toFixed(1));
    part.label.setAttribute("y", (part.at[1] + dy).toFixed(1));
  }

  // ---- hands and keys
  listen(g, id, field) {
    let drag = null;
    const where = (e) => { const box = this.svg.getBoundingClientRect(); return [e.clientX - box.left, e.clientY - box.top]; };
    g.addEventListener("pointerdown", (e) => {
      if (e.button) return;
      e.preventDefault(); e.stopPropagation();
      this.view.select(id); g.focus({ preventScroll: true });
      const v = this.link.value(id), p = this.metres(where(e));
      drag = { gesture: this.link.gesture(), off: [v[field][0] - p[0], v[field][1] - p[1]], from: v };
      try { g.setPointerCapture(e.pointerId); } catch { /* a synthetic pointer */ }
      this.link.hold(id);
    });
    // touch-action alone does not hold on shapes that are drawn anew while they move.
    g.addEventListener("touchstart", (e) => e.preventDefault(), { passive: false });
    g.addEventListener("pointermove", (e) => {
      if (!drag) return;
      const p = this.metres(where(e));
      this.put(drag.gesture, id, field, [p[0] + drag.off[0], p[1] + drag.off[1]], e.shiftKey ? drag.from : null);
    });
    const end = () => { if (drag) { drag = null; this.link.release(); } };
    g.addEventListener("pointerup", end);
    g.addEventListener("pointercancel", end);
    g.addEventListener("lostpointercapture", end);
    g.addEventListener("focus", () => this.view.select(id));
    g.addEventListener("keydown", (e) => this.key(e, id, field));
  }
  // Where a hand may leave a thing: marks and camera in the room, the rest on the plan.
  put(gesture, id, field, [x, y], carry = null) {
    const v = this.link.value(id), kind = this.parts[id].thing.kind, [w, d] = this.place.size;
    const inside = field === "at" && this.place.room && (kind === "mark" || kind === "camera");
    const [x0, y0, x1, y1] = inside ? [0, 0, w, d] : this.bounds;
    const snap = this.place.snap_m || 0.01;
    const grid = (n, low, high) => clamp(Number((Math.round(n / snap) * snap).toFixed(4)), Number(low.toFixed(4)), Number(high.toFixed(4)));
    const to = [grid(x, x0, x1), grid(y, y0, y1), v[field][2]];
    const fields = { [field]: to };
    // Shift carries the aim along, so the thing keeps facing the same way.
    if (carry && field === "at" && v.aim) fields.aim = carry.aim.map((n, i) => Number((n + to[i] - carry.at[i]).toFixed(4)));
    this.link.move(gesture, id, fields);
  }
  key(e, id, field) {
    const step = e.altKey ? 0.01 : e.shiftKey ? 0.5 : 0.1;
    const by = { ArrowLeft: [-1, 0, 0], ArrowRight: [1, 0, 0], ArrowUp: [0, 1, 0], ArrowDown: [0, -1, 0], PageUp: [0, 0, 1], PageDown: [0, 0, -1] }[e.key];
    if (e.key === "Escape") this.view.select(null);
    else if (e.key === "Enter") this.view.entry.focus();
    else if (!by || e.ctrlKey || e.metaKey) return;
    e.preventDefault(); e.stopPropagation();
    if (!by) return;
    // Taps within a second of each other are one step to undo.
    const now = performance.now(), same = this.nudge && this.nudge.key === id + field && now - this.nudge.when < 1000;
    this.nudge = { key: id + field, when: now, gesture: same ? this.nudge.gesture : this.link.gesture() };
    const p = this.link.value(id)[field].map((n, i) => Number((n + step * by[i]).toFixed(4)));
    if (by[2]) this.link.move(this.nudge.gesture, id, { [field]: p });
    else this.nudgeTo(this.nudge.gesture, id, field, p);
  }
  nudgeTo(gesture, id, field, p) {
    const kind = this.parts[id].thing.kind, [w, d] = this.place.size;
    const inside = field === "at" && this.place.room && (kind === "mark" || kind === "camera");
    const to = inside ? [clamp(p[0], 0, w), clamp(p[1], 0, d), p[2]] : p;
    this.link.move(gesture, id, { [field]: to });
  }
}

// ---- numbers typed for the chosen thing --------------------------------------------------------------------

class Entry {
  constructor(view) {
    this.view = view; this.link = view.link;
    this.box = node("div", { class: "lc-entry" });
    this.fields = [];
  }
  focus() { this.fields[0]?.input.focus(); }
  build(id) {
    this.id = id; this.fields = [];
    const thing = id && this.link.model.get("place").things.find((t) => t.id === id);
    if (!thing) {
      this.box.replaceChildren(node("span", { class: "lc-hint" }, "Click or Tab to a thing; drag it, use arrow keys (Shift 0.5 m, Alt 1 cm; Page Up, Page Down: height) or type here. Shift-drag takes its aim along."));
      return;
    }
    const unit = this.view.feet ? "ft" : "m";
    this.box.replaceChildren(node("strong", {}, thing.name));
    const group = (words) => { const g = node("span", { class: "lc-group" }, node("span", { class: "lc-grouplabel" }, words)); this.box.append(g); return g; };
    for (const field of BY_KIND[thing.kind]) {
      if (field === "at" || field === "aim") {
        const g = group(`${field === "at" ? "at" : "faces"} (${unit})`);
        ["x", "y", "z"].forEach((axis, i) => this.add(g, axis, `${thing.name} ${field === "at" ? "" : "faces "}${axis}`, field, i, true));
      } else {
        const [words, given] = FIELD_WORDS[field], metric = given === "m";
        this.add(group(`${words}${given ? ` (${metric ? unit : given})` : ""}`), "", `${thing.name} ${words}`, field, null, metric);
      }
    }
    this.update();
  }
  add(into, axis, label, field, index, metres) {
    const input = hush(node("input", { type: "number", step: field === "roll_deg" || field === "shutter_deg" ? 1 : field === "iso" ? 100 : 0.1, "aria-label": label, "data-field": index === null ? field : `${field}.${index}` }));
    const one = { input, field, index, metres };
    input.addEventListener("change", () => this.commit(one));
    input.addEventListener("keydown", (e) => {
      if (e.key === "Escape") { this.show(one, true); this.view.root.querySelector(`[data-key="${CSS.escape(this.id)}"]`)?.focus(); }
      if (e.key === "Enter") this.commit(one);
      if (!((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z" && input.value === one.words)) e.stopPropagation();
    });
    this.fields.push(one);
    into.append(axis ? node("label", {}, axis, input) : input);
  }
  commit(one) {
    if (input_same(one)) return;
    const typed = one.input.value.trim();
    // An empty dim means off; any other empty or unreadable field goes back to what it was.
    const off = one.field === "dim_stops" && typed === "";
    const n = one.input.valueAsNumber;
    if (!off && !Number.isFinite(n)) return this.show(one, true);
    const value = off ? null : one.metres && this.view.feet ? Number((n * FT).toFixed(6)) : n;
    const fields = { [one.field]: value };
    if (one.index !== null) {
      const p = [...this.link.value(this.id)[one.field]];
      p[one.index] = value;
      fields[one.field] = p;
    }
    one.words = null;
    this.link.move(this.link.gesture(), this.id, fields);
  }
  show(one, force = false) {
    const v = this.link.value(this.id)[one.field], n = one.index === null ? v : v[one.index];
    const shown = n === null ? "" : String(Number((one.metres && this.view.feet ? n / FT : n).toFixed(one.field === "dim_stops" || one.metres ? 2 : 3)));
    // Never overwrite what a person is typing.
    if (!force && document.activeElement === one.input && one.words !== null && one.input.value !== one.words) return;
    one.words = shown;
    if (one.input.value !== shown) one.input.value = shown;
  }
  update() { if (this.id) for (const one of this.fields) this.show(one); }
}
function input_same(one) { return one.input.value === one.words; }

// ---- the stop ladder -------------------------------------------------------------------------------------------

const OVER = ["mark", "fill", "veil"]; // these hang over the line; places seen by the camera, and targets, under it

class Ladder {
  constructor(view) {
    this.view = view;
    this.box = node("div", { class: "lc-ladder" });
    this.rows = [0, 0];
  }
  update(shown, width) {
    const final = shown.quality.readings === "final", key = JSON.stringify([width, shown.ladder, shown.brackets, shown.range, final]);
    if (key === this.drawn) return;
    this.drawn = key;
    const [under, over] = shown.range, side = 10, row = 14;
    const stops = shown.ladder.map((t) => t.stops).filter((s) => Math.abs(s) <= 14);
    const low = Math.floor(Math.min(under - 1, ...stops.map((s) => s - 0.3))), high = Math.ceil(Math.max(over + 1, ...stops.map((s) => s + 0.3)));
    const x = (s) => side + ((clamp(s, low, high) - low) / (high - low)) * (width - 2 * side);
    const note = "stops from middle grey; shaded: what the sensor holds";
    const ticks = shown.ladder.map((tick) => ({ tick, words: `${tick.label} ${tick.words}`, from: x(tick.stops), to: x(tick.stops) }));
    const wanted = shown.brackets.map((bracket) => ({ bracket, words: `${bracket.label}: ${bracket.met ? "met" : "missed"}`, from: x(bracket.low), to: x(bracket.high) }));
    const above = hang(ticks.filter((t) => OVER.includes(t.tick.kind)), width), below = hang([...ticks.filter((t) => !OVER.includes(t.tick.kind)), ...wanted], width, [[[0, wide(note, 10) + 24]]]);
    // Rows may be added while a hand moves, but are only given back at rest: the page below must not jump.
    this.rows = [above.rows, below.rows].map((n, i) => (final ? n : Math.max(n, this.rows[i])));
    const axis = this.rows[0] * row + 12, foot = axis + 31;
    const svg = shape("svg", { class: "lc-svg", width, height: foot + (this.rows[1] - 1) * row + 8, role: "img", "aria-label": "Stop ladder: stops from middle grey" });
    svg.append(shape("rect", { class: "lc-range", x: x(under), width: x(over) - x(under), y: axis - 7, height: 14 }));
    svg.append(shape("line", { class: "lc-axis", x1: x(low), x2: x(high), y1: axis, y2: axis }));
    const numbers = [shape("text", { class: "lc-note", x: 10, y: foot + 4 }, note)];
    for (let s = low; s <= high; s++) {
      svg.append(shape("line", { class: s === 0 ? "lc-zero" : "lc-whole", x1: x(s), x2: x(s), y1: axis - (s === 0 ? 9 : 5), y2: axis + (s === 0 ? 9 : 5) }));
      numbers.push(shape("text", { class: "lc-num", x: clamp(x(s), 10, width - 10), y: axis + 19, "text-anchor": "middle" }, s > 0 ? `+${s}` : minus(String(s))));
    }
    // All leads first, then all words: a lead never strikes words through.
    for (const f of above.flags) this.lead(svg, f, axis, axis - 17 - f.row * row + 4);
    for (const f of below.flags) this.lead(svg, f, axis, foot + f.row * row);
    svg.append(...numbers);
    for (const f of above.flags) this.flag(svg, f, axis, axis - 17 - f.row * row + 4);
    for (const f of below.flags) this.flag(svg, f, axis, foot + f.row * row);
    this.box.replaceChildren(svg);
  }
  lead(svg, f, axis, y) {
    if (f.tick) svg.append(shape("path", { class: "lc-lead", d: `M${f.from} ${axis}V${y}H${f.left ? f.from - 5 : f.at - 2}` }));
  }
  flag(svg, f, axis, y) {
    const g = f.tick
      ? shape("g", { class: `lc-tick lc-k-${f.tick.kind}`, "data-label": f.tick.label }, shape("title", {}, `${f.tick.kind}: ${f.words}`), shape("path", { d: glyph(f.tick.kind), transform: `translate(${f.from} ${axis})` }))
      : shape("g", { class: `lc-bracket ${f.bracket.met ? "lc-met" : "lc-missed"}` }, shape("path", { d: `M${f.from} ${y - 5}V${y + 3}H${f.to}V${y - 5}` }));
    g.append(shape("text", f.left ? { x: f.from - 7, y: y + 4, "text-anchor": "end" } : { x: f.at, y: y + 4 }, f.words));
    svg.append(g);
  }
}
// Words beside each place, to its right or else its left, in the first row where they touch nothing.
// What lies in the middle is hung first, so that a crowd opens like a fan.
function hang(flags, width, ends = []) {
  const sorted = [...flags].sort((a, b) => a.from - b.from);
  const hung = sorted.map((flag, i) => ({ flag, rank: Math.min(i, sorted.length - 1 - i) })).sort((a, b) => a.rank - b.rank).map(({ flag }) => {
    const w = wide(flag.words) + 2, fits = (at) => at >= 2 && at + w <= width - 2;
    const right = flag.to + 7, left = flag.from - 7 - w, sides = [right, left].filter(fits);
    if (!sides.length) sides.push(clamp(right, 2, Math.max(2, width - 2 - w)));
    for (let row = 0; ; row++) {
      const taken = ends[row] || (ends[row] = []);
      for (const at of sides) {
        const span = [Math.min(at, flag.from - 3), Math.max(at + w, flag.to + 3)];
        if (taken.some(([a, b]) => span[0] < b && span[1] > a)) continue;
        taken.push([span[0] - 3, span[1] + 3]);
        return { ...flag, at, left: at === left, row };
      }
    }
  });
  return { flags: hung, rows: Math.max(1, ends.length) };
}
// A second cue beside colour: each kind of tick has its own shape on the line.
function glyph(kind) {
  const round = "M-4.5 0A4.5 4.5 0 1 1 4.5 0A4.5 4.5 0 1 1 -4.5 0Z";
  return {
    mark: round, fill: round, spot: "M-4.5 -4.5H4.5V4.5H-4.5Z", beam: "M0 -5.5L5.5 4.5H-5.5Z", background: "M0 5.5L5.5 -4.5H-5.5Z", veil: "M0 -6L6 0L0 6L-6 0Z",
    sky: "M-2 -6H2V-2H6V2H2V6H-2V2H-6V-2H-2Z",
  }[kind] || "M-3 -3H3V3H-3Z";
}

// ---- readings ----------------------------------------------------------------------------------------------------

class Table {
  constructor(view) {
    this.view = view; this.open = new Set();
    this.box = node("div", { class: "lc-read" });
    this.wanted = node("div", { class: "lc-read" });
  }
  update(shown, units) {
    const key = JSON.stringify([shown.marks, shown.spots, shown.targets, units, [...this.open]]);
    if (key === this.drawn) return;
    this.drawn = key;
    const had = this.box.contains(document.activeElement) ? document.activeElement.getAttribute("data-mark") : null;
    const kids = [];
    if (shown.marks.length) kids.push(this.marks(shown.marks, units));
    if (shown.spots.length) kids.push(this.spots(shown.spots, units));
    this.box.replaceChildren(...kids);
    this.wanted.replaceChildren(...(shown.targets.length ? [this.targets(shown.targets)] : []));
    if (had !== null) this.box.querySelector(`[data-mark="${CSS.escape(had)}"]`)?.focus({ preventScroll: true });
  }
  table(cls, heads, rows) {
    const head = node("tr", {}, ...heads.map(([words, tip]) => node("th", { scope: "col", title: tip }, words)));
    return node("table", { class: cls }, node("thead", {}, head), node("tbody", {}, ...rows));
  }
  marks(marks, units) {
    const rows = [];
    for (const m of marks) {
      const open = this.open.has(m.name), parts = m.sources.map((s) => `${s.name} ${s.lux[units]} (${s.share})`);
      const button = hush(node("button", { class: "lc-more", "aria-expanded": open, "data-mark": m.name, title: parts.join("\n") }, shape("svg", { width: 8, height: 8, viewBox: "0 0 8 8", class: "lc-turn" }, shape("path", { d: open ? "M0 1H8L4 7Z" : "M1 0V8L7 4Z" })), m.name));
      button.addEventListener("click", () => { open ? this.open.delete(m.name) : this.open.add(m.name); this.view.update(); });
      const cells = [m.lux[units], m.level, m.ratio, m.key_to_fill, m.ratio_stops, m.veil_share];
      rows.push(node("tr", { "data-name": m.name }, node("th", { scope: "row" }, button), ...cells.map((c) => node("td", {}, c))));
      if (open) rows.push(node("tr", { class: "lc-sources" }, node("td", { colspan: 7 }, ...parts.map((p) => node("span", {}, p)), node("span", {}, m.key ? `key: ${m.key}` : ""))));
    }
    return this.table("lc-marks", [["Mark", ""], ["Light", "Illuminance on the receptor"], ["Level", "Stops from middle grey"], ["Key + fill : fill", "Lighting ratio"], ["Key : fill", "The same without the fill on the key side"], ["Ratio", "Key + fill : fill, in stops"], ["Veil", "Share of haze in what the lens sees of a grey card there"]], rows);
  }
  spots(spots, units) {
    const rows = spots.map((s) => node("tr", { "data-name": s.name }, node("th", { scope: "row" }, s.name), node("td", {}, s.luminance[units]), node("td", {}, s.level), node("td", {}, s.source ? `${s.beam_over} (${s.source})` : "")));
    return this.table("lc-spots", [["Spot", ""], ["Luminance", "Seen from the camera, air included"], ["Level", "Stops from middle grey"], ["Beam over background", "Stops"]], rows);
  }
  targets(targets) {
    const rows = targets.map((t) => node("tr", { class: t.met ? "lc-met" : "lc-missed", "data-name": t.of }, node("th", { scope: "row" }, `${t.of} ${t.quantity}`), node("td", {}, `${t.wanted} ± ${t.within}`), node("td", {}, t.got), node("td", {}, verdict(t.met), t.verdict)));
    return this.table("lc-targets", [["Target", ""], ["Wanted", "Stops"], ["Got", "Stops"], ["", ""]], rows);
  }
}
function verdict(met) {
  return shape("svg", { width: 12, height: 12, viewBox: "0 0 12 12", class: "lc-verdict", "aria-hidden": "true" }, shape("path", { d: met ? "M2 6L5 9L10 3" : "M3 3L9 9M9 3L3 9" }));
}

// ---- sliders --------------------------------------------------------------------------------------------------------

class Sliders {
  constructor(view) {
    this.view = view; this.link = view.link;
    this.box = node("div", { class: "lc-slide" });
    this.rows = [];
  }
  build(place) {
    const key = JSON.stringify([place.sliders, place.things.map((t) => t.id), place.dark_stops]);
    if (key === this.built) return;
    this.built = key; this.rows = []; this.box.replaceChildren();
    for (const name of place.sliders) this.add(name === "haze" ? "haze" : `light:${name}`, name, place);
  }
  add(id, name, place) {
    const haze = id === "haze", field = haze ? "extinction_per_m" : "dim_stops", now = this.link.value(id)[field];
    const low = haze ? 0 : Math.min(place.dark_stops, Math.floor(now ?? 0)), high = haze ? Math.max(0.2, Math.ceil(20 * now) / 10) : 0;
    const input = hush(node("input", { type: "range", min: low, max: high, step: haze ? 0.001 : 0.1, "data-param": name, "aria-label": haze ? "haze, per metre" : `${name}, dim in stops` }));
    const out = node("output", {}), row = { id, field, input, out, low };
    let gesture = null;
    input.addEventListener("input", () => { gesture = gesture || this.link.gesture(); this.link.hold(id); this.link.move(gesture, id, { [field]: Number(input.value) }); });
    input.addEventListener("change", () => { gesture = null; this.link.release(); });
    const kids = [node("label", {}, haze ? "haze" : name), input, out];
    if (!haze) {
      row.on = hush(node("input", { type: "checkbox", "data-on": name, "aria-label": `${name} on` }));
      row.on.addEventListener("change", () => this.link.move(this.link.gesture(), id, { dim_stops: row.on.checked ? row.last ?? 0 : null }));
      kids.splice(1, 0, node("label", { class: "lc-on" }, row.on, "on"));
    } else kids.splice(1, 0, node("span"));
    this.rows.push(row);
    this.box.append(...kids);
  }
  update(shown, units) {
    for (const row of this.rows) {
      const v = this.link.value(row.id)[row.field];
      if (v !== null) row.last = v;
      if (row.on) row.on.checked = v !== null;
      const to = String(v === null ? row.low : v);
      if (v !== null && (v < Number(row.input.min) || v > Number(row.input.max))) row.input.setAttribute(v < 0 ? "min" : "max", v < 0 ? Math.floor(v) : Math.ceil(10 * v) / 10);
      if (Number(row.input.value) !== Number(to)) row.input.value = to;
      row.input.classList.toggle("lc-off", v === null);
      text(row.out, row.on ? (v === null ? "off" : `${minus(v.toFixed(1)).replace("\u22120.0", "0.0")} stops`) : `${v.toFixed(3)} /m, ${this.sight(v, units)}`);
      row.input.setAttribute("aria-valuetext", row.out.textContent);
    }
  }
  // Koschmieder: a black target is lost where its contrast falls to the kernel's own threshold.
  sight(perMetre, units) {
    if (!(perMetre > 0)) return "clear air";
    const far = this.link.model.get("place").sight_log / perMetre / (units === "feet" ? FT : 1);
    return `sees ${far >= 99.5 ? far.toFixed(0) : far.toPrecision(2)} ${units === "feet" ? "ft" : "m"}`;
  }
}

// ---- the picture -------------------------------------------------------------------------------------------------------

class Picture {
  constructor(view) {
    this.view = view;
    this.canvas = node("canvas", { class: "lc-canvas", role: "img", "aria-label": "What the camera sees, in luminance" });
    this.draft = node("span", { class: "lc-draft" }, "settling");
    this.caption = node("span", { class: "lc-exposure" });
    this.point = node("span", { class: "lc-point" });
    this.key = node("span", { class: "lc-key" });
    this.banded = false;
    this.toggle = hush(node("button", { class: "lc-button lc-small", "aria-pressed": "false", title: "Colour the picture in whole stops from middle grey, with a line where one ends" }, "whole stops"));
    this.toggle.addEventListener("click", () => { this.banded = !this.banded; this.toggle.setAttribute("aria-pressed", this.banded); this.drawn = null; this.view.update(); });
    this.box = node("div", { class: "lc-cam" }, node("div", { class: "lc-screen" }, this.canvas, this.draft), node("div", { class: "lc-caption" }, this.caption, this.key, this.point, this.toggle));
    this.canvas.addEventListener("pointermove", (e) => { this.hover = [e.offsetX / this.canvas.clientWidth, e.offsetY / this.canvas.clientHeight]; this.read(); });
    this.canvas.addEventListener("pointerleave", () => { this.hover = null; this.read(); });
  }
  update(model, shown, units) {
    const frame = model.get("frame"), [w, h] = shown.size;
    this.levels = model.get("levels"); this.size = shown.size;
    const banded = this.banded && this.levels.byteLength === 2 * w * h;
    if ((frame !== this.frame || banded !== this.drawn) && frame.byteLength === 4 * w * h) {
      this.frame = frame; this.drawn = banded;
      if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; }
      this.canvas.style.aspectRatio = `${w} / ${h}`;
      const bytes = banded ? this.bands(model.get("place").bands, w, h) : new Uint8ClampedArray(frame.buffer, frame.byteOffset, frame.byteLength);
      this.canvas.getContext("2d").putImageData(new ImageData(bytes, w, h), 0, 0);
    }
    text(this.caption, this.banded ? "" : `${shown.exposure}; middle grey at ${shown.reference[units]}`);
    this.showKey(this.banded ? model.get("place").bands : []);
    this.read();
  }
  // Whole stops in colour; a dark line where one ends, a heavier one at middle grey. At rest only: a draft stays grey.
  bands(bands, w, h) {
    const rgb = bands.map(([, hex]) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16))), first = bands[0][0];
    const step = new Int8Array(w * h), out = new Uint8ClampedArray(4 * w * h);
    for (let i = 0; i < w * h; i++) step[i] = clamp(Math.floor(this.levels.getInt16(2 * i, true) / 100) - first, 0, rgb.length - 1);
    const grey = -first; // the band that starts at middle grey
    for (let y = 0, i = 0; y < h; y++) for (let x = 0; x < w; x++, i++) {
      const s = step[i], edge = (x + 1 < w && step[i + 1] !== s) || (y + 1 < h && step[i + w] !== s);
      const middle = [-1, 1, -w, w].some((d) => step[i + d] !== undefined && step[i + d] >= grey !== s >= grey);
      const [r, g, b] = edge || middle ? [0, 0, 0] : rgb[s];
      out[4 * i] = r; out[4 * i + 1] = g; out[4 * i + 2] = b; out[4 * i + 3] = 255;
    }
    return out;
  }
  showKey(bands) {
    if (this.keyed === bands) return;
    this.keyed = bands;
    this.key.replaceChildren(...bands.map(([from, hex], i) => {
      const words = i === 0 ? `under ${minus(String(from + 1))}` : i === bands.length - 1 ? `over +${from}` : `${minus(String(from))} to ${minus(String(from + 1))}`;
      return node("span", { class: "lc-swatch", style: `background:${hex}`, title: `${words} stops` }, i === 0 || i === bands.length - 1 ? "" : from > 0 ? `+${from}` : minus(String(from)));
    }));
  }
  // The level under the pointer, once the final picture is there.
  read() {
    const [w, h] = this.size || [0, 0];
    if (!this.hover || !this.levels || this.levels.byteLength !== 2 * w * h) return text(this.point, this.hover ? "settling" : "");
    const i = clamp(Math.floor(this.hover[1] * h), 0, h - 1) * w + clamp(Math.floor(this.hover[0] * w), 0, w - 1);
    const n = this.levels.getInt16(2 * i, true) / 100, words = Math.abs(n).toFixed(1);
    text(this.point, n < -320 ? "here: no light" : `here: ${words === "0.0" ? "" : n < 0 ? "\u2212" : "+"}${words} stops`);
  }
}

// ---- one view of the model --------------------------------------------------------------------------------------------------

class View {
  constructor(model, el, link) {
    this.model = model; this.link = link;
    const parts = model.get("place").parts, has = (name) => parts.includes(name);
    this.root = node("div", { class: "lc-stage" });
    this.buildBar(has);
    this.entry = new Entry(this);
    if (has("plan")) this.plan = new Plan(this);
    if (has("picture")) this.picture = new Picture(this);
    if (has("ladder")) this.ladder = new Ladder(this);
    if (has("readings")) this.table = new Table(this);
    this.sliders = new Sliders(this);
    this.top = node("div", { class: "lc-top" }, ...[this.plan, this.picture].filter(Boolean).map((p) => p.box));
    this.low = node("div", { class: "lc-low" }, ...(this.table ? [this.table.box] : []), node("div", { class: "lc-hands" }, this.sliders.box, ...(this.table ? [this.table.wanted] : [])));
    this.root.append(this.bar, this.gone, this.top);
    if (this.plan) this.root.append(this.entry.box);
    if (this.ladder) this.root.append(this.ladder.box);
    this.root.append(this.low);
    this.root.addEventListener("keydown", (e) => this.shortcut(e));
    el.append(this.root);
    this.entry.build(null);
    link.views.add(this);
    this.watcher = new ResizeObserver(() => { if (Math.abs(this.root.clientWidth - (this.width || 0)) > 1) this.update(); });
    this.watcher.observe(this.root);
    this.update();
  }
  close() {
    this.link.views.delete(this); this.watcher.disconnect();
    this.link.release(); // a view may be closed under the hand
  }
  get feet() { return this.model.get("units") === "feet"; }
  num(metres, digits = 2) { return minus((this.feet ? metres / FT : metres).toFixed(digits)); }
  len(metres) { return `${this.num(metres)} ${this.feet ? "ft" : "m"}`; }

  buildBar() {
    const button = (words, does, tip) => { const b = hush(node("button", { class: "lc-button", title: tip }, words)); b.addEventListener("click", does); return b; };
    this.title = node("span", { class: "lc-title" });
    this.status = node("span", { class: "lc-status", role: "status" });
    this.notice = node("span", { class: "lc-notice", role: "status" });
    this.undo = button("Undo", () => this.link.step(-1), "Ctrl+Z");
    this.redo = button("Redo", () => this.link.step(1), "Ctrl+Shift+Z");
    this.unit = button("", () => { this.model.set("units", this.feet ? "metric" : "feet"); this.model.save_changes(); this.link.tell(); }, "Switch units");
    this.save = button("Save to shoot file", () => this.link.save(), "Write these places and settings back to the file");
    this.gone = node("div", { class: "lc-gone", role: "alert" }, "The kernel that made this stage is gone: nothing here will change. Run its cell again.");
    this.bar = node("div", { class: "lc-bar" }, this.title, this.status, this.notice, node("span", { class: "lc-buttons" }, this.undo, this.redo, this.unit, this.save));
  }
  select(id) {
    if (!this.plan || this.plan.selected === id) return;
    this.plan.selected = id;
    this.entry.build(id);
    this.plan.update(false);
  }
  shortcut(e) {
    if (!(e.ctrlKey || e.metaKey) || e.altKey) return;
    const k = e.key.toLowerCase();
    if (k !== "z" && k !== "y") return;
    e.preventDefault(); e.stopPropagation();
    this.link.step(k === "y" || e.shiftKey ? 1 : -1);
  }
  update() {
    const { model, link } = this, shown = model.get("shown"), units = model.get("units"), place = model.get("place");
    if (!shown || !shown.size) return;
    this.width = this.root.clientWidth || 900;
    // Python may have put another setup on the stage, without what was chosen here.
    if (this.plan?.selected && !place.things.some((thing) => thing.id === this.plan.selected)) { this.plan.selected = null; this.entry.build(null); }
    this.updateBar(shown, place);
    if (this.plan) this.updatePlan(link);
    if (this.unitsShown !== units) { this.unitsShown = units; this.entry.build(this.plan ? this.plan.selected : null); }
    this.entry.update();
    this.picture?.update(model, shown, units);
    this.ladder?.update(shown, this.ladder.box.clientWidth || this.width);
    this.table?.update(shown, units);
    this.sliders.build(place);
    this.sliders.update(shown, units);
  }
  updateBar(shown, place) {
    text(this.title, place.title);
    const settled = this.link.settled;
    this.root.classList.toggle("lc-settling", !settled);
    this.root.classList.toggle("lc-soft-numbers", !this.link.final("readings"));
    this.root.classList.toggle("lc-soft-picture", !this.link.final("picture"));
    this.root.classList.toggle("lc-dead", this.link.gone);
    this.root.setAttribute("data-settled", settled);
    text(this.status, this.link.silent ? "no answer from the kernel yet" : settled ? "settled" : "settling…");
    text(this.notice, shown.notice);
    this.undo.disabled = !shown.undo && !this.link.busy; this.redo.disabled = !shown.redo;
    text(this.unit, `Units: ${this.feet ? "feet, foot-candles" : "metres, lux"}`);
    this.save.hidden = !shown.save;
  }
  updatePlan(link) {
    const width = Math.floor(this.plan.box.clientWidth) || 440;
    // as high as the picture beside it
    const high = clamp(Math.round(width * (this.picture ? 0.5625 : 0.66)), 240, 470), still = !link.held;
    if (!this.plan.svg || (still && (this.plan.built !== this.plan.stamp(width, high) || !this.plan.fits()))) {
      this.plan.built = this.plan.stamp(width, high);
      this.plan.build(width, high);
    } else this.plan.update(still && link.settled);
  }
}

export default () => {
  const link = new Link(); // per model: two views of it share what is in flight
  return {
    initialize({ model }) { link.join(model); },
    render({ model, el }) {
      link.join(model);
      const view = new View(model, el, link);
      return () => view.close();
    },
  };
};
