// ---- geometry ------------------------------------------------------------------------------------------------

// What a drawing shows: the room's axes to its right and upwards, and the way one looks. Axes: 0 x, 1 y, 2 z.
const SIGHTS = {
  plan: { axes: [0, 1], into: [0, 0, -1], words: "plan", tip: "From above, to scale" },
  near: { axes: [0, 2], into: [0, 1, 0], words: "heights along x", tip: "Seen from the near side: x to the right, heights upwards, to scale" },
  right: { axes: [1, 2], into: [-1, 0, 0], words: "along y", tip: "Seen from the right side: y to the right, heights upwards, to scale" },
};
const WALLS = { left: [0, 0], right: [0, 1], near: [1, 0], far: [1, 1] }; // the axis square to the wall; which end of it
const AXIS = ["x", "y", "z"];

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
// Convex hull of points on a drawing (Andrew's monotone chain).
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
// The outline of an ellipsoid on a drawing: its half axes as they project, a, b and c, add up like variances.
function ellipse(half) {
  const sum = (i, j) => half.reduce((total, h) => total + h[i] * h[j], 0), xx = Math.sqrt(Math.max(sum(0, 0), 1e-12)), xy = sum(0, 1) / xx;
  const yy = Math.sqrt(Math.max(sum(1, 1) - xy * xy, 0));
  return Array.from({ length: 32 }, (_, k) => (k * Math.PI) / 16).map((t) => [xx * Math.cos(t), xy * Math.cos(t) + yy * Math.sin(t)]);
}
// A window in the room: its corners, its middle, and the direction that points outside.
function opening(win, size) {
  const [normal, side] = WALLS[win.wall], along = 1 - normal, out = [0, 0, 0];
  const at = (s, z) => { const p = [0, 0, z]; p[normal] = side * size[normal]; p[along] = s; return p; };
  out[normal] = side ? 1 : -1;
  const a = win.centre_m - win.width_m / 2, b = win.centre_m + win.width_m / 2, top = win.sill_m + win.height_m;
  return { normal, along, out, corners: [at(a, win.sill_m), at(b, win.sill_m), at(b, top), at(a, top)], middle: at(win.centre_m, (win.sill_m + top) / 2) };
}

// ---- one drawing to scale: the plan, or heights seen from one side ------------------------------------------------

class Drawing {
  constructor(view) {
    this.view = view; this.link = view.link;
    this.sheet = node("div", { class: "lc-sheetbox" });
    this.readout = node("span", { class: "lc-readout" });
    this.choice = node("span", { class: "lc-choice", role: "group", "aria-label": "Seen from" });
    this.box = node("div", { class: "lc-plan" }, node("div", { class: "lc-strip" }, this.choice, this.readout), this.sheet);
    this.sights = [];
  }
  // Which sights a person may choose from here; one alone needs no switch.
  offer(sights) {
    if (String(sights) === String(this.sights)) return;
    this.sights = sights;
    if (!sights.includes(this.sight)) this.sight = sights[0];
    this.choice.replaceChildren(...sights.map((name) => {
      const words = name === "right" && sights.includes("near") ? SIGHTS.right.words : SIGHTS[name].words;
      const b = hush(node("button", { class: "lc-button lc-small", "data-sight": name, title: SIGHTS[name].tip }, words));
      b.addEventListener("click", () => { this.sight = name; this.view.update(); });
      return b;
    }));
  }
  get place() { return this.link.model.get("place"); }
  get feet() { return this.link.model.get("units") === "feet"; }
  get axes() { return SIGHTS[this.sight].axes; }
  get upright() { return this.axes[1] === 2; }
  flat(p) { return [p[this.axes[0]], p[this.axes[1]]]; }
  window(id) { return { ...this.place.windows.find((w) => `window:${w.name}` === id), ...this.link.value(id) }; }

