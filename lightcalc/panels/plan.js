// ---- what stands in a drawing, and the hands on it --------------------------------------------------------------

const ROLLS = ["board", "frame", "flag"];

class Plan extends Drawing {
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
      part.aim = this.handle("aim", thing, "movable aim point", shape("circle", { class: "lc-aimdot", r: 4.5 }), shape("path", { class: "lc-aimcross", d: "M-8 0H8M0 -8V8" }));
      aims.append(part.aim);
    }
    if (ROLLS.includes(kind) || (kind === "light" && v.width_m > 0)) {
      part.roll = this.handle("roll", thing, "roll handle", shape("path", { class: "lc-rolldot", d: "M-5 -1A5.5 5.5 0 1 1 -2 4.6M-5 -1L-7.5 2.5M-5 -1L-1.5 1" }));
      aims.append(part.roll);
    }
    if (kind === "camera" || thing.beam_deg) {
      part.wedge = shape("path", { class: `lc-wedge lc-${kind}` });
      this.wedges.append(part.wedge);
    }
  }
  handle(field, { id, kind }, role, ...shapes) {
    const g = hush(shape("g", { class: `lc-${field} lc-${kind}`, "data-id": id, "data-key": `${id}>${field}`, tabindex: -1, role: "button", "aria-roledescription": role }));
    g.append(shape("circle", { class: "lc-hit", r: 12 }), ...shapes);
    this.listen(g, id, field);
    return g;
  }
  facing(v) {
    const [a, b] = [this.flat(v.at), this.flat(v.aim)];
    return Math.atan2(-(b[1] - a[1]), b[0] - a[0]); // on the screen, where y runs down
  }
  drawBody(part, v) {
    const { kind, figure } = part.thing, b = part.body, s = this.scale, turn = v.aim ? (this.facing(v) * 180) / Math.PI : 0;
    const solid = this.link.model.get("values").solids[part.thing.id];
    const key = JSON.stringify([s, this.sight, solid, turn, v.width_m, v.height_m, v.roll_deg, v.dim_stops === null, v.at, v.aim]);
    if (part.drawn === key) return;
    part.drawn = key; b.replaceChildren();
    const turned = (d, cls = "") => shape("path", { d, class: cls, transform: `rotate(${turn})` });
    const sheet = () => {
      const here = this.px(this.flat(v.at)), pts = hull(corners(v.at, v.aim, v.width_m, v.height_m, v.roll_deg).map((c) => this.px(this.flat(c)))).map((p) => [p[0] - here[0], p[1] - here[1]]);
      return shape("path", { d: `M${pts.map((p) => p.map((n) => n.toFixed(1)).join(" ")).join("L")}Z`, class: "lc-sheet" });
    };
    if (kind === "light") {
      if (v.width_m > 0) b.append(sheet());
      b.append(turned("M3 -3.5L11 -6V6L3 3.5Z"), shape("circle", { r: 6 }));
      if (v.dim_stops === null) b.append(shape("path", { d: "M-5 -5L5 5M-5 5L5 -5", class: "lc-offcross" }));
      part.g.classList.toggle("lc-off", v.dim_stops === null);
    } else if (kind === "camera") b.append(turned("M-10 -6H3V6H-10Z"), turned("M4 0L11 -6V6Z"));
    else if (kind === "mark") {
      if (figure) b.append(this.solid(solid));
      b.append(...(figure ? [turned("M4 -5L11 0L4 5Z"), shape("circle", { r: 6.5 })] : [shape("path", { d: "M-7 0H7M0 -7V7", class: "lc-cross" }), turned("M8 -4L13 0L8 4", "lc-cross")]));
    } else if (kind === "piece") b.append(this.solid(solid), turned("M0 0H9M6 -3L9 0L6 3", "lc-facing"));
    else if (kind === "spot") b.append(shape("path", { d: "M0 -6L6 0L0 6L-6 0Z" }));
    else b.append(sheet(), turned("M0 0H9M6 -3L9 0L6 3", "lc-facing"));
  }

  // What a person or a piece of furniture is made of, about its own place.
  solid({ at, parts }) {
    const outlines = parts.map(({ ball, middle, half }) => {
      const [x, y] = this.flat(middle.map((n, i) => n - at[i])), flat = half.map((h) => this.flat(h));
      const box = [0, 1, 2, 3, 4, 5, 6, 7].map((k) => [0, 1].map((i) => flat.reduce((total, h, j) => total + ((k >> j) & 1 ? h[i] : -h[i]), 0)));
      return hull(ball ? ellipse(flat) : box).map(([a, b]) => [(x + a) * this.scale, -(y + b) * this.scale]);
    });
    return shape("path", { class: "lc-solid", d: outlines.map((points) => `M${points.map((p) => p.map((n) => n.toFixed(1)).join(" ")).join("L")}Z`).join("") });
  }

  // The first call after a build, and every call at rest, also lays out the labels.
  update(rest) {
    const marks = this.place.things.filter((t) => t.kind === "mark");
    this.updateSun();
    this.updateBeams();
    for (const [id, part] of Object.entries(this.parts)) part.thing.kind === "window" ? this.updateWindow(id, part) : this.updateThing(id, part);
    this.updateTapes(marks);
    this.updateDims();
    if (rest) this.layLabels();
    for (const [id, part] of Object.entries(this.parts)) this.putLabel(id, part);
  }
  updateThing(id, part) {
    const v = this.link.value(id), { thing } = part, chosen = id === this.view.selected;
    const [x, y] = (part.at = this.onSheet(this.px(this.flat(v.at))));
    const put = (g, [gx, gy], label) => {
      set(g, "transform", `translate(${gx.toFixed(1)} ${gy.toFixed(1)})`);
      g.classList.toggle("lc-chosen", chosen);
      set(g, "aria-label", label);
      if (g !== part.g) set(g, "tabindex", chosen ? 0 : -1);
    };
    const where = (p, word) => `${thing.name}${word} x ${this.view.len(p[0])}, y ${this.view.len(p[1])}, ${this.view.len(p[2])} up`;
    put(part.g, [x, y], where(v.at, ":"));
    this.drawBody(part, v);
    text(part.tip, thing.note ? `${where(v.at, ":")} (${thing.note})` : where(v.at, ":"));
    text(part.label, `${thing.name} ↑${this.view.num(v.at[2], 1)}`);
    if (part.aim) {
      const [ax, ay] = this.onSheet(this.px(this.flat(v.aim)));
      put(part.aim, [ax, ay], where(v.aim, " faces"));
      for (const [k, n] of Object.entries({ x1: x, y1: y, x2: ax, y2: ay })) set(part.line, k, n.toFixed(1));
      part.line.classList.toggle("lc-chosen", chosen);
    }
    if (part.roll) {
      const turn = this.rollBase(v) + (this.rollSign(v) * v.roll_deg * Math.PI) / 180;
      put(part.roll, [x + 30 * Math.cos(turn), y + 30 * Math.sin(turn)], `${thing.name} rolled ${minus(String(v.roll_deg))}°`);
    }
    if (part.wedge) set(part.wedge, "d", this.wedge(thing, v));
  }
  // A roll is drawn as a dial about the thing, clockwise as seen from behind it, starting square to its aim.
  rollBase(v) { return this.facing(v) - Math.PI / 2; }
  rollSign(v) {
    const into = SIGHTS[this.sight].into, dot = [0, 1, 2].reduce((sum, i) => sum + into[i] * (v.aim[i] - v.at[i]), 0);
    return dot >= -1e-6 ? 1 : -1;
  }
  // Edges of what the camera sees, or of a beam out to its aim while the hand is ahead of the kernel's own, as they project.
  wedge(thing, v) {
    if (thing.kind === "light" && (v.dim_stops === null || !this.stale(thing.id))) return "";
    const at = this.flat(v.at), aim = this.flat(v.aim), reach = apart(v.at, v.aim), flat = Math.hypot(aim[0] - at[0], aim[1] - at[1]);
    if (flat < 0.02 * reach || reach < 1e-6) return "";
    let ends;
    if (thing.kind === "light") {
      // the cut through the axis: square to the beam on the drawing is square to it in the room
      const half = (reach / flat) * Math.tan((thing.beam_deg * Math.PI) / 360), side = [-(aim[1] - at[1]) * half, (aim[0] - at[0]) * half];
      ends = [[aim[0] - side[0], aim[1] - side[1]], [aim[0] + side[0], aim[1] + side[1]]];
    } else {
      const [r, u, f] = basis(v.at, v.aim), w = v.sensor_width_mm / (2 * v.focal_mm), h = v.sensor_height_mm / (2 * v.focal_mm), mid = Math.atan2(...this.flat(f).reverse());
      const rays = [[-w, -h], [w, -h], [w, h], [-w, h]].map(([a, b]) => this.flat(f.map((n, i) => n + a * r[i] + b * u[i])));
      const turns = rays.map((d) => { const t = Math.atan2(d[1], d[0]) - mid; return Math.atan2(Math.sin(t), Math.cos(t)); });
      if (Math.max(...turns.map(Math.abs)) > 1.5) return ""; // one looks along the lens
      ends = [Math.min(...turns), Math.max(...turns)].map((t) => [at[0] + 200 * Math.cos(mid + t), at[1] + 200 * Math.sin(mid + t)]);
    }
    return `M${[ends[0], at, ends[1]].map((p) => this.px(p).map((n) => n.toFixed(1)).join(" ")).join("L")}`;
  }

  // Tape measure: straight distances from what is chosen to the camera and to the nearest mark.
  updateTapes(marks) {
    const id = this.view.selected, part = id && this.parts[id];
    this.tapes.replaceChildren();
    if (!part) return this.say("");
    if (part.thing.kind === "window") return this.say(part.tip.textContent);
    const v = this.link.value(id), ends = [];
    if (id !== "camera") ends.push(["camera", this.link.value("camera").at]);
    const others = marks.filter((m) => m.id !== id).map((m) => [m.name, this.link.value(m.id).at]).sort((a, b) => apart(v.at, a[1]) - apart(v.at, b[1]));
    ends.push(...others.slice(0, 1));
    const [x1, y1] = this.px(this.flat(v.at));
    for (const [, to] of ends) {
      const [x2, y2] = this.px(this.flat(to));
      this.tapes.append(shape("line", { x1, y1, x2, y2 }));
    }
    const words = ends.map(([name, to]) => `to ${name} ${this.view.len(apart(v.at, to))}`);
    const faces = v.aim ? [`${this.view.len(apart(v.at, v.aim))} to what it faces`] : [];
    this.say(`${part.thing.name}: ${[...words, ...faces].join(", ")}`);
  }
  // Beside the plan it would only say the same again.
  say(words) { const said = this === this.view.drawings[0] ? words : ""; text(this.readout, said); this.readout.title = said; }
  // While something is dragged: its two lengths on this drawing, with lines to the sides they are taken from.
  updateDims() {
    const { drag } = this;
    if (!drag) { if (this.dims.firstChild) this.dims.replaceChildren(); return; }
    const v = this.link.value(drag.id), window = this.parts[drag.id].thing.kind === "window";
    const p = this.spot(drag.id, drag.field), [x, y] = this.px(p), [fx, fy] = this.px([0, 0]);
    const words = drag.field === "roll" ? `roll ${minus(String(v.roll_deg))}°` : window ? this.windowDims(drag.id) : [0, 1].map((i) => (this.axes[i] === 2 ? `↑ ${this.view.len(p[i])}` : `${AXIS[this.axes[i]]} ${this.view.len(p[i])}`)).join("   ");
    const w = wide(words, 12), right = x + 18 + w < this.size[0], above = y > 40;
    const lines = drag.field === "roll" ? [] : [shape("line", { x1: x, x2: fx, y1: y, y2: y }), shape("line", { x1: x, x2: x, y1: y, y2: fy })];
    this.dims.replaceChildren(...lines, shape("text", { x: clamp(right ? x + 16 : x - 16 - w, 2, this.size[0]), y: above ? y - 16 : y + 26 }, words));
  }
  windowDims(id) {
    const win = this.window(id), along = this.axes.includes(opening(win, this.place.size).along);
    return [along && `middle ${this.view.len(win.centre_m)}`, this.upright && `sill ${this.view.len(win.sill_m)}`].filter(Boolean).join("   ");
  }

  layLabels() {
    const taken = [[0, 0, this.left - 4, this.size[1]], [0, this.size[1] - 20, this.size[0], 20]]; // the numbers along two sides
    for (const part of Object.values(this.parts)) taken.push([part.at[0] - 9, part.at[1] - 9, 18, 18]);
    const wall = this.rect([0, 0, ...this.flat(this.place.size)]);
    for (const x of [wall.x, wall.x + wall.width]) taken.push([x - 3, wall.y, 6, wall.height]);
    for (const y of [wall.y, wall.y + wall.height]) taken.push([wall.x, y - 3, wall.width, 6]);
    const over = (a, b) => Math.max(0, Math.min(a[0] + a[2], b[0] + b[2]) - Math.max(a[0], b[0])) * Math.max(0, Math.min(a[1] + a[3], b[1] + b[3]) - Math.max(a[1], b[1]));
    for (const [id, part] of Object.entries(this.parts)) {
      if (!part.label.textContent) continue;
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
    set(part.label, "x", (part.at[0] + dx).toFixed(1));
    set(part.label, "y", (part.at[1] + dy).toFixed(1));
  }

  // ---- hands and keys
  // Where a thing, its aim, or the middle of a window lies on this drawing. [m]
  spot(id, field) {
    if (field === "middle") return this.flat(opening(this.window(id), this.place.size).middle);
    return this.flat(this.link.value(id)[field === "aim" ? "aim" : "at"]);
  }
  // What lies under the pointer, the topmost first: things may stand within a finger's width of each other.
  under(e) {
    const found = document.elementsFromPoint(e.clientX, e.clientY).map((el) => el.closest?.(".lc-item")).filter((el) => el && this.svg.contains(el));
    return [...new Set(found.map((el) => el.getAttribute("data-id")))];
  }
  listen(g, own, ownField) {
    const where = (e) => { const box = this.svg.getBoundingClientRect(); return this.metres([e.clientX - box.left, e.clientY - box.top]); };
    const handle = ownField === "aim" || ownField === "roll";
    let drag = null;
    g.addEventListener("pointerdown", (e) => {
      if (e.button) return;
      e.preventDefault(); e.stopPropagation();
      // A thing that is chosen is moved even where another lies over it; pressed again in its place, the next one is chosen.
      const pile = handle ? [] : this.under(e), again = pile.includes(this.view.selected), id = again ? this.view.selected : own;
      const field = handle ? ownField : this.parts[id].thing.kind === "window" ? "middle" : "at";
      this.view.select(id); (handle ? g : this.parts[id].g).focus({ preventScroll: true });
      const p = where(e), at = this.spot(id, field), next = again && pile[(pile.indexOf(id) + 1) % pile.length];
      drag = this.drag = { id, field, next, gesture: this.link.gesture(), off: [at[0] - p[0], at[1] - p[1]], from: this.link.value(id), start: [e.clientX, e.clientY] };
      try { g.setPointerCapture(e.pointerId); } catch { /* a synthetic pointer */ }
      this.link.hold(id);
    });
    // touch-action alone does not hold on shapes that are drawn anew while they move.
    g.addEventListener("touchstart", (e) => e.preventDefault(), { passive: false });
    g.addEventListener("pointermove", (e) => {
      if (!drag) return;
      if (drag.next && Math.hypot(e.clientX - drag.start[0], e.clientY - drag.start[1]) < 3) return; // may be a press
      drag.next = null;
      const p = where(e), to = [p[0] + drag.off[0], p[1] + drag.off[1]], { gesture, id, field } = drag;
      if (field === "roll") this.rollTo(gesture, id, p);
      else if (field === "middle") this.putWindow(gesture, id, to);
      else this.put(gesture, id, field, to, e.shiftKey ? drag.from : null);
    });
    const end = (e) => {
      if (!drag) return;
      const { next, id } = drag;
      drag = this.drag = null;
      this.link.release(e.type === "pointerup");
      if (e.type === "pointerup" && next && next !== id) this.parts[next].g.focus({ preventScroll: true });
    };
    g.addEventListener("pointerup", end);
    g.addEventListener("pointercancel", end);
    g.addEventListener("lostpointercapture", end);
    g.addEventListener("focus", () => this.view.select(own));
    g.addEventListener("keydown", (e) => this.key(e, own, ownField));
  }
  grid(n, low, high) {
    const snap = this.link.grain;
    return clamp(Number((Math.round(n / snap) * snap).toFixed(5)), Number(low.toFixed(4)), Number(high.toFixed(4)));
  }
  // Marks and camera stay in the room; a hand leaves the rest on the drawing, and nothing under the floor.
  limits(id, field) {
    const kind = this.parts[id].thing.kind, inside = field === "at" && this.place.room && (kind === "mark" || kind === "camera");
    if (inside) return this.flat(this.place.size).map((n) => [0, n]);
    return [0, 1].map((i) => [this.axes[i] === 2 && field === "at" ? Math.max(0, this.bounds[i]) : this.bounds[i], this.bounds[i + 2]]);
  }
  put(gesture, id, field, point, carry = null) {
    const v = this.link.value(id), to = [...v[field]], limits = this.limits(id, field);
    this.axes.forEach((axis, i) => (to[axis] = this.grid(point[i], ...limits[i])));
    const fields = { [field]: to };
    // Shift carries the aim along, so the thing keeps facing the same way.
    if (carry && field === "at" && v.aim) fields.aim = carry.aim.map((n, i) => Number((n + to[i] - carry.at[i]).toFixed(4)));
    this.link.move(gesture, id, fields);
  }
  // A window slides along its wall and, where heights are seen, up and down; never off the wall.
  putWindow(gesture, id, point) {
    const win = this.window(id), { along } = opening(win, this.place.size), fields = {};
    this.axes.forEach((axis, i) => {
      if (axis === along) fields.centre_m = this.grid(point[i], win.width_m / 2, this.place.size[along] - win.width_m / 2);
      if (axis === 2) fields.sill_m = this.grid(point[i] - win.height_m / 2, 0, this.place.size[2] - win.height_m);
    });
    this.link.move(gesture, id, fields);
  }
  rollTo(gesture, id, p) {
    const v = this.link.value(id), [x, y] = this.px(p), [cx, cy] = this.parts[id].at, step = this.link.snaps ? 5 : 1;
    const turn = ((Math.atan2(y - cy, x - cx) - this.rollBase(v)) * 180) / Math.PI;
    this.rollBy(gesture, id, Math.round((this.rollSign(v) * turn) / step) * step);
  }
  rollBy(gesture, id, deg) {
    this.link.move(gesture, id, { roll_deg: ((((deg + 180) % 360) + 360) % 360) - 180 });
  }
  key(e, id, field) {
    const step = e.altKey ? 0.01 : e.shiftKey ? 0.5 : 0.1, by = [0, 0, 0], [a, b] = this.axes;
    const [axis, sign] = { ArrowLeft: [a, -1], ArrowRight: [a, 1], ArrowUp: [b, 1], ArrowDown: [b, -1], PageUp: [2, 1], PageDown: [2, -1] }[e.key] || [null, 0];
    const turn = { "[": -5, "]": 5, "{": -15, "}": 15 }[e.key] || (field === "roll" ? sign * (e.altKey ? 1 : e.shiftKey ? 15 : 5) : 0);
    if (e.key === "Escape") this.view.select(null);
    else if (e.key === "Enter") this.view.entry.focus();
    else if ((axis === null && !turn) || e.ctrlKey || e.metaKey) return;
    e.preventDefault(); e.stopPropagation();
    if (axis === null && !turn) return;
    // Taps within a second of each other are one step to undo.
    const now = performance.now(), same = this.nudge && this.nudge.key === id + field && now - this.nudge.when < 1000;
    this.nudge = { key: id + field, when: now, gesture: same ? this.nudge.gesture : this.link.gesture() };
    if (turn) return this.link.value(id).roll_deg === undefined ? undefined : this.rollBy(this.nudge.gesture, id, this.link.value(id).roll_deg + turn);
    by[axis] = sign * step;
    this.nudgeBy(this.nudge.gesture, id, field, by);
  }
  nudgeBy(gesture, id, field, by) {
    if (field === "middle") return this.nudgeWindow(gesture, id, by);
    const kind = this.parts[id].thing.kind, inside = field === "at" && this.place.room && (kind === "mark" || kind === "camera");
    const p = this.link.value(id)[field].map((n, i) => Number((n + by[i]).toFixed(4)));
    this.link.move(gesture, id, { [field]: inside ? p.map((n, i) => (by[i] ? clamp(n, 0, this.place.size[i]) : n)) : p });
  }
  nudgeWindow(gesture, id, by) {
    const win = this.window(id), { along } = opening(win, this.place.size), fine = (n, low, high) => clamp(Number(n.toFixed(4)), Number(low.toFixed(4)), Number(high.toFixed(4)));
    const fields = {};
    if (by[along]) fields.centre_m = fine(win.centre_m + by[along], win.width_m / 2, this.place.size[along] - win.width_m / 2);
    if (by[2]) fields.sill_m = fine(win.sill_m + by[2], 0, this.place.size[2] - win.height_m);
    if (Object.keys(fields).length) this.link.move(gesture, id, fields);
  }
}
