"use strict";
const SVG = "http://www.w3.org/2000/svg";
const ZOOM_STEP = 1.25;
const DEEPEST_ZOOM = 200;
const HEAT_COLUMNS = 260;
const PIECE_MM = 20;
// A piece is forgotten once it raises nothing by more; some hundred of them make a few degrees.
const FORGET_K = 0.02;
// Steel begins to melt about here; close behind the torch a line source would be hotter still.
const HOTTEST_C = 1450;
const HEAT_PAUSE_MS = 80;

function element(name, attributes, parent) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent.append(made);
  return made;
}

function clockWords(seconds) {
  const whole = Math.floor(seconds);
  return Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0");
}

// The place a share of the way along a line of points.
function along(points, share) {
  const legs = points.slice(1).map((p, i) => Math.hypot(p[0] - points[i][0], p[1] - points[i][1]));
  let left = share * legs.reduce((sum, leg) => sum + leg, 0);
  for (let i = 0; i < legs.length; i++) {
    if (left <= legs[i] && legs[i] > 0) {
      const t = left / legs[i];
      return [0, 1].map((k) => points[i][k] + t * (points[i + 1][k] - points[i][k]));
    }
    left -= legs[i];
  }
  return points[points.length - 1];
}

class View {
  constructor(box) {
    this.box = box;
    this.svg = box.querySelector("svg");
    const v = this.svg.viewBox.baseVal;
    this.whole = [v.x, v.y, v.width, v.height];
    this.now = [...this.whole];
    this.fingers = new Map();
    box.addEventListener("wheel", (e) => {
      e.preventDefault();
      this.zoom(e.deltaY < 0 ? ZOOM_STEP : 1 / ZOOM_STEP, this.place(e.clientX, e.clientY));
    }, { passive: false });
    box.addEventListener("pointerdown", (e) => this.grab(e));
    box.addEventListener("pointermove", (e) => this.drag(e));
    for (const name of ["pointerup", "pointercancel"]) box.addEventListener(name, (e) => this.release(e));
    box.addEventListener("keydown", (e) => this.key(e));
  }

  place(x, y) {
    const p = new DOMPoint(x, y).matrixTransform(this.svg.getScreenCTM().inverse());
    return [p.x, p.y];
  }

  show() { this.svg.setAttribute("viewBox", this.now.join(" ")); }

  reset() { this.now = [...this.whole]; this.show(); }

  zoom(factor, about) {
    const [x, y, w, h] = this.now;
    const c = about || [x + w / 2, y + h / 2];
    const least = w / this.whole[2];
    if (factor <= least) { this.reset(); return; }
    const f = Math.min(factor, DEEPEST_ZOOM * least);
    this.now = [c[0] - (c[0] - x) / f, c[1] - (c[1] - y) / f, w / f, h / f];
    this.show();
  }

  move(dx, dy) { this.now[0] += dx; this.now[1] += dy; this.show(); }

  grab(e) {
    this.fingers.set(e.pointerId, [e.clientX, e.clientY]);
    this.box.setPointerCapture(e.pointerId);
    this.box.classList.add("grabbed");
  }

  drag(e) {
    const before = this.fingers.get(e.pointerId);
    if (!before) return;
    const other = [...this.fingers].find(([id]) => id !== e.pointerId);
    const now = [e.clientX, e.clientY];
    this.fingers.set(e.pointerId, now);
    if (other) {
      const spread = (p) => Math.hypot(p[0] - other[1][0], p[1] - other[1][1]);
      if (spread(before) > 0) this.zoom(spread(now) / spread(before), this.place(...other[1]));
      return;
    }
    const [a, b] = [this.place(...before), this.place(...now)];
    this.move(a[0] - b[0], a[1] - b[1]);
  }

  release(e) {
    this.fingers.delete(e.pointerId);
    if (!this.fingers.size) this.box.classList.remove("grabbed");
  }

  key(e) {
    const d = this.now[2] / 10;
    const act = {
      "+": () => this.zoom(ZOOM_STEP), "-": () => this.zoom(1 / ZOOM_STEP), "0": () => this.reset(),
      ArrowLeft: () => this.move(-d, 0), ArrowRight: () => this.move(d, 0),
      ArrowUp: () => this.move(0, -d), ArrowDown: () => this.move(0, d),
    }[e.key];
    if (act) { e.preventDefault(); act(); }
  }
}

// How hot the plate is: pieces of the cuts as line sources in a thin, endless plate.
class Heat {
  constructor(playback, data, layer) {
    this.playback = playback;
    [this.spread, this.diffusivity, this.loss] = data.plate;
    this.jouleMm = data.joule_mm;
    this.ambient = data.ambient_c;
    this.bands = data.shades;
    this.layer = element("g", { class: "heat" }, layer);
    this.shades = this.bands.map(([, opacity]) => element("path", { "fill-opacity": opacity }, this.layer));
    const [x, y, w, h] = playback.view.whole;
    this.cell = Math.max(w, h) / HEAT_COLUMNS;
    this.columns = Math.ceil(w / this.cell);
    this.lines = Math.ceil(h / this.cell);
    this.corner = [x, y];
    this.rises = new Float64Array(this.columns * this.lines);
    this.drawn = 0;
  }