  // All of a room, or the part of open ground that is used, and everything that stands somewhere; aim points
  // and spots only as far as they are near.
  extent() {
    const [a, b] = this.axes, { room, things, size } = this.place, [w, d] = [size[a], size[b]];
    const near = room ? Math.max(2, 0.25 * Math.max(w, d)) : 6;
    const places = things.filter((thing) => thing.kind !== "window").map((thing) => [thing.kind, this.link.value(thing.id)]);
    const stand = places.filter(([kind]) => kind !== "spot").map(([, v]) => this.flat(v.at));
    const span = (points) => [0, 1].map((i) => Math.min(...points.map((p) => p[i]))).concat([0, 1].map((i) => Math.max(...points.map((p) => p[i]))));
    const core = room ? [0, 0, w, d] : span(this.upright ? [...stand, [stand[0][0], 0], [stand[0][0], 2.5]] : stand);
    const held = (p) => [0, 1].map((i) => clamp(p[i], i && this.upright ? 0 : core[i] - near, core[i + 2] + near));
    const far = (p) => [0, 1].map((i) => clamp(p[i], core[i] - 60, core[i + 2] + 60));
    const box = span([core.slice(0, 2), core.slice(2), ...stand.map(far), ...places.filter(([kind]) => kind === "spot").map(([, v]) => held(this.flat(v.at))), ...places.filter(([, v]) => v.aim).map(([, v]) => held(this.flat(v.aim)))]);
    const m = Math.max(0.04 * Math.max(box[2] - box[0], box[3] - box[1]), room ? 0.2 : this.upright ? 0.5 : 1);
    return [box[0] - m, box[1] - m, box[2] + m, box[3] + m];
  }
  stamp(width, high) { return JSON.stringify([width, high, this.place, this.feet, this.sight]); }
  // Rescale only when something left the drawing, or it has become much too big.
  fits() {
    const a = this.extent(), b = this.core, area = (r) => (r[2] - r[0]) * (r[3] - r[1]), slip = 0.035 * Math.max(b[2] - b[0], b[3] - b[1]);
    return a[0] >= b[0] - slip && a[1] >= b[1] - slip && a[2] <= b[2] + slip && a[3] <= b[3] + slip && area(b) < 1.5 * area(a);
  }
  show(width, high, still, rest) {
    for (const b of this.choice.children) set(b, "aria-pressed", b.dataset.sight === this.sight);
    this.choice.hidden = this.sights.length < 2;
    if (!this.svg || (still && (this.built !== this.stamp(width, high) || !this.fits()))) {
      this.built = this.stamp(width, high);
      this.build(width, high);
    } else this.update(rest);
  }

  build(width, high) {
    const kept = this.box.contains(document.activeElement) ? document.activeElement.getAttribute("data-key") : null;
    const left = 26, bottom = 20, edge = 4, [x0, y0, x1, y1] = (this.core = this.extent());
    this.scale = Math.min((width - left - edge) / (x1 - x0), (high - bottom - edge) / (y1 - y0));
    // the grid fills what the scale leaves over; heights grow upwards only
    const more = [(width - left - edge) / this.scale - (x1 - x0), (high - bottom - edge) / this.scale - (y1 - y0)].map((n) => Math.max(0, n / 2));
    this.bounds = [x0 - more[0], y0 - (this.upright ? 0 : more[1]), x1 + more[0], y1 + (this.upright ? 2 : 1) * more[1]];
    this.size = [width, high]; this.left = left; this.top = edge;
    const words = this.upright ? `Heights along ${AXIS[this.axes[0]]}, to scale` : "Plan, to scale";
    this.svg = shape("svg", { class: "lc-svg", width, height: high, viewBox: `0 0 ${width} ${high}`, role: "group", "aria-label": words, "data-sight": this.sight });
    const clip = (this.clipId = `lc-clip-${this.link.client}-${Math.random().toString(36).slice(2, 8)}`);
    const room = this.rect([0, 0, ...this.flat(this.place.size)]);
    this.svg.append(shape("clipPath", { id: clip }, shape("rect", room)), shape("clipPath", { id: clip + "b" }, shape("rect", this.rect(this.bounds))));
    this.drawGrid();
    this.layer({ "clip-path": `url(#${clip}b)` }).append(shape("rect", { ...room, class: this.upright ? "lc-space" : "lc-floor" }));
    this.shafts = this.layer({ "clip-path": this.place.room ? `url(#${clip})` : `url(#${clip}b)` });
    this.approaches = this.layer({ "clip-path": `url(#${clip}b)` });
    this.wedges = this.layer({ "clip-path": `url(#${clip}b)` });
    this.drawWalls(room);
    this.lands = this.layer({ "clip-path": `url(#${clip}b)` }); // over the walls: light on a wall is seen edge on
    this.tapes = this.layer({ class: "lc-tapes" });
    this.parts = {};
    const panes = this.layer({}), lines = this.layer({}), items = this.layer({}), aims = this.layer({});
    this.labels = this.layer({ class: "lc-labels" });
    this.dims = this.layer({ class: "lc-dims" });
    const order = { window: -1, board: 0, frame: 0, flag: 0, piece: -0.5, spot: 1, camera: 2, mark: 3, light: 4 };
    for (const thing of [...this.place.things].sort((a, b) => order[a.kind] - order[b.kind])) thing.kind === "window" ? this.drawWindow(thing, panes) : this.drawThing(thing, lines, items, aims);
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
    if (this.place.room || !this.upright) walls.append(shape("rect", room));
    else walls.append(shape("line", { class: "lc-ground", x1: this.left, x2: this.size[0], y1: this.px([0, 0])[1], y2: this.px([0, 0])[1] }));
    this.sunLayer = this.layer({ class: "lc-sun" });
  }
  updateSun() {
    const { to, words } = this.link.value("sun"), key = JSON.stringify(to);
    if (this.sunDrawn === this.sunLayer && this.sunKey === key) return;
    this.sunDrawn = this.sunLayer; this.sunKey = key;
    this.sunLayer.replaceChildren();
    if (!to || Math.hypot(...this.flat(to)) < 1e-6 || (this.upright && to[2] < 0)) return;
    const mid = this.flat(this.place.size).map((n) => n / 2), long = Math.hypot(...this.flat(to)), u = this.flat(to).map((n) => n / long);
    // where the line from the middle of the room to the sun leaves the drawing
    const reach = Math.min(...[0, 1].map((i) => (u[i] > 0 ? (this.bounds[i + 2] - mid[i]) / u[i] : u[i] < 0 ? (this.bounds[i] - mid[i]) / u[i] : 1e9)));
    const [x, y] = this.px([mid[0] + (reach - 14 / this.scale) * u[0], mid[1] + (reach - 14 / this.scale) * u[1]]);
    const g = shape("g", { transform: `translate(${x} ${y})` }, shape("title", {}, words));
    g.append(shape("circle", { r: 6 }), shape("path", { d: "M8 0H22M17 -4L22 0L17 4", transform: `rotate(${(Math.atan2(u[1], -u[0]) * 180) / Math.PI})` }));
    this.sunLayer.append(g);
  }

