// One sheet on a canvas: drawn, moved about, measured, and its parts laid by hand.
import { Ground, Shape, TOO_NEAR, inside, poseOf, shapeOf, turned, unturned } from "./lay.js";
import { number, t } from "./texts.js";

const SNAP_PX = 10, CLICK_PX = 4;
// Room round the plate for its figures.
const SIDE_PX = 40, FOOT_PX = 30;
const INK = "#22303a", PLATE = "#dfe3dc", METAL = "#fbfbf7", CUT = "#2a6478", LEAD = "#a34a17", PALE = "#8b948f";

function pathOf(rings, closed = true) {
  const path = new Path2D();
  for (const ring of rings) {
    for (let i = 0; i < ring.length; i += 2) i ? path.lineTo(ring[i], ring[i + 1]) : path.moveTo(ring[0], ring[1]);
    if (closed) path.closePath();
  }
  return path;
}

// Draws parts of a plan; paths of a part are made once.
export class Painter {
  constructor(plan) {
    this.plan = plan;
    this.paths = new Map();
  }

  path(part) {
    if (!this.paths.has(part)) {
      const p = this.plan.parts[part];
      this.paths.set(part, { metal: pathOf([p.outer, ...p.holes]), marks: pathOf(p.marks, false), bends: pathOf(p.bends.map(([a, b]) => [...a, ...b]), false) });
    }
    return this.paths.get(part);
  }

  part(ctx, scale, part, pose, look = {}) {
    const path = this.path(part);
    ctx.save();
    ctx.translate(pose.x, pose.y);
    ctx.rotate(pose.turn * Math.PI / 180);
    if (pose.mirrored) ctx.scale(-1, 1);
    ctx.fillStyle = look.fill || METAL;
    ctx.fill(path.metal, "evenodd");
    ctx.lineWidth = (look.line || 1) / scale;
    ctx.strokeStyle = look.ink || INK;
    if (look.dash) ctx.setLineDash(look.dash.map((v) => v / scale));
    ctx.stroke(path.metal);
    ctx.setLineDash([3 / scale, 3 / scale]);
    ctx.lineWidth = 0.7 / scale;
    ctx.strokeStyle = PALE;
    ctx.stroke(path.marks);
    ctx.setLineDash([8 / scale, 3 / scale, 2 / scale, 3 / scale]);
    ctx.stroke(path.bends);
    ctx.restore();
  }

  plate(ctx, scale, sheet) {
    ctx.fillStyle = PLATE;
    ctx.strokeStyle = INK;
    ctx.lineWidth = 1.4 / scale;
    const path = pathOf([sheet.outline, ...sheet.voids]);
    ctx.fill(path, "evenodd");
    ctx.stroke(path);
    for (const ring of sheet.keep_off) hatched(ctx, scale, pathOf([ring]));
  }
}

function hatched(ctx, scale, path) {
  ctx.save();
  ctx.clip(path);
  ctx.strokeStyle = PALE;
  ctx.lineWidth = 1.2 / scale;
  ctx.beginPath();
  const step = 9 / scale, reach = 20000;
  for (let k = -reach; k < reach; k += Math.max(step, 6)) { ctx.moveTo(k, -100); ctx.lineTo(k + reach, reach - 100); }
  ctx.stroke();
  ctx.restore();
  ctx.strokeStyle = INK;
  ctx.lineWidth = 1 / scale;
  ctx.setLineDash([6 / scale, 3 / scale]);
  ctx.stroke(path);
  ctx.setLineDash([]);
}

export function thumbnail(canvas, plan, sheet) {
  const wide = canvas.clientWidth || 180, dpr = devicePixelRatio || 1;
  const scale = wide / (sheet.size[0] * 1.02), high = Math.max(30, sheet.size[1] * 1.02 * scale);
  canvas.width = wide * dpr;
  canvas.height = high * dpr;
  canvas.style.height = `${high}px`;
  const ctx = canvas.getContext("2d"), painter = new Painter(plan);
  ctx.setTransform(dpr * scale, 0, 0, -dpr * scale, sheet.size[0] * 0.01 * scale * dpr, (high - sheet.size[1] * 0.01 * scale) * dpr);
  painter.plate(ctx, scale, sheet);
  for (const p of sheet.placements) painter.part(ctx, scale, p[0], poseOf(p));
}

