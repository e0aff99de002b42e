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
      : shape("g", { class: `lc-bracket ${f.bracket.met ? "lc-met" : "lc-missed"}` }, shape("path", { d: outline(f, y) }));
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
// What lies between its ends; a target without an end on one side is open there, half a stop long.
function outline(f, y) {
  const over = f.bracket.bound === "at least", under = f.bracket.bound === "at most";
  return (under ? `M${f.from} ${y + 3}` : `M${f.from} ${y - 5}V${y + 3}`) + `H${f.to}` + (over ? "" : `V${y - 5}`);
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
    const key = JSON.stringify([shown.marks, shown.spots, shown.targets, shown.sense, units, [...this.open]]);
    if (key === this.drawn) return;
    this.drawn = key;
    const had = this.box.contains(document.activeElement) ? document.activeElement.getAttribute("data-mark") : null;
    const kids = [];
    if (shown.marks.length) kids.push(this.marks(shown.marks, units));
    if (shown.spots.length) kids.push(this.spots(shown.spots, units));
    if (shown.sense?.line) kids.push(node("p", { class: "lc-sense", title: shown.sense.all }, shown.sense.line));
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
      if (open) rows.push(node("tr", { class: "lc-sources" }, node("td", { colspan: 7 }, ...[...parts, m.key && `key: ${m.key}`, m.ratio_from, m.colour && `colour: ${m.colour}`].filter(Boolean).map((p) => node("span", {}, p)))));
    }
    return this.table("lc-marks", [["Mark", ""], ["Light", "Illuminance on the receptor"], ["Level", "Stops from middle grey"], ["Key + fill : fill", "Lighting ratio"], ["Key : fill", "The same without the fill on the key side"], ["Ratio", "Key + fill : fill, in stops"], ["Veil", "Share of haze in what the lens sees of a grey card there"]], rows);
  }
  spots(spots, units) {
    const rows = spots.map((s) => node("tr", { "data-name": s.name }, node("th", { scope: "row" }, s.name), node("td", {}, s.luminance[units]), node("td", {}, s.level), node("td", {}, s.source ? `${s.beam_over} (${s.source})` : "")));
    return this.table("lc-spots", [["Spot", ""], ["Luminance", "Seen from the camera, air included"], ["Level", "Stops from middle grey"], ["Beam over background", "Stops"]], rows);
  }
  targets(targets) {
    const rows = targets.map((t) => node("tr", { class: t.met ? "lc-met" : "lc-missed", "data-name": t.of }, node("th", { scope: "row" }, `${t.of} ${t.quantity}`), node("td", {}, t.said), node("td", {}, t.got), node("td", {}, verdict(t.met), t.verdict)));
    return this.table("lc-targets", [["Target", ""], ["Wanted", "Stops"], ["Got", "Stops"], ["", ""]], rows);
  }
}
function verdict(met) {
  return shape("svg", { width: 12, height: 12, viewBox: "0 0 12 12", class: "lc-verdict", "aria-hidden": "true" }, shape("path", { d: met ? "M2 6L5 9L10 3" : "M3 3L9 9M9 3L3 9" }));
}

// ---- the picture -------------------------------------------------------------------------------------------------------

class Picture {
  constructor(view) {
    this.view = view;
    this.canvas = node("canvas", { class: "lc-canvas", role: "img", "aria-label": "What the camera sees, in luminance" });
    this.draft = node("span", { class: "lc-draft" });
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
    this.box.classList.toggle("lc-none", w === 0); // while the engine is being compiled
    if (w > 0 && (frame !== this.frame || banded !== this.drawn) && frame.byteLength === 4 * w * h) {
      this.frame = frame; this.drawn = banded;
      if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; }
      this.canvas.style.aspectRatio = `${w} / ${h}`;
      const bytes = banded ? this.bands(model.get("place").bands, w, h) : new Uint8ClampedArray(frame.buffer, frame.byteOffset, frame.byteLength);
      this.canvas.getContext("2d").putImageData(new ImageData(bytes, w, h), 0, 0);
    }
    text(this.draft, w > 0 ? "settling" : "the picture follows");
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
