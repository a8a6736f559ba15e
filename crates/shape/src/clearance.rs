//! Least distance between outlines, by a bounding-volume tree over their sides.

use crate::{Bounds, Outline, Point, Pose, Ring};

/// Sides of one leaf: few enough that testing all pairs of two leaves beats descending further.
const LEAF: usize = 4;

/// An outline's sides in a tree, ready for many distance queries.
#[derive(Debug, Clone)]
pub struct EdgeTree {
    outline: Outline,
    pub(crate) sides: Vec<(Point, Point)>,
    pub(crate) nodes: Vec<Node>,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub(crate) bounds: Bounds,
    /// Sides `first..last`; for an inner node the children follow: left at +1, right at `right`.
    pub(crate) first: usize,
    pub(crate) last: usize,
    pub(crate) right: usize,
}

impl EdgeTree {
    /// Builds the tree; O(n log n).
    pub fn new(outline: Outline) -> Self {
        let mut sides: Vec<_> = outline.rings().flat_map(Ring::sides).collect();
        let mut nodes = Vec::with_capacity(sides.len());
        let n = sides.len();
        build(&mut sides, 0, n, &mut nodes);
        Self {
            outline,
            sides,
            nodes,
        }
    }

    /// The tree of one ring's sides, whichever way the ring runs; only for distances to its edge.
    pub(crate) fn of_ring(ring: Ring) -> Self {
        Self::of_rings(vec![ring])
    }

    /// The same of several rings, which may cross.
    pub(crate) fn of_rings(rings: Vec<Ring>) -> Self {
        Self::new(Outline::of_rings(rings))
    }

    /// The outline that the tree was made of.
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// The outline's bounding box, without running over its points again.
    pub fn bounds(&self) -> Bounds {
        self.nodes[0].bounds
    }

    /// The same tree carried by a pose, as [`Outline::placed`] (boxes are rebuilt; the order of sides is kept).
    pub fn placed(&self, outer_from_inner: Pose) -> Self {
        let mut moved = Self {
            outline: self.outline.placed(outer_from_inner),
            sides: self
                .sides
                .iter()
                .map(|&(a, b)| (outer_from_inner.apply(a), outer_from_inner.apply(b)))
                .collect(),
            nodes: self.nodes.clone(),
        };
        // Children come after their parent, so one backward pass refits every box.
        for k in (0..moved.nodes.len()).rev() {
            let node = moved.nodes[k];
            moved.nodes[k].bounds = if node.right == 0 {
                bounds_of(&moved.sides[node.first..node.last])
            } else {
                moved.nodes[k + 1]
                    .bounds
                    .joined(moved.nodes[node.right].bounds)
            };
        }
        moved
    }

    /// Least distance between the two outlines' material, mm; 0 where they touch or overlap, and a
    /// part inside the other's hole has its distance to the hole's edge. Answers `cap_mm` where the
    /// distance is that or more (pass infinity for the exact distance).
    pub fn clearance_mm(&self, other: &Self, cap_mm: f64) -> f64 {
        let cap2 = cap_mm * cap_mm;
        if box_distance2(self.nodes[0].bounds, other.nodes[0].bounds) >= cap2 {
            return cap_mm;
        }
        if self.covers_start_of(other) || other.covers_start_of(self) {
            return 0.0;
        }
        let mut best2 = cap2;
        let mut stack = Vec::with_capacity(64);
        stack.push((0usize, 0usize, 0.0));
        while let Some((i, j, near2)) = stack.pop() {
            if near2 >= best2 {
                continue;
            }
            let (a, b) = (self.nodes[i], other.nodes[j]);
            let (leaf_a, leaf_b) = (a.right == 0, b.right == 0);
            if leaf_a && leaf_b {
                for s in &self.sides[a.first..a.last] {
                    for t in &other.sides[b.first..b.last] {
                        best2 = best2.min(side_distance2(*s, *t));
                    }
                }
                if best2 == 0.0 {
                    return 0.0;
                }
                continue;
            }
            // The larger of the two is opened, a leaf never.
            let open_a = leaf_b || (!leaf_a && a.last - a.first >= b.last - b.first);
            let pairs = if open_a {
                [(i + 1, j), (a.right, j)]
            } else {
                [(i, j + 1), (i, b.right)]
            };
            let [p, q] = pairs.map(|(i, j)| {
                let apart2 = box_distance2(self.nodes[i].bounds, other.nodes[j].bounds);
                (i, j, apart2)
            });
            // The nearer pair is looked at first.
            let (first, then) = if p.2 < q.2 { (p, q) } else { (q, p) };
            if then.2 < best2 {
                stack.push(then);
            }
            if first.2 < best2 {
                stack.push(first);
            }
        }
        // The cap itself, not the root of its square, where nothing nearer was found.
        if best2 < cap2 { best2.sqrt() } else { cap_mm }
    }

