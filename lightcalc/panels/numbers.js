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
      this.box.replaceChildren(node("span", { class: "lc-hint" }, "Click or Tab to a thing; drag it, use arrow keys (Shift 0.5 m, Alt 1 cm; Page Up, Page Down: height; [ ]: roll) or type here. Shift-drag takes its aim along."));
      return;
    }
    const unit = this.view.feet ? "ft" : "m";
    this.box.replaceChildren(node("strong", {}, thing.name));
    const group = (words) => { const g = node("span", { class: "lc-group" }, node("span", { class: "lc-grouplabel" }, words)); this.box.append(g); return g; };
    for (const field of BY_KIND[thing.kind]) {
      if (field === "focus" && this.link.value(id).focus === null) continue; // a lamp without one
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

// ---- sliders --------------------------------------------------------------------------------------------------------

class Sliders {
  constructor(view) {
    this.view = view; this.link = view.link;
    this.box = node("div", { class: "lc-slide" });
    this.rows = [];
  }
  build(place) {
    const key = JSON.stringify([place.sliders, place.things.map((t) => t.id), place.dark_stops, place.clock]);
    if (key === this.built) return;
    this.built = key; this.rows = []; this.box.replaceChildren();
    for (const name of place.sliders) name === "time" && place.clock ? this.addTime(place.clock) : this.add(name === "haze" ? "haze" : `light:${name}`, name, place);
  }
  // The clock's minutes, however they are spaced; its words for each come from the kernel.
  addTime(clock) {
    const input = hush(node("input", { type: "range", min: 0, max: clock.minutes.length - 1, step: 1, "data-param": "time", "aria-label": "time of day" }));
    const row = { id: "time", input, out: node("output"), clock };
    this.follow(input, "time", () => ({ minute: clock.minutes[Number(input.value)] }));
    this.rows.push(row);
    this.box.append(node("label", {}, "time"), node("span"), input, row.out);
  }
  // One hold of a slider is one step to undo.
  follow(input, id, fields) {
    let gesture = null, pointer = false;
    input.addEventListener("pointerdown", () => { pointer = true; });
    input.addEventListener("input", () => { gesture = gesture || this.link.gesture(); this.link.hold(id); this.link.move(gesture, id, fields()); });
    input.addEventListener("change", () => { gesture = null; this.link.release(pointer); pointer = false; }); // a held key changes it again and again
  }
  add(id, name, place) {
    const haze = id === "haze", field = haze ? "extinction_per_m" : "dim_stops", now = this.link.value(id)[field];
    const low = haze ? 0 : Math.min(place.dark_stops, Math.floor(now ?? 0)), high = haze ? Math.max(0.2, Math.ceil(20 * now) / 10) : 0;
    const input = hush(node("input", { type: "range", min: low, max: high, step: haze ? 0.001 : 0.1, "data-param": name, "aria-label": haze ? "haze, per metre" : `${name}, dim in stops` }));
    const out = node("output", {}), row = { id, field, input, out, low };
    this.follow(input, id, () => ({ [field]: Number(input.value) }));
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
      if (row.clock) { this.updateTime(row); continue; }
      const v = this.link.value(row.id)[row.field];
      if (v !== null) row.last = v;
      if (row.on) row.on.checked = v !== null;
      const to = String(v === null ? row.low : v);
      if (v !== null && (v < Number(row.input.min) || v > Number(row.input.max))) row.input.setAttribute(v < 0 ? "min" : "max", v < 0 ? Math.floor(v) : Math.ceil(10 * v) / 10);
      if (Number(row.input.value) !== Number(to)) row.input.value = to;
      row.input.classList.toggle("lc-off", v === null);
      text(row.out, row.on ? (v === null ? "off" : `${minus(v.toFixed(1)).replace("\u22120.0", "0.0")} stops`) : `${v.toFixed(3)} /m, ${this.sight(v, units)}`);
      set(row.input, "aria-valuetext", row.out.textContent);
    }
  }
  updateTime({ clock, input, out }) {
    const i = clock.minutes.indexOf(this.link.value("time").minute);
    if (i >= 0 && Number(input.value) !== i) input.value = i;
    input.classList.toggle("lc-off", i < 0);
    text(out, i < 0 ? "as given" : clock.words[i]);
    set(input, "aria-valuetext", out.textContent);
  }
  // Koschmieder: a black target is lost where its contrast falls to the kernel's own threshold.
  sight(perMetre, units) {
    if (!(perMetre > 0)) return "clear air";
    const far = this.link.model.get("place").sight_log / perMetre / (units === "feet" ? FT : 1);
    return `sees ${far >= 99.5 ? far.toFixed(0) : far.toPrecision(2)} ${units === "feet" ? "ft" : "m"}`;
  }
}