// The big picture.  `does` has what a gesture asks for: move, choose, start, tab, noTab, keepOff, swap, told.
export class SheetView {
  constructor(canvas, does) {
    this.canvas = canvas;
    this.does = does;
    this.show = { names: true, order: false, cuts: true, heat: false };
    this.tool = "select";
    this.chosen = null;
    this.held = null;
    this.pending = new Map();
    this.fingers = new Map();
    this.measured = [];
    this.frames = [];
    this.layer = document.createElement("canvas");
    const on = (name, act, options) => canvas.addEventListener(name, act, options);
    on("pointerdown", (e) => this.down(e));
    on("pointermove", (e) => this.moveTo(e));
    on("pointerup", (e) => this.up(e));
    on("pointercancel", (e) => this.up(e));
    on("wheel", (e) => { e.preventDefault(); this.zoom(e.deltaY < 0 ? 1.2 : 1 / 1.2, this.place(e)); }, { passive: false });
    on("keydown", (e) => this.key(e));
    this.watch = new ResizeObserver(() => this.resize());
    this.watch.observe(canvas);
  }

  close() { this.watch.disconnect(); }

  set(plan, sheet) {
    const other = !this.sheet || this.sheet.name !== sheet.name;
    if (this.plan !== plan) { this.painter = new Painter(plan); this.cutPaths = null; }
    this.plan = plan;
    this.sheet = sheet;
    this.pending.clear();
    if (other) { this.chosen = null; this.held = null; this.measured = []; }
    if (this.chosen !== null && !sheet.placements[this.chosen]) this.chosen = null;
    if (this.held && !this.held.off) this.held = null;
    this.shapes = sheet.placements.map((p) => shapeOf(plan, p));
    this.cutPaths = null;
    if (other) this.fit(); else this.redraw();
  }

  resize() {
    const dpr = devicePixelRatio || 1, box = this.canvas.getBoundingClientRect();
    if (!box.width) return;
    this.canvas.width = Math.round(box.width * dpr);
    this.canvas.height = Math.round(box.height * dpr);
    if (this.sheet) this.fit();
  }

  fit() {
    if (!this.sheet) return;
    const box = this.canvas.getBoundingClientRect(), [w, h] = this.sheet.size;
    this.scale = Math.max(0.02, Math.min((box.width - 2 * SIDE_PX) / w, (box.height - 2 * FOOT_PX) / h));
    this.corner = [(w - box.width / this.scale) / 2, (h - box.height / this.scale) / 2];
    this.redraw();
  }

  // Place on the plate under a pointer.
  place(e) {
    const box = this.canvas.getBoundingClientRect();
    return [this.corner[0] + (e.clientX - box.left) / this.scale, this.corner[1] + (box.bottom - e.clientY) / this.scale];
  }

  zoom(factor, about) {
    const box = this.canvas.getBoundingClientRect();
    const c = about || [this.corner[0] + box.width / 2 / this.scale, this.corner[1] + box.height / 2 / this.scale];
    const f = Math.min(60 / this.scale, Math.max(0.02 / this.scale, factor));
    this.corner = [0, 1].map((k) => c[k] - (c[k] - this.corner[k]) / f);
    this.scale *= f;
    this.redraw();
  }

  pan(dx, dy) { this.corner[0] += dx; this.corner[1] += dy; this.redraw(); }

