// Where parts may lie: distances between outlines, and the nearest place at the exact gap.
// A help for the hand: what holds is the server's word, measured on the drawn contours.
// Outlines stand outside the metal by up to 0.01 mm each: nearer than this is too near for certain.
export const TOO_NEAR = 0.021;

export function turned([x, y], pose) {
  const a = pose.turn * Math.PI / 180, c = Math.cos(a), s = Math.sin(a), mx = pose.mirrored ? -x : x;
  return [c * mx - s * y + pose.x, s * mx + c * y + pose.y];
}

export function unturned([x, y], pose) {
  const a = pose.turn * Math.PI / 180, c = Math.cos(a), s = Math.sin(a), dx = x - pose.x, dy = y - pose.y;
  const mx = c * dx + s * dy;
  return [pose.mirrored ? -mx : mx, -s * dx + c * dy];
}

function ringAt(ring, pose) {
  const out = new Float64Array(ring.length);
  for (let i = 0; i < ring.length; i += 2) [out[i], out[i + 1]] = turned([ring[i], ring[i + 1]], pose);
  return out;
}

function boxOf(ring) {
  let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
  for (let i = 0; i < ring.length; i += 2) {
    if (ring[i] < x0) x0 = ring[i]; if (ring[i] > x1) x1 = ring[i];
    if (ring[i + 1] < y0) y0 = ring[i + 1]; if (ring[i + 1] > y1) y1 = ring[i + 1];
  }
  return [x0, y0, x1, y1];
}

// A part where it lies: its outline and holes as rings on the plate.
export class Shape {
  constructor(outer, holes = []) {
    this.rings = [outer, ...holes];
    this.boxes = this.rings.map(boxOf);
    this.box = this.boxes[0];
  }

  static of(part, pose) { return new Shape(ringAt(part.outer, pose), part.holes.map((h) => ringAt(h, pose))); }

  moved(dx, dy) {
    const shift = (ring) => { const out = new Float64Array(ring); for (let i = 0; i < out.length; i += 2) { out[i] += dx; out[i + 1] += dy; } return out; };
    return new Shape(shift(this.rings[0]), this.rings.slice(1).map(shift));
  }

  holds(x, y) {
    const [x0, y0, x1, y1] = this.box;
    if (x < x0 || x > x1 || y < y0 || y > y1) return false;
    return inside(this.rings[0], x, y) && !this.rings.slice(1).some((ring) => inside(ring, x, y));
  }
}

export function inside(ring, x, y) {
  let odd = false;
  for (let i = 0, j = ring.length - 2; i < ring.length; j = i, i += 2) {
    const yi = ring[i + 1], yj = ring[j + 1];
    if ((yi > y) !== (yj > y) && x < (ring[j] - ring[i]) * (y - yi) / (yj - yi) + ring[i]) odd = !odd;
  }
  return odd;
}

function apartBoxes(a, b) {
  const dx = Math.max(a[0] - b[2], b[0] - a[2], 0), dy = Math.max(a[1] - b[3], b[1] - a[3], 0);
  return Math.hypot(dx, dy);
}

// Nearest distance of a point to a stretch, with the place on it.
function toStretch(px, py, ax, ay, bx, by) {
  const dx = bx - ax, dy = by - ay, l = dx * dx + dy * dy;
  const k = l > 0 ? Math.max(0, Math.min(1, ((px - ax) * dx + (py - ay) * dy) / l)) : 0;
  const x = ax + k * dx, y = ay + k * dy;
  return [Math.hypot(px - x, py - y), x, y];
}

function cross(ax, ay, bx, by, cx, cy, dx, dy) {
  const s = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax), e = (bx - ax) * (dy - ay) - (by - ay) * (dx - ax);
  if (s * e >= 0) return false;
  return ((dx - cx) * (ay - cy) - (dy - cy) * (ax - cx)) * ((dx - cx) * (by - cy) - (dy - cy) * (bx - cx)) < 0;
}

