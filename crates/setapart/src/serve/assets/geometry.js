// Plane geometry of outlines, mm, x right, y up: how near two parts come, fast enough to be told while one moves.
// @ts-check

/** @typedef {{x: number, y: number, turn: number}} Pose  Turn in degrees counter-clockwise about the part's origin. */
/** @typedef {{distance: number, from: [number, number], to: [number, number]}} Near */

/** Sides in one leaf of the tree. */
const LEAF = 6;

/**
 * Sides of an outline in a tree of boxes. Sides follow each other along a ring, so halving the list halves the place.
 */
export class Tree {
  /** @param {[number, number][][]} rings  Open rings; the first is the outer one. */
  constructor(rings) {
    const n = rings.reduce((sum, ring) => sum + ring.length, 0);
    /** Sides' ends in the part's own coordinates: x, y, x, y. */
    this.own = new Float64Array(4 * n);
    let k = 0;
    for (const ring of rings) {
      for (let i = 0; i < ring.length; i++) {
        const a = ring[i], b = ring[(i + 1) % ring.length];
        this.own.set([a[0], a[1], b[0], b[1]], k);
        k += 4;
      }
    }
    /** The same as placed. */
    this.sides = Float64Array.from(this.own);
    this.count = n;
    /** Nodes: first side, number of sides, left child, right child (-1: a leaf). @type {number[]} */
    this.nodes = [];
    this.#grow(0, n);
    this.boxes = new Float64Array(this.nodes.length);
    this.#measure();
  }

  /** @param {number} from @param {number} n @returns {number} */
  #grow(from, n) {
    const at = this.nodes.length;
    this.nodes.push(from, n, -1, -1);
    if (n > LEAF) {
      const half = n >> 1;
      this.nodes[at + 2] = this.#grow(from, half);
      this.nodes[at + 3] = this.#grow(from + half, n - half);
    }
    return at;
  }

  /** Boxes from the leaves up: children come after their parents in the list. */
  #measure() {
    const { nodes, boxes, sides } = this;
    for (let at = nodes.length - 4; at >= 0; at -= 4) {
      let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
      if (nodes[at + 2] < 0) {
        const end = 4 * (nodes[at] + nodes[at + 1]);
        for (let k = 4 * nodes[at]; k < end; k += 2) {
          const x = sides[k], y = sides[k + 1];
          if (x < x0) x0 = x;
          if (x > x1) x1 = x;
          if (y < y0) y0 = y;
          if (y > y1) y1 = y;
        }
      } else {
        for (const child of [nodes[at + 2], nodes[at + 3]]) {
          x0 = Math.min(x0, boxes[child]);
          y0 = Math.min(y0, boxes[child + 1]);
          x1 = Math.max(x1, boxes[child + 2]);
          y1 = Math.max(y1, boxes[child + 3]);
        }
      }
      boxes[at] = x0;
      boxes[at + 1] = y0;
      boxes[at + 2] = x1;
      boxes[at + 3] = y1;
    }
  }

  /** Carries the outline to a pose. @param {Pose} pose */
  place(pose) {
    const c = Math.cos(pose.turn * Math.PI / 180), s = Math.sin(pose.turn * Math.PI / 180);
    const { own, sides } = this;
    for (let k = 0; k < own.length; k += 2) {
      const x = own[k], y = own[k + 1];
      sides[k] = pose.x + c * x - s * y;
      sides[k + 1] = pose.y + s * x + c * y;
    }
    this.#measure();
  }

  /** Least and greatest x and y as placed. @returns {[number, number, number, number]} */
  get bounds() {
    return [this.boxes[0], this.boxes[1], this.boxes[2], this.boxes[3]];
  }

  /** Whether a point lies in the part's material. @param {number} x @param {number} y */
  contains(x, y) {
    const { sides } = this;
    let inside = false;
    for (let k = 0; k < sides.length; k += 4) {
      const y0 = sides[k + 1], y1 = sides[k + 3];
      if ((y0 > y) !== (y1 > y) && x < sides[k] + (y - y0) * (sides[k + 2] - sides[k]) / (y1 - y0)) inside = !inside;
    }
    return inside;
  }
}

/**
 * How near two placed outlines come, where that is less than `cap`; 0 where they touch or overlap.
 * @param {Tree} a @param {Tree} b @param {number} cap @returns {Near | null}
 */
export function nearest(a, b, cap = Infinity) {
  let best = cap * cap;
  /** @type {Near | null} */
  let found = null;
  const stack = [[boxes2(a, 0, b, 0), 0, 0]];
  while (stack.length > 0) {
    const [apart, i, j] = /** @type {number[]} */ (stack.pop());
    if (apart >= best) continue;
    const iLeaf = a.nodes[i + 2] < 0, jLeaf = b.nodes[j + 2] < 0;
    if (iLeaf && jLeaf) {
      const iEnd = 4 * (a.nodes[i] + a.nodes[i + 1]), jEnd = 4 * (b.nodes[j] + b.nodes[j + 1]);
      for (let k = 4 * a.nodes[i]; k < iEnd; k += 4) {
        for (let l = 4 * b.nodes[j]; l < jEnd; l += 4) {
          const near = sides2(a.sides, k, b.sides, l, best);
          if (near !== null) {
            best = near[0];
            found = { distance: Math.sqrt(near[0]), from: [near[1], near[2]], to: [near[3], near[4]] };
            if (best === 0) return found;
          }
        }
      }
      continue;
    }
    // The larger one is opened; the nearer half is looked at first.
    const openA = !iLeaf && (jLeaf || a.nodes[i + 1] >= b.nodes[j + 1]);
    const halves = openA
      ? [[boxes2(a, a.nodes[i + 2], b, j), a.nodes[i + 2], j], [boxes2(a, a.nodes[i + 3], b, j), a.nodes[i + 3], j]]
      : [[boxes2(a, i, b, b.nodes[j + 2]), i, b.nodes[j + 2]], [boxes2(a, i, b, b.nodes[j + 3]), i, b.nodes[j + 3]]];
    if (halves[0][0] < halves[1][0]) halves.reverse();
    for (const half of halves) if (half[0] < best) stack.push(half);
  }
  // No sides meet: one may still lie whole in the other's material.
  if (boxesMeet(a, b)) {
    const inA = a.contains(b.sides[0], b.sides[1]), inB = b.contains(a.sides[0], a.sides[1]);
    if (inA || inB) {
      /** @type {[number, number]} */
      const at = inA ? [b.sides[0], b.sides[1]] : [a.sides[0], a.sides[1]];
      return { distance: 0, from: at, to: at };
    }
  }
  return found;
}

