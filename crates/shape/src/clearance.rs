//! Least distance between outlines, by a bounding-volume tree over their sides.

use crate::{Bounds, Outline, Point, Pose, Ring};

/// Sides of one leaf: few enough that testing all pairs of two leaves beats descending further.
const LEAF: usize = 4;

/// An outline's sides in a tree, ready for many distance queries.
#[derive(Debug, Clone)]
pub struct EdgeTree {
    outline: Outline,
    sides: Vec<(Point, Point)>,
    nodes: Vec<Node>,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    bounds: Bounds,
    /// Sides `first..last`; for an inner node the children follow: left at +1, right at `right`.
    first: usize,
    last: usize,
    right: usize,
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

    /// The outline that the tree was made of.
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// The outline's bounding box, without running over its points again.
    pub fn bounds(&self) -> Bounds {
        self.nodes[0].bounds
    }

    /// The same tree carried by a pose (boxes are rebuilt; the order of sides is kept).
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
        if self.nodes[0].bounds.distance_mm(other.nodes[0].bounds) >= cap_mm {
            return cap_mm;
        }
        if self.outline.contains(other.outline.outer().points()[0])
            || other.outline.contains(self.outline.outer().points()[0])
        {
            return 0.0;
        }
        let mut best = cap_mm;
        let mut stack = vec![(0usize, 0usize)];
        while let Some((i, j)) = stack.pop() {
            let (a, b) = (self.nodes[i], other.nodes[j]);
            if a.bounds.distance_mm(b.bounds) >= best {
                continue;
            }
            match (a.right == 0, b.right == 0) {
                (true, true) => {
                    for s in &self.sides[a.first..a.last] {
                        for t in &other.sides[b.first..b.last] {
                            best = best.min(side_distance_mm(*s, *t));
                        }
                    }
                    if best == 0.0 {
                        return 0.0;
                    }
                }
                (false, true) => {
                    push_nearest_last(&mut stack, (i + 1, j), (a.right, j), self, other)
                }
                (true, false) => {
                    push_nearest_last(&mut stack, (i, j + 1), (i, b.right), self, other)
                }
                (false, false) => {
                    if a.last - a.first >= b.last - b.first {
                        push_nearest_last(&mut stack, (i + 1, j), (a.right, j), self, other);
                    } else {
                        push_nearest_last(&mut stack, (i, j + 1), (i, b.right), self, other);
                    }
                }
            }
        }
        best
    }
}

impl EdgeTree {
    /// Least distance between a straight line from `a` to `b` and the outline's material, mm; 0 where
    /// they meet. Answers `cap_mm` where the distance is that or more.
    pub fn line_clearance_mm(&self, a: Point, b: Point, cap_mm: f64) -> f64 {
        if self.outline.contains(a) {
            return 0.0;
        }
        let line = Bounds::between(a, b);
        let mut best = cap_mm;
        let mut stack = vec![0usize];
        while let Some(i) = stack.pop() {
            let node = self.nodes[i];
            if node.bounds.distance_mm(line) >= best {
                continue;
            }
            if node.right == 0 {
                for side in &self.sides[node.first..node.last] {
                    best = best.min(side_distance_mm(*side, (a, b)));
                }
            } else {
                stack.extend([node.right, i + 1]);
            }
        }
        best
    }
}

fn push_nearest_last(
    stack: &mut Vec<(usize, usize)>,
    p: (usize, usize),
    q: (usize, usize),
    a: &EdgeTree,
    b: &EdgeTree,
) {
    let d = |(i, j): (usize, usize)| a.nodes[i].bounds.distance_mm(b.nodes[j].bounds);
    if d(p) < d(q) {
        stack.extend([q, p]);
    } else {
        stack.extend([p, q]);
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

/// Least distance between two segments, mm; 0 where they cross.
fn side_distance_mm((a, b): (Point, Point), (c, d): (Point, Point)) -> f64 {
    let (u, v) = (b - a, d - c);
    let (s1, s2) = (u.cross(c - a), u.cross(d - a));
    let (t1, t2) = (v.cross(a - c), v.cross(b - c));
    if s1 * s2 < 0.0 && t1 * t2 < 0.0 {
        return 0.0;
    }
    point_to_side_mm(a, c, d)
        .min(point_to_side_mm(b, c, d))
        .min(point_to_side_mm(c, a, b))
        .min(point_to_side_mm(d, a, b))
}

fn point_to_side_mm(p: Point, a: Point, b: Point) -> f64 {
    let u = b - a;
    let t = (u.dot(p - a) / u.dot(u)).clamp(0.0, 1.0);
    (p - (a + u * t)).length_mm()
}

/// Least distance between two outlines' material, mm; 0 where they touch or overlap.
pub fn clearance_mm(a: &Outline, b: &Outline) -> f64 {
    EdgeTree::new(a.clone()).clearance_mm(&EdgeTree::new(b.clone()), f64::INFINITY)
}