// Distance between two rings within a reach: {d, from a, to b}; d = 0 where they cross.
function ringsApart(a, boxA, b, boxB, reach, best) {
  if (apartBoxes(boxA, boxB) > reach) return best;
  const near = [];
  for (let j = 0; j < b.length; j += 2) {
    const k = (j + 2) % b.length;
    const x0 = Math.min(b[j], b[k]), x1 = Math.max(b[j], b[k]), y0 = Math.min(b[j + 1], b[k + 1]), y1 = Math.max(b[j + 1], b[k + 1]);
    if (x0 - reach > boxA[2] || x1 + reach < boxA[0] || y0 - reach > boxA[3] || y1 + reach < boxA[1]) continue;
    near.push(b[j], b[j + 1], b[k], b[k + 1], x0, y0, x1, y1);
  }
  for (let i = 0; i < a.length && near.length; i += 2) {
    const k = (i + 2) % a.length, ax = a[i], ay = a[i + 1], bx = a[k], by = a[k + 1];
    const x0 = Math.min(ax, bx), x1 = Math.max(ax, bx), y0 = Math.min(ay, by), y1 = Math.max(ay, by);
    if (x0 - best.d > boxB[2] || x1 + best.d < boxB[0] || y0 - best.d > boxB[3] || y1 + best.d < boxB[1]) continue;
    for (let j = 0; j < near.length; j += 8) {
      if (near[j + 4] - best.d > x1 || near[j + 6] + best.d < x0 || near[j + 5] - best.d > y1 || near[j + 7] + best.d < y0) continue;
      const cx = near[j], cy = near[j + 1], dx = near[j + 2], dy = near[j + 3];
      if (cross(ax, ay, bx, by, cx, cy, dx, dy)) return { d: 0, overlap: true, from: [ax, ay], to: [cx, cy] };
      let r = toStretch(ax, ay, cx, cy, dx, dy);
      if (r[0] < best.d) best = { d: r[0], from: [ax, ay], to: [r[1], r[2]] };
      r = toStretch(cx, cy, ax, ay, bx, by);
      if (r[0] < best.d) best = { d: r[0], from: [r[1], r[2]], to: [cx, cy] };
    }
  }
  return best;
}

export function apart(one, other, reach) {
  let best = { d: reach + 1e-9, from: null, to: null };
  if (apartBoxes(one.box, other.box) > reach) return best;
  for (let i = 0; i < one.rings.length; i++) {
    for (let j = 0; j < other.rings.length; j++) {
      best = ringsApart(one.rings[i], one.boxes[i], other.rings[j], other.boxes[j], Math.min(reach, best.d), best);
      if (best.overlap) return best;
    }
  }
  const a = one.rings[0], b = other.rings[0];
  if (other.holds(a[0], a[1]) || one.holds(b[0], b[1])) return { d: 0, overlap: true, from: [a[0], a[1]], to: [b[0], b[1]] };
  return best;
}

// What a part must keep off on a sheet.
export class Ground {
  constructor(plan, sheet, except) {
    const bench = plan.benches[sheet.bench];
    this.things = [];
    sheet.placements.forEach((p, row) => {
      if (row === except) return;
      this.things.push({ shape: shapeOf(plan, p), needed: bench.gap, name: `${p[0]} ${p[1]}`, kind: "part" });
    });
    sheet.keep_off.forEach((ring, i) => this.things.push({ shape: new Shape(Float64Array.from(ring)), needed: sheet.stands[i] ? bench.clamp : bench.gap, kind: "keepOffName" }));
    sheet.voids.forEach((ring) => this.things.push({ shape: new Shape(Float64Array.from(ring)), needed: bench.gap, kind: "keepOffName" }));
    this.plate = Float64Array.from(sheet.outline);
    this.plateBox = boxOf(this.plate);
    this.edge = bench.edge;
  }

  // All that lies within reach, the worst first.
  near(shape, reach) {
    const found = [];
    for (const thing of this.things) {
      const r = apart(shape, thing.shape, thing.needed + reach);
      if (r.from) found.push({ ...r, needed: thing.needed, thing });
    }
    const ring = shape.rings[0];
    const off = !inside(this.plate, ring[0], ring[1]);
    const e = ringsApart(ring, shape.box, this.plate, this.plateBox, 1e9, { d: this.edge + reach + 1e-9, from: null, to: null });
    if (off || e.from) found.push({ ...(e.from ? e : { from: [ring[0], ring[1]], to: [ring[0], ring[1]] }), d: off ? 0 : e.d, overlap: off || e.overlap, needed: this.edge, thing: { kind: "edge" } });
    return found.sort((p, q) => (p.d - p.needed) - (q.d - q.needed));
  }

  // The place near a wanted one where the part lies at the exact gap from what is near; and what is in the way.
  settle(shape, reach) {
    let dx = 0, dy = 0, now = shape, found = [];
    for (let round = 0; round < 24; round++) {
      found = this.near(now, reach);
      const off = found.filter((f) => !f.overlap && Math.abs(f.d - f.needed) > 1e-5 && f.d > 1e-6 && f.d < f.needed + reach);
      const worst = found[0];
      if (!worst || worst.overlap) break;
      const pick = worst.d < worst.needed - 1e-5 ? worst : off.find((f) => round < 2 && f.d > f.needed);
      if (!pick) break;
      const k = (pick.needed - pick.d) / pick.d, sx = (pick.from[0] - pick.to[0]) * k, sy = (pick.from[1] - pick.to[1]) * k;
      if (Math.hypot(dx + sx, dy + sy) > reach * 3) break;
      dx += sx; dy += sy;
      now = shape.moved(dx, dy);
    }
    found = this.near(now, reach);
    const bad = found[0] && (found[0].overlap || found[0].d < found[0].needed - TOO_NEAR) ? found[0] : null;
    return { dx, dy, shape: now, bad, near: found };
  }
}

export function poseOf(p) { return { x: p[2], y: p[3], turn: p[4], mirrored: p[5] }; }

export function shapeOf(plan, placement) { return Shape.of(plan.parts[placement[0]], poseOf(placement)); }