  // ---- beams, cut by walls, windows and what stands in the way: the kernel's pieces, as they project
  updateBeams() {
    const beams = this.link.model.get("values").beams;
    if (this.beamsDrawn !== this.shafts || this.beamsKept !== beams) {
      this.beamsDrawn = this.shafts; this.beamsKept = beams; this.beams = {};
      for (const layer of [this.shafts, this.approaches, this.lands]) layer.replaceChildren();
      for (const [id, beam] of Object.entries(beams)) this.drawBeam(id, beam);
    }
    for (const [id, groups] of Object.entries(this.beams)) for (const g of groups) g.classList.toggle("lc-stale", this.stale(id));
  }
  drawBeam(id, { wide, air, approach, lands, dark }) {
    const beside = approach.filter(([wall]) => this.axes.includes(WALLS[wall][0])).map(([, points]) => points);
    const put = (layer, cls, pieces, dark = []) => { // one figure: strokes under the fill leave its outline only
      const d = this.cover(pieces), g = d && shape("g", { class: `lc-beam ${cls}`, "data-source": id }, shape("path", { d, class: "lc-rim" }), shape("path", { d, class: "lc-light-fill" }));
      if (g && dark.length) g.append(shape("path", { d: this.cover(dark), class: "lc-dark" })); // what people and furniture stand in
      if (g) { layer.append(g); (this.beams[id] ||= []).push(g); }
    };
    put(this.approaches, "lc-approach", beside);
    put(this.shafts, wide ? "lc-air lc-wide" : "lc-air", air);
    const floor = (pieces) => pieces.filter(([surface]) => surface !== "ceiling").map(([, points]) => points);
    put(this.lands, "lc-lands", floor(lands), floor(dark));
  }
  // What convex pieces cover together; pieces that are seen edge on are lines.
  cover(pieces) {
    const outlines = pieces.map((points) => hull(points.map((p) => this.px(this.flat(p)).map((n) => Number(n.toFixed(1))))));
    return outlines.map((points) => `M${points.map((p) => p.join(" ")).join("L")}Z`).join("");
  }
  // Whether a lamp is no longer where it stood when its beam was found.
  stale(id) {
    const { of } = this.link.model.get("values").beams[id] || { of: {} }, v = this.link.value(id);
    return Object.keys(of).some((field) => JSON.stringify(of[field]) !== JSON.stringify(v[field]));
  }