  redraw() { this.stale = true; this.draw(); }

  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => { this.asked = null; this.paint(); });
  }

  onPlate(ctx) {
    const dpr = devicePixelRatio || 1, s = this.scale * dpr;
    ctx.setTransform(s, 0, 0, -s, -this.corner[0] * s, this.canvas.height + this.corner[1] * s);
  }

  paint() {
    if (!this.sheet) return;
    const ctx = this.canvas.getContext("2d");
    if (this.stale || this.layer.width !== this.canvas.width || this.layer.height !== this.canvas.height) this.paintStill();
    ctx.setTransform(1, 0, 0, 1, 0, 0);
    ctx.clearRect(0, 0, this.canvas.width, this.canvas.height);
    ctx.drawImage(this.layer, 0, 0);
    this.onPlate(ctx);
    this.paintMoving(ctx);
  }

  paintStill() {
    this.layer.width = this.canvas.width;
    this.layer.height = this.canvas.height;
    this.stale = false;
    const ctx = this.layer.getContext("2d"), { sheet, scale } = this;
    this.onPlate(ctx);
    this.painter.plate(ctx, scale, sheet);
    this.axes(ctx);
    sheet.placements.forEach((p, row) => {
      if (this.held && this.held.row === row) return;
      const pose = this.pending.get(row) || poseOf(p);
      const chosen = row === this.chosen;
      this.painter.part(ctx, scale, p[0], pose, { line: chosen ? 2.6 : 1, fill: chosen ? "#eaf1f0" : METAL, dash: this.pending.has(row) ? [5, 4] : null });
    });
    if (!this.held && !this.pending.size) this.paintCuts(ctx);
    this.paintNames(ctx);
  }

  axes(ctx) {
    const [w, h] = this.sheet.size, step = [10, 20, 50, 100, 200, 500, 1000].find((s) => s * this.scale > 60) || 2000;
    ctx.strokeStyle = PALE;
    ctx.lineWidth = 1 / this.scale;
    ctx.beginPath();
    for (let x = 0; x <= w + 1e-6; x += step) { ctx.moveTo(x, 0); ctx.lineTo(x, -6 / this.scale); this.write(ctx, String(x), x, -15 / this.scale, 10, PALE); }
    for (let y = step; y <= h + 1e-6; y += step) { ctx.moveTo(0, y); ctx.lineTo(-6 / this.scale, y); this.write(ctx, String(y), -18 / this.scale, y, 10, PALE); }
    ctx.stroke();
  }

  paintCuts(ctx) {
    const { sheet, scale, show } = this;
    if (!this.cutPaths) this.cutPaths = { ways: pathOf(sheet.cuts.map((c) => c.path), false), travel: pathOf(sheet.cuts.map((c) => c.travel), false) };
    if (show.cuts) {
      ctx.strokeStyle = CUT;
      ctx.lineWidth = 1.1 / scale;
      ctx.stroke(this.cutPaths.ways);
      ctx.fillStyle = LEAD;
      for (const c of sheet.cuts) { ctx.beginPath(); ctx.arc(...c.pierce, 2.4 / scale, 0, 7); ctx.fill(); }
      for (const [x, y] of sheet.tabs) { const r = 5 / scale; ctx.fillStyle = INK; ctx.fill(pathOf([[x - r, y, x, y + r, x + r, y, x, y - r]])); }
    }
    if (show.order) {
      ctx.strokeStyle = PALE;
      ctx.lineWidth = 0.9 / scale;
      ctx.setLineDash([5 / scale, 4 / scale]);
      ctx.stroke(this.cutPaths.travel);
      ctx.setLineDash([]);
      const seats = [];
      sheet.cuts.forEach((c, i) => {
        const at = [c.pierce[0], c.pierce[1] + 9 / scale];
        if (seats.some((s) => Math.abs(s[0] - at[0]) < 16 / scale && Math.abs(s[1] - at[1]) < 11 / scale)) return;
        seats.push(at);
        this.write(ctx, String(i + 1), ...at, 11, INK, true);
      });
    }
    if (show.heat) {
      sheet.cuts.forEach((c) => {
        if (c.heat < 40) return;
        ctx.strokeStyle = LEAD;
        ctx.lineWidth = 1.5 / scale;
        ctx.beginPath();
        ctx.arc(...c.pierce, (3 + Math.min(c.heat, 400) / 16) / scale, 0, 7);
        ctx.stroke();
        if (c.heat >= 70) this.write(ctx, String(c.heat), c.pierce[0], c.pierce[1] - 10 / scale, 11, LEAD, true);
      });
    }
    if (this.lit) this.paintLit(ctx);
  }

  paintLit(ctx) {
    const c = this.sheet.cuts[this.lit - 1];
    if (!c) return;
    ctx.strokeStyle = INK;
    ctx.lineWidth = 4 / this.scale;
    ctx.stroke(pathOf([c.path], false));
    this.write(ctx, String(this.lit), c.pierce[0], c.pierce[1] + 14 / this.scale, 14, INK, true);
  }

  paintNames(ctx) {
    this.sheet.placements.forEach((p, row) => {
      if (this.held && this.held.row === row) return;
      const pose = this.pending.get(row) || poseOf(p), at = turned(this.plan.parts[p[0]].seat, pose), box = this.shapes[row].box;
      if (p[6]) this.pin(ctx, at[0], at[1] + 14 / this.scale);
      // Names and the numbers of the order would stand on each other.
      if (!this.show.names || this.show.order) return;
      const words = t("copyOf", { part: p[0], copy: p[1] }), room = (box[2] - box[0]) * this.scale;
      if (room > 26 && (box[3] - box[1]) * this.scale > 14) this.write(ctx, room > 6.2 * words.length ? words : String(p[1]), ...at, 11, INK, true);
    });
  }

  // A pin: a square with a cross, so that it shows without colour.
  pin(ctx, x, y) {
    const r = 5 / this.scale;
    ctx.fillStyle = "#fff"; ctx.strokeStyle = INK; ctx.lineWidth = 1.5 / this.scale;
    ctx.beginPath(); ctx.rect(x - r, y - r, 2 * r, 2 * r); ctx.fill();
    ctx.moveTo(x - r, y - r); ctx.lineTo(x + r, y + r); ctx.moveTo(x - r, y + r); ctx.lineTo(x + r, y - r); ctx.stroke();
  }

  write(ctx, words, x, y, size, ink, clear = false) {
    ctx.save();
    ctx.translate(x, y);
    ctx.scale(1 / this.scale, -1 / this.scale);
    ctx.font = `${size}px "DejaVu Sans", Verdana, sans-serif`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    if (clear) { ctx.strokeStyle = "rgba(255,255,255,.85)"; ctx.lineWidth = 3; ctx.strokeText(words, 0, 0); }
    ctx.fillStyle = ink;
    ctx.fillText(words, 0, 0);
    ctx.restore();
  }

  paintMoving(ctx) {
    const { held, scale } = this;
    if (held) {
      const look = held.bad ? { line: 2.4, fill: "#f3e3da", ink: "#8c2f0d", dash: [3, 3] } : { line: 2.4, fill: "#eaf1f0" };
      this.painter.part(ctx, scale, held.part, held.pose, look);
      if (held.bad && held.bad.from) {
        ctx.strokeStyle = "#8c2f0d"; ctx.lineWidth = 2 / scale;
        ctx.beginPath(); ctx.moveTo(...held.bad.from); ctx.lineTo(...held.bad.to); ctx.stroke();
        const [x, y] = held.bad.from, r = 8 / scale;
        ctx.beginPath(); ctx.moveTo(x - r, y - r); ctx.lineTo(x + r, y + r); ctx.moveTo(x - r, y + r); ctx.lineTo(x + r, y - r); ctx.stroke();
      } else {
        ctx.strokeStyle = CUT; ctx.lineWidth = 1.4 / scale;
        for (const f of held.near || []) if (f.from && Math.abs(f.d - f.needed) < 0.01) { ctx.beginPath(); ctx.moveTo(...f.from); ctx.lineTo(...f.to); ctx.stroke(); }
      }
    }
    if (this.measured.length) {
      const [a, b] = [this.measured[0], this.measured[1] || this.pointer];
      ctx.strokeStyle = INK; ctx.lineWidth = 1.6 / scale;
      for (const p of [a, b]) if (p) { ctx.beginPath(); ctx.arc(...p, 4 / scale, 0, 7); ctx.stroke(); }
      if (b) {
        ctx.beginPath(); ctx.moveTo(...a); ctx.lineTo(...b); ctx.stroke();
        const dx = Math.abs(b[0] - a[0]), dy = Math.abs(b[1] - a[1]);
        this.write(ctx, t("distance", { mm: number(Math.hypot(dx, dy), 2), x: number(dx, 2), y: number(dy, 2) }), (a[0] + b[0]) / 2, (a[1] + b[1]) / 2 + 12 / scale, 12, INK, true);
      }
    }
    if (this.boxed) { const [a, b] = this.boxed; hatched(ctx, scale, pathOf([[a[0], a[1], b[0], a[1], b[0], b[1], a[0], b[1]]])); }
  }

  rowAt(x, y) {
    for (let row = this.shapes.length - 1; row >= 0; row--) if (this.shapes[row].holds(x, y)) return row;
    return null;
  }

  choose(row) {
    if (this.chosen === row) return;
    this.chosen = row;
    this.redraw();
    this.does.choose(row);
  }

  // Takes a part in hand: one that lies here, or one without a place.
  hold(part, copy, pose, row, off = false) {
    this.ground = new Ground(this.plan, this.sheet, row);
    this.base = Shape.of(this.plan.parts[part], { ...pose, x: 0, y: 0 });
    this.held = { part, copy, pose: { ...pose }, row, off, good: null };
    this.redraw();
  }

  // Brings what is in hand as near to a place as it goes.
  bring(x, y, free = false) {
    const { held } = this, started = performance.now();
    const shape = this.base.moved(x, y);
    if (free) {
      const near = this.ground.near(shape, 0.001), bad = near[0] && (near[0].overlap || near[0].d < near[0].needed - TOO_NEAR) ? near[0] : null;
      Object.assign(held, { pose: { ...held.pose, x, y }, bad, near });
    } else {
      const reach = SNAP_PX / this.scale;
      let found = this.ground.settle(shape, reach), at = [x, y];
      if (found.bad && held.good && Math.hypot(held.good[0] - x, held.good[1] - y) < 6 * reach) {
        // Slid against something: as far along the way as it goes.
        let [lo, hi] = [0, 1];
        for (let i = 0; i < 10; i++) {
          const mid = (lo + hi) / 2, trial = this.base.moved(held.good[0] + mid * (x - held.good[0]), held.good[1] + mid * (y - held.good[1]));
          const near = this.ground.near(trial, 0)[0];
          if (near && (near.overlap || near.d < near.needed)) hi = mid; else lo = mid;
        }
        at = [held.good[0] + lo * (x - held.good[0]), held.good[1] + lo * (y - held.good[1])];
        const slid = this.ground.settle(this.base.moved(...at), reach);
        if (!slid.bad) found = slid; else at = [x, y];
      }
      const pose = { ...held.pose, x: at[0] + found.dx, y: at[1] + found.dy };
      Object.assign(held, { pose, bad: found.bad, near: found.near });
      if (!found.bad) held.good = [pose.x, pose.y];
    }
    this.frames.push(performance.now() - started);
    if (this.frames.length > 2000) this.frames.shift();
    this.does.said(held.bad ? this.words(held.bad) : t("fits"));
    this.draw();
  }

  words(bad) {
    const other = bad.thing.name || t(bad.thing.kind);
    return bad.overlap ? t("gapOverlap", { other }) : t("gapNear", { apart: number(bad.d, 2), other, needed: number(bad.needed, 2) });
  }

  // Lays what is in hand; the server has the last word.
  lay() {
    const { held } = this;
    this.held = null;
    if (!held) return;
    this.redraw();
    if (held.bad) { this.does.refused(`${t("copyOf", held)} ${this.words(held.bad)}`); return; }
    const pose = held.pose, was = held.row !== null && this.sheet.placements[held.row];
    if (was && was[2] === pose.x && was[3] === pose.y && was[4] === pose.turn) return;
    if (held.row !== null) this.pending.set(held.row, pose);
    this.does.move(held, this.sheet.name);
  }

  leave() { this.held = null; this.measured = []; this.boxed = null; this.redraw(); }

  vertexNear(at) {
    let best = null, least = 8 / this.scale;
    const look = (x, y) => { const d = Math.hypot(x - at[0], y - at[1]); if (d < least) { least = d; best = [x, y]; } };
    for (const shape of this.shapes) {
      const b = shape.box;
      if (at[0] < b[0] - least || at[0] > b[2] + least || at[1] < b[1] - least || at[1] > b[3] + least) continue;
      for (const ring of shape.rings) for (let i = 0; i < ring.length; i += 2) look(ring[i], ring[i + 1]);
    }
    const o = this.sheet.outline;
    for (let i = 0; i < o.length; i += 2) look(o[i], o[i + 1]);
    return best || at;
  }

  // The contour of a part that is nearest to a place: its name, and the place in the drawing.
  contourNear(row, at) {
    let best = Infinity, which = 0;
    this.shapes[row].rings.forEach((ring, k) => {
      for (let i = 0; i < ring.length; i += 2) {
        const j = (i + 2) % ring.length, dx = ring[j] - ring[i], dy = ring[j + 1] - ring[i + 1], l = dx * dx + dy * dy || 1;
        const s = Math.max(0, Math.min(1, ((at[0] - ring[i]) * dx + (at[1] - ring[i + 1]) * dy) / l));
        const d = Math.hypot(ring[i] + s * dx - at[0], ring[i + 1] + s * dy - at[1]);
        if (d < best) { best = d; which = k; }
      }
    });
    return { contour: which ? `hole ${which}` : "outside", at: unturned(at, poseOf(this.sheet.placements[row])) };
  }

  nearestRow(at) {
    let row = this.rowAt(...at), least = 40 / this.scale;
    if (row !== null) return row;
    this.shapes.forEach((shape, k) => {
      const b = shape.box, d = Math.hypot(Math.max(b[0] - at[0], at[0] - b[2], 0), Math.max(b[1] - at[1], at[1] - b[3], 0));
      if (d < least || inside(shape.rings[0], ...at)) { least = d; row = k; }
    });
    return row;
  }

  down(e) {
    this.canvas.focus();
    this.fingers.set(e.pointerId, e);
    try { this.canvas.setPointerCapture(e.pointerId); } catch { /* a finger already gone */ }
    const at = this.place(e);
    this.pressed = { at, x: e.clientX, y: e.clientY, row: this.rowAt(...at), moved: false, corner: [...this.corner] };
    if (this.tool === "keepOff") this.boxed = [at, at];
  }

  moveTo(e) {
    const at = this.place(e);
    this.pointer = this.tool === "measure" ? this.vertexNear(at) : at;
    if (this.fingers.size === 2 && this.fingers.has(e.pointerId)) { this.pinch(e); return; }
    if (this.held && this.held.off && !this.pressed) { this.bring(at[0] - this.held.grip[0], at[1] - this.held.grip[1]); return; }
    if (this.measured.length === 1) this.draw();
    if (!this.pressed || !this.fingers.has(e.pointerId)) return;
    const far = Math.hypot(e.clientX - this.pressed.x, e.clientY - this.pressed.y) > CLICK_PX;
    if (!far && !this.pressed.moved) return;
    this.pressed.moved = true;
    if (this.tool === "keepOff" && this.boxed) { this.boxed[1] = at; this.draw(); return; }
    const p = this.pressed.row !== null && this.sheet.placements[this.pressed.row];
    if (this.tool === "select" && p && e.pointerType !== "touch" && !(this.held && this.held.off)) {
      if (!this.held) {
        this.choose(this.pressed.row);
        if (p[6]) { this.does.refused(`${t("copyOf", { part: p[0], copy: p[1] })}: ${t("pinned")}`); this.pressed = null; return; }
        this.hold(p[0], p[1], poseOf(p), this.pressed.row);
      }
      this.bring(p[2] + at[0] - this.pressed.at[0], p[3] + at[1] - this.pressed.at[1]);
      return;
    }
    this.corner = [this.pressed.corner[0] - (e.clientX - this.pressed.x) / this.scale, this.pressed.corner[1] + (e.clientY - this.pressed.y) / this.scale];
    this.redraw();
  }

  pinch(e) {
    const [other] = [...this.fingers.values()].filter((f) => f.pointerId !== e.pointerId), before = this.fingers.get(e.pointerId);
    const spread = (p) => Math.hypot(p.clientX - other.clientX, p.clientY - other.clientY);
    if (spread(before) > 0) this.zoom(spread(e) / spread(before), this.place(other));
    this.fingers.set(e.pointerId, e);
  }

  up(e) {
    this.fingers.delete(e.pointerId);
    const pressed = this.pressed, at = this.place(e);
    this.pressed = null;
    if (!pressed) return;
    if (this.held && !this.held.off) { this.lay(); return; }
    if (this.tool === "keepOff" && this.boxed) { const box = this.boxed; this.boxed = null; this.redraw(); if (pressed.moved) this.does.keepOff(box); return; }
    if (pressed.moved) return;
    if (this.held) { this.lay(); return; }
    this.click(at);
  }

  click(at) {
    if (this.tool === "measure") {
      this.measured = this.measured.length === 1 ? [this.measured[0], this.vertexNear(at)] : [this.vertexNear(at)];
      if (this.measured.length === 2) this.does.said(t("distance", { mm: number(Math.hypot(this.measured[1][0] - this.measured[0][0], this.measured[1][1] - this.measured[0][1]), 2), x: number(Math.abs(this.measured[1][0] - this.measured[0][0]), 2), y: number(Math.abs(this.measured[1][1] - this.measured[0][1]), 2) }));
      this.draw();
      return;
    }
    if (["start", "tab", "noTab"].includes(this.tool)) {
      const row = this.nearestRow(at);
      if (row !== null) { this.choose(row); this.does.mark(this.tool, row, this.contourNear(row, at)); }
      return;
    }
    const row = this.rowAt(...at);
    if (this.does.picked && row !== null && this.does.picked(row)) return;
    this.choose(row);
    if (this.show.cuts || this.show.order) this.cutNear(at);
  }

  cutNear(at) {
    let best = null, least = 6 / this.scale;
    this.sheet.cuts.forEach((c, i) => { const d = Math.hypot(c.pierce[0] - at[0], c.pierce[1] - at[1]); if (d < least) { least = d; best = i + 1; } });
    if (best) this.does.cut(best);
  }

  light(n) { this.lit = n; this.redraw(); }

  key(e) {
    const p = this.chosen !== null ? this.sheet.placements[this.chosen] : null;
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (arrows && (this.held || (p && this.tool === "select"))) {
      e.preventDefault();
      if (!this.held) {
        if (p[6]) { this.does.refused(`${t("copyOf", { part: p[0], copy: p[1] })}: ${t("pinned")}`); return; }
        this.hold(p[0], p[1], poseOf(p), this.chosen);
      }
      const step = e.shiftKey ? 10 : e.altKey ? 0.1 : 1;
      this.bring(this.held.pose.x + arrows[0] * step, this.held.pose.y + arrows[1] * step, true);
      return;
    }
    if (arrows) { e.preventDefault(); const d = 60 / this.scale; this.pan(arrows[0] * d, arrows[1] * d); return; }
    const act = {
      "+": () => this.zoom(1.25), "-": () => this.zoom(0.8), 0: () => this.fit(),
      Enter: () => this.held && this.lay(), Escape: () => { this.leave(); this.choose(null); },
    }[e.key];
    if (act) { e.preventDefault(); act(); } else if (p) this.does.key(e);
  }
}