/** @param {Tree} a @param {Tree} b */
function boxesMeet(a, b) {
  return boxes2(a, 0, b, 0) === 0;
}

/** Square of the distance of two boxes. @param {Tree} a @param {number} i @param {Tree} b @param {number} j */
function boxes2(a, i, b, j) {
  const A = a.boxes, B = b.boxes;
  const dx = Math.max(0, A[i] - B[j + 2], B[j] - A[i + 2]);
  const dy = Math.max(0, A[i + 1] - B[j + 3], B[j + 1] - A[i + 3]);
  return dx * dx + dy * dy;
}

/**
 * Square of the distance of two sides and the two nearest points, where it is less than `best`.
 * @param {Float64Array} A @param {number} k @param {Float64Array} B @param {number} l @param {number} best
 * @returns {[number, number, number, number, number] | null}
 */
function sides2(A, k, B, l, best) {
  const ax = A[k], ay = A[k + 1], bx = A[k + 2], by = A[k + 3];
  const cx = B[l], cy = B[l + 1], dx = B[l + 2], dy = B[l + 3];
  const meet = cross(ax, ay, bx, by, cx, cy) * cross(ax, ay, bx, by, dx, dy) < 0
    && cross(cx, cy, dx, dy, ax, ay) * cross(cx, cy, dx, dy, bx, by) < 0;
  if (meet) {
    const along = cross(cx, cy, dx, dy, ax, ay), over = cross(cx, cy, dx, dy, bx, by);
    const t = along / (along - over);
    const x = ax + t * (bx - ax), y = ay + t * (by - ay);
    return [0, x, y, x, y];
  }
  /** @type {[number, number, number, number, number] | null} */
  let found = null;
  for (const [px, py, sx, sy, ex, ey, own] of [
    [ax, ay, cx, cy, dx, dy, 1], [bx, by, cx, cy, dx, dy, 1],
    [cx, cy, ax, ay, bx, by, 0], [dx, dy, ax, ay, bx, by, 0],
  ]) {
    const vx = ex - sx, vy = ey - sy, length2 = vx * vx + vy * vy;
    const t = length2 > 0 ? Math.min(1, Math.max(0, ((px - sx) * vx + (py - sy) * vy) / length2)) : 0;
    const qx = sx + t * vx, qy = sy + t * vy;
    const d2 = (px - qx) * (px - qx) + (py - qy) * (py - qy);
    if (d2 < best) {
      best = d2;
      found = own === 1 ? [d2, px, py, qx, qy] : [d2, qx, qy, px, py];
    }
  }
  return found;
}

/** @param {number} ax @param {number} ay @param {number} bx @param {number} by @param {number} px @param {number} py */
function cross(ax, ay, bx, by, px, py) {
  return (bx - ax) * (py - ay) - (by - ay) * (px - ax);
}

/**
 * Of many placed outlines, the one that a moving one comes nearest to.
 * @param {Tree} mover @param {Iterable<[string, Tree]>} others @param {number} cap
 * @returns {(Near & {id: string}) | null}
 */
export function nearestOf(mover, others, cap = Infinity) {
  /** @type {(Near & {id: string}) | null} */
  let best = null;
  /** @type {[number, string, Tree][]} */
  const byBox = [];
  for (const [id, tree] of others) byBox.push([Math.sqrt(boxes2(mover, 0, tree, 0)), id, tree]);
  byBox.sort((a, b) => a[0] - b[0]);
  for (const [apart, id, tree] of byBox) {
    if (apart >= cap) break;
    const near = nearest(mover, tree, cap);
    if (near !== null && near.distance < cap) {
      best = { ...near, id };
      cap = near.distance;
      if (cap === 0) break;
    }
  }
  return best;
}

/** Carries a point of a part to the board. @param {Pose} pose @param {[number, number]} p @returns {[number, number]} */
export function carry(pose, p) {
  const c = Math.cos(pose.turn * Math.PI / 180), s = Math.sin(pose.turn * Math.PI / 180);
  return [pose.x + c * p[0] - s * p[1], pose.y + s * p[0] + c * p[1]];
}

/**
 * The pose at another turn that leaves a point of the part where it is.
 * @param {Pose} pose @param {[number, number]} fixed  In the part's own coordinates. @param {number} turn
 * @returns {Pose}
 */
export function turnedAbout(pose, fixed, turn) {
  const at = carry(pose, fixed);
  const moved = carry({ x: 0, y: 0, turn }, fixed);
  return { x: at[0] - moved[0], y: at[1] - moved[1], turn: ((turn % 360) + 360) % 360 };
}
