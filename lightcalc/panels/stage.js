// ---- one view of the model --------------------------------------------------------------------------------------------------

class View {
  constructor(model, el, link) {
    this.model = model; this.link = link;
    const parts = model.get("place").parts, has = (name) => parts.includes(name);
    this.root = node("div", { class: "lc-stage" });
    this.buildBar(has);
    this.entry = new Entry(this);
    this.drawings = has("plan") ? [new Plan(this), new Plan(this)] : [];
    if (has("picture")) this.picture = new Picture(this);
    if (has("ladder")) this.ladder = new Ladder(this);
    if (has("readings")) this.table = new Table(this);
    this.sliders = new Sliders(this);
    this.top = node("div", { class: "lc-top" }, ...[...this.drawings, this.picture].filter(Boolean).map((p) => p.box));
    this.low = node("div", { class: "lc-low" }, ...(this.table ? [this.table.box] : []), node("div", { class: "lc-hands" }, this.sliders.box, ...(this.table ? [this.table.wanted] : [])));
    this.root.append(this.bar, this.gone, this.top);
    if (this.drawings.length) this.root.append(this.entry.box);
    if (this.ladder) this.root.append(this.ladder.box);
    this.root.append(this.low);
    this.root.addEventListener("keydown", (e) => this.shortcut(e));
    el.append(this.root);
    this.entry.build(null);
    link.views.add(this);
    this.watcher = new ResizeObserver(() => { if (Math.abs(this.root.clientWidth - this.width) > 1) { this.width = 0; this.update(); } });
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

  buildBar(has) {
    const button = (words, does, tip) => { const b = hush(node("button", { class: "lc-button", title: tip }, words)); b.addEventListener("click", does); return b; };
    this.title = node("span", { class: "lc-title" });
    this.status = node("span", { class: "lc-status", role: "status" });
    this.notice = node("span", { class: "lc-notice", role: "status" });
    this.undo = button("Undo", () => this.link.step(-1), "Ctrl+Z");
    this.redo = button("Redo", () => this.link.step(1), "Ctrl+Shift+Z");
    this.snap = hush(node("input", { type: "checkbox", "data-snap": "" }));
    this.snap.addEventListener("change", () => { this.link.snaps = this.snap.checked; this.link.tell(); });
    this.snapWords = node("span");
    this.snapBox = node("label", { class: "lc-on", title: "What is dragged keeps to this grid" }, this.snap, this.snapWords);
    this.snapBox.hidden = !has("plan");
    this.unit = button("", () => { this.model.set("units", this.feet ? "metric" : "feet"); this.model.save_changes(); this.link.tell(); }, "Switch units");
    this.save = button("Save to shoot file", () => this.link.save(), "Write these places and settings back to the file");
    this.gone = node("div", { class: "lc-gone", role: "alert" }, "The kernel that made this stage is gone: nothing here will change. Run its cell again.");
    this.bar = node("div", { class: "lc-bar" }, this.title, this.status, this.notice, node("span", { class: "lc-buttons" }, this.snapBox, this.undo, this.redo, this.unit, this.save));
  }
  select(id) {
    if (!this.drawings.length || this.selected === id) return;
    this.selected = id;
    this.entry.build(id);
    for (const drawing of this.drawings) if (drawing.svg) drawing.update(false);
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
    if (!shown || !shown.quality) return;
    if (!this.width) this.measure();
    // Python may have put another setup on the stage, without what was chosen here.
    if (this.selected && !place.things.some((thing) => thing.id === this.selected)) { this.selected = null; this.entry.build(null); }
    this.updateBar(shown, place);
    if (this.drawings.length) this.updateDrawings(link);
    if (this.unitsShown !== units) { this.unitsShown = units; this.entry.build(this.selected); }
    this.entry.update();
    this.picture?.update(model, shown, units);
    this.ladder?.update(shown, this.wide.ladder);
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
    set(this.root, "data-settled", settled);
    text(this.status, this.link.silent ? "no answer from the kernel yet" : settled ? "settled" : "settling…");
    text(this.notice, shown.notice);
    this.undo.disabled = !shown.undo && !this.link.busy; this.redo.disabled = !shown.redo;
    this.snap.checked = this.link.snaps;
    text(this.snapWords, `snap ${Number((this.link.step_m / (this.feet ? FT : 1)).toFixed(3))} ${this.feet ? "ft" : "m"}`);
    text(this.unit, `Units: ${this.feet ? "feet, foot-candles" : "metres, lux"}`);
    this.save.hidden = !shown.save;
  }
  // Where there is room, plan and heights side by side; else one drawing with a switch. Asked once a width: to answer, the browser
  // lays everything out.
  measure() {
    this.width = this.root.clientWidth; // 0 until it is on a page
    const [first, second] = this.drawings, width = this.width || 900, both = width >= (this.picture ? 1180 : 760);
    if (first) {
      this.top.classList.toggle("lc-three", both && !!this.picture);
      second.box.hidden = !both;
      first.offer(both ? ["plan"] : ["plan", "near", "right"]);
      second.offer(both ? ["near", "right"] : []);
    }
    this.wide = { both, plan: Math.floor(first?.box.clientWidth) || 440, picture: this.picture?.box.clientWidth, ladder: this.ladder?.box.clientWidth || width };
  }
  updateDrawings(link) {
    const [first, second] = this.drawings, { both, plan: width, picture: beside } = this.wide;
    // with its strip as high as the picture with its caption
    const high = clamp(Math.round(beside ? beside * 0.5625 : width * 0.66), 240, 470), still = !link.held;
    first.show(width, high, still, still && link.settled);
    if (both) second.show(width, high, still, still && link.settled);
    else if (second.svg) { second.svg.remove(); second.svg = null; }
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