    /// A point of the other outline's edge lies in this one's material. Where no edges meet, that says
    /// whether one outline covers the other.
    fn covers_start_of(&self, other: &Self) -> bool {
        let p = other.outline.outer().points()[0];
        self.nodes[0].bounds.contains(p) && self.outline.contains(p)
    }
}

impl EdgeTree {
    /// Least distance between a straight line from `a` to `b` and the outline's material, mm; 0 where
    /// they meet. Answers `cap_mm` where the distance is that or more.
    pub fn line_clearance_mm(&self, a: Point, b: Point, cap_mm: f64) -> f64 {
        if self.nodes[0].bounds.contains(a) && self.outline.contains(a) {
            return 0.0;
        }
        let line = Bounds::between(a, b);
        let cap2 = cap_mm * cap_mm;
        let mut best2 = cap2;
        let mut stack = vec![0usize];
        while let Some(i) = stack.pop() {
            let node = self.nodes[i];
            if box_distance2(node.bounds, line) >= best2 {
                continue;
            }
            if node.right == 0 {
                for side in &self.sides[node.first..node.last] {
                    best2 = best2.min(side_distance2(*side, (a, b)));
                }
            } else {
                stack.extend([node.right, i + 1]);
            }
        }
        if best2 < cap2 { best2.sqrt() } else { cap_mm }
    }
}

fn bounds_of(sides: &[(Point, Point)]) -> Bounds {
    Bounds::around(sides.iter().flat_map(|&(a, b)| [a, b])).unwrap_or(Bounds {
        min: Point::default(),
        max: Point::default(),
    })
}

fn build(sides: &mut [(Point, Point)], first: usize, last: usize, nodes: &mut Vec<Node>) {
    let bounds = bounds_of(&sides[first..last]);
    let at = nodes.len();
    nodes.push(Node {
        bounds,
        first,
        last,
        right: 0,
    });
    if last - first <= LEAF {
        return;
    }
    let wide = bounds.width_mm() >= bounds.height_mm();
    let key = |s: &(Point, Point)| if wide { s.0.x + s.1.x } else { s.0.y + s.1.y };
    sides[first..last].sort_by(|s, t| key(s).total_cmp(&key(t)));
    let mid = first + (last - first) / 2;
    build(sides, first, mid, nodes);
    nodes[at].right = nodes.len();
    build(sides, mid, last, nodes);
}

/// Square of the least distance between two boxes, mm2; 0 where they touch or overlap.
fn box_distance2(a: Bounds, b: Bounds) -> f64 {
    let dx = (b.min.x - a.max.x).max(a.min.x - b.max.x).max(0.0);
    let dy = (b.min.y - a.max.y).max(a.min.y - b.max.y).max(0.0);
    dx * dx + dy * dy
}

/// Square of the least distance between two segments, mm2; 0 where they cross.
fn side_distance2((a, b): (Point, Point), (c, d): (Point, Point)) -> f64 {
    let (u, v) = (b - a, d - c);
    let (s1, s2) = (u.cross(c - a), u.cross(d - a));
    let (t1, t2) = (v.cross(a - c), v.cross(b - c));
    if s1 * s2 < 0.0 && t1 * t2 < 0.0 {
        return 0.0;
    }
    let distance2 = |p: Point, from: Point, to: Point| {
        let miss = p - p.nearest_on_segment(from, to);
        miss.dot(miss)
    };
    distance2(a, c, d)
        .min(distance2(b, c, d))
        .min(distance2(c, a, b))
        .min(distance2(d, a, b))
}

/// Least distance between two outlines' material, mm; 0 where they touch or overlap.
pub fn clearance_mm(a: &Outline, b: &Outline) -> f64 {
    EdgeTree::new(a.clone()).clearance_mm(&EdgeTree::new(b.clone()), f64::INFINITY)
}