  // Middle, time and energy of each piece of cut, in the order of time.
  get sources() {
    const { steps, times, kerfs, lengths } = this.playback;
    const made = [];
    steps.forEach((step, i) => {
      if (step.mark) return;
      const count = Math.max(1, Math.ceil(lengths[i] / PIECE_MM));
      for (let j = 0; j < count; j++) {
        const share = (j + 0.5) / count, p = kerfs[i][0].getPointAtLength(lengths[i] * share);
        const time = times[i].run + share * step.run_s, joule = this.jouleMm * lengths[i] / count;
        for (const shift of this.playback.lanes) made.push([p.x, p.y + shift, time, joule]);
      }
    });
    Object.defineProperty(this, "sources", { value: made });
    return made;
  }

  // Calls `use` with place, rise at the middle and 4αt of each piece that is still felt.
  felt(now, use) {
    for (const [x, y, time, joule] of this.sources) {
      const age = now - time;
      if (age <= 0) break;
      const height = joule / (4 * Math.PI * this.spread * age) * Math.exp(-age * this.loss);
      if (height > FORGET_K) use(x, y, height, 4 * this.diffusivity * age);
    }
  }

  at(px, py, now) {
    let rise = 0;
    this.felt(now, (x, y, height, wide) => {
      rise += height * Math.exp(-((px - x) ** 2 + (py - y) ** 2) / wide);
    });
    return Math.min(this.ambient + rise, HOTTEST_C);
  }

  draw(now) {
    if (this.playback.playing && performance.now() - this.drawn < HEAT_PAUSE_MS) return;
    const { rises, cell, columns, lines, corner } = this;
    rises.fill(0);
    this.felt(now, (x, y, height, wide) => {
      const reach = Math.sqrt(wide * Math.log(height / FORGET_K));
      const span = (at, k, most) => [
        Math.max(0, Math.floor((at - reach - corner[k]) / cell)),
        Math.min(most - 1, Math.floor((at + reach - corner[k]) / cell)),
      ];
      const [c0, c1] = span(x, 0, columns), [l0, l1] = span(y, 1, lines);
      for (let l = l0; l <= l1; l++) {
        const dy = corner[1] + (l + 0.5) * cell - y;
        for (let c = c0; c <= c1; c++) {
          const dx = corner[0] + (c + 0.5) * cell - x;
          rises[l * columns + c] += height * Math.exp(-(dx * dx + dy * dy) / wide);
        }
      }
    });
    const shades = this.bands.map(() => []);
    rises.forEach((rise, i) => {
      const band = this.bands.findLastIndex(([least]) => this.ambient + rise >= least);
      if (band < 0) return;
      const x = corner[0] + (i % columns) * cell, y = corner[1] + Math.floor(i / columns) * cell;
      shades[band].push(`M${x.toFixed(1)} ${y.toFixed(1)}h${cell.toFixed(2)}v${cell.toFixed(2)}h${(-cell).toFixed(2)}z`);
    });
    shades.forEach((squares, band) => this.shades[band].setAttribute("d", squares.join("")));
    this.drawn = performance.now();
  }

  show(on) { this.layer.setAttribute("visibility", on ? "visible" : "hidden"); }
}

class Playback {
  constructor(section, data) {
    this.section = section;
    this.steps = data.steps;
    this.view = new View(section.querySelector(".view"));
    const svg = this.view.svg;
    this.parts = [...svg.querySelectorAll(".part")];
    this.begin();
    this.layer = element("g", {}, svg);
    this.heat = new Heat(this, data.heat, this.layer);
    // How far up the picture each torch stands from the first.
    this.lanes = data.torch_shifts.map((shift) => -shift);
    this.kerfs = this.steps.map((step) => this.lanes.map((shift) => element("path", {
      d: step.path, class: step.mark ? "kerf marking" : "kerf", "stroke-width": step.mark ? 0.8 : data.kerf,
      transform: `translate(0 ${shift})`, visibility: "hidden",
    }, this.layer)));
    this.lengths = this.kerfs.map(([path]) => path.getTotalLength());
    this.torch = element("g", { class: "torch", visibility: "hidden" }, this.layer);
    const r = this.view.whole[2] / 110;
    for (const cy of this.lanes) for (let i = 0; i < 2; i++) element("circle", { r, cy }, this.torch);
    this.controls();
  }