  // ---- windows: a gap where the wall is seen edge on, a rectangle where it is faced
  drawWindow(thing, into) {
    const part = (this.parts[thing.id] = { thing }), names = { "data-id": thing.id, "data-name": thing.name, "data-key": thing.id };
    part.g = hush(shape("g", { class: "lc-item lc-window", ...names, tabindex: 0, role: "button", "aria-roledescription": "movable window" }));
    part.tip = shape("title");
    part.body = shape("g", { class: "lc-body" });
    part.g.append(part.tip, part.body);
    part.label = shape("text", { class: "lc-label" });
    this.labels.append(part.label);
    into.append(part.g);
    this.listen(part.g, thing.id, "middle");
  }
  updateWindow(id, part) {
    const win = this.window(id), { normal, out, corners: four, middle } = opening(win, this.place.size), chosen = id === this.view.selected;
    const words = `window ${win.name}: middle ${this.view.len(win.centre_m)} along the ${win.wall} wall, sill ${this.view.len(win.sill_m)} up`;
    part.at = this.px(this.flat(middle));
    part.g.classList.toggle("lc-chosen", chosen);
    set(part.g, "aria-label", words);
    text(part.tip, words);
    text(part.label, chosen ? win.name : "");
    const key = JSON.stringify(win);
    if (part.drawn === key) return;
    part.drawn = key;
    const [x0, y0, x1, y1] = [0, 1].map((i) => Math.min(...four.map((c) => this.flat(c)[i]))).concat([0, 1].map((i) => Math.max(...four.map((c) => this.flat(c)[i]))));
    const edgeOn = this.axes.includes(normal), box = this.rect([x0, y0, x1, y1]);
    part.body.replaceChildren(...(edgeOn ? this.gap(win, box, this.flat(out)) : this.pane(win, box, out)));
  }
  gap(win, { x, y, width, height }, [ox, oy]) {
    const long = ox ? [[x, y], [x, y + height]] : [[x, y], [x + width, y]], [[x1, y1], [x2, y2]] = long, bars = this.upright ? win.bars[1] : win.bars[0];
    const kids = [shape("line", { x1, y1, x2, y2, class: "lc-hitline" }), shape("line", { x1, y1, x2, y2, class: "lc-gap" })];
    for (const off of [-2.5, 2.5]) kids.push(shape("line", { x1: x1 + off * ox, x2: x2 + off * ox, y1: y1 - off * oy, y2: y2 - off * oy }));
    for (let i = 1; i <= bars; i++) {
      // bars evenly spaced inside the opening
      const share = i / (bars + 1), bx = x1 + share * (x2 - x1), by = y1 + share * (y2 - y1);
      kids.push(shape("line", { x1: bx - 5 * ox, x2: bx + 5 * ox, y1: by + 5 * oy, y2: by - 5 * oy, class: "lc-bar-tick", style: `stroke-width:${Math.max(1.5, win.bar_m * this.scale)}` }));
    }
    return [...kids, shape("rect", { class: "lc-ring", x: x - 5, y: y - 5, width: width + 10, height: height + 10 })];
  }
  pane(win, box, out) {
    const behind = out[0] * SIGHTS[this.sight].into[0] + out[1] * SIGHTS[this.sight].into[1] < 0; // on the wall that one looks through
    const kids = [shape("rect", { ...box, class: behind ? "lc-pane lc-through" : "lc-pane" })], thick = Math.max(1, win.bar_m * this.scale);
    for (let i = 1; i <= win.bars[0]; i++) kids.push(shape("line", { x1: box.x + (i / (win.bars[0] + 1)) * box.width, x2: box.x + (i / (win.bars[0] + 1)) * box.width, y1: box.y, y2: box.y + box.height, class: "lc-bar-tick", style: `stroke-width:${thick}` }));
    for (let i = 1; i <= win.bars[1]; i++) kids.push(shape("line", { x1: box.x, x2: box.x + box.width, y1: box.y + (i / (win.bars[1] + 1)) * box.height, y2: box.y + (i / (win.bars[1] + 1)) * box.height, class: "lc-bar-tick", style: `stroke-width:${thick}` }));
    return [...kids, shape("rect", { class: "lc-ring", x: box.x - 3, y: box.y - 3, width: box.width + 6, height: box.height + 6 })];
  }
  // What is far off stands on the edge.
  onSheet([x, y]) { return [clamp(x, this.left + 8, this.size[0] - 12), clamp(y, this.top + 8, this.size[1] - 28)]; }
}