  // Adds up when each step begins, is pierced and is done.
  begin() {
    let t = 0;
    this.times = this.steps.map((s) => {
      const start = t, lit = t + s.travel_s, run = lit + s.start_s;
      t = run + s.run_s;
      return { start, lit, run, end: t };
    });
    this.total = t;
    this.now = 0;
    this.playing = false;
  }

  controls() {
    const find = (name) => this.section.querySelector("." + name);
    this.clock = find("clock");
    this.clock.max = this.total;
    this.status = find("status");
    this.button = find("play");
    this.button.addEventListener("click", () => this.toggle());
    this.clock.addEventListener("input", () => this.show(Number(this.clock.value)));
    find("back").addEventListener("click", () => this.after(this.done() - 1));
    find("on").addEventListener("click", () => this.after(this.done() + 1));
    find("in").addEventListener("click", () => this.view.zoom(ZOOM_STEP));
    find("out").addEventListener("click", () => this.view.zoom(1 / ZOOM_STEP));
    find("whole").addEventListener("click", () => this.view.reset());
    this.speed = find("speed");
    this.hot = find("hot");
    this.hot.addEventListener("change", () => { this.heat.show(this.hot.checked); this.show(this.now); });
    const thermometer = find("thermometer");
    this.view.box.addEventListener("pointermove", (e) => {
      const celsius = this.heat.at(...this.view.place(e.clientX, e.clientY), this.now);
      thermometer.textContent = `${Math.round(celsius)} °C at the pointer.`;
    });
  }

  done() { return this.times.filter((t) => t.end <= this.now).length; }

  after(count) {
    const n = Math.min(Math.max(count, 0), this.steps.length);
    this.show(n ? this.times[n - 1].end : 0);
  }

  toggle() {
    this.playing = !this.playing;
    this.button.textContent = this.playing ? "Pause" : "Play";
    if (!this.playing) return;
    if (this.now >= this.total) this.now = 0;
    let last = performance.now();
    const tick = (stamp) => {
      if (!this.playing) return;
      this.show(this.now + Math.max(stamp - last, 0) / 1000 * Number(this.speed.value));
      last = stamp;
      if (this.now >= this.total) this.toggle(); else requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }

  show(seconds) {
    this.now = Math.min(Math.max(seconds, 0), this.total);
    this.clock.value = this.now;
    this.view.svg.classList.add("playing");
    this.torch.setAttribute("visibility", "visible");
    const freed = new Set();
    this.steps.forEach((step, i) => {
      this.kerf(i);
      // In a chain the parts come loose one after another while the run goes on.
      const { run, end } = this.times[i];
      step.frees.forEach((part, k) => run + step.freed_at[k] * (end - run) <= this.now && freed.add(part));
    });
    this.parts.forEach((part, i) => part.classList.toggle("freed", freed.has(i)));
    if (this.hot.checked) this.heat.draw(this.now);
    this.put(freed.size);
  }

  // The kerf grows with the torch: the path is one dash, as long as what is cut.
  kerf(i) {
    const cut = this.lengths[i] * this.share(i);
    for (const path of this.kerfs[i]) {
      path.setAttribute("visibility", cut > 0 ? "visible" : "hidden");
      path.setAttribute("stroke-dasharray", cut + " " + (this.lengths[i] + 1));
    }
  }

  share(i) {
    const t = this.times[i];
    return t.end <= this.now ? 1 : Math.max(0, (this.now - t.run) / (t.end - t.run));
  }

  put(freed) {
    const n = this.done(), i = Math.min(n, this.steps.length - 1);
    const step = this.steps[i], t = this.times[i];
    const lit = this.now >= t.lit && this.now < t.end;
    let where;
    if (this.now < t.lit) where = along(step.travel, (this.now - t.start) / (t.lit - t.start));
    else {
      const p = this.kerfs[i][0].getPointAtLength(this.lengths[i] * this.share(i));
      where = [p.x, p.y];
    }
    this.torch.setAttribute("transform", `translate(${where[0]} ${where[1]})`);
    this.torch.classList.toggle("lit", lit && !step.mark);
    const doing = n === this.steps.length ? "all cut" : `${this.now < t.lit ? "on the way to" : "at"} cut ${i + 1}, ${step.words}, plate at its start ${step.start_c} °C`;
    this.status.textContent = `${clockWords(this.now)} of ${clockWords(this.total)}: ${n} of ${this.steps.length} cuts done, ${freed} of ${this.parts.length} parts freed; ${doing}.`;
  }
}

const playbacks = JSON.parse(document.getElementById("playback").textContent)
  .map((data, i) => new Playback(document.getElementById(String(i + 1)), data));

function openFragment() {
  const [, sheet, cut] = location.hash.match(/^#(\d+)-(\d+)$/) || [];
  const playback = playbacks[Number(sheet) - 1];
  if (!playback) return;
  playback.after(Number(cut));
  playback.section.scrollIntoView();
}
addEventListener("hashchange", openFragment);
openFragment();
