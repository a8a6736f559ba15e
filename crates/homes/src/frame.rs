//! The device's own frame of reference, and the way from a sheet to homes in it.

use crate::register::Spot;
use crate::sought::{Side, View};
use piece::Home;
use shape::{Outline, Point, Pose, Vector, convex_hull};

/// Sides that run along the frame's axes within this angle count for it, degrees: moulded sides taper by a degree each.
const ALONG_DEG: f64 = 2.0;

/// Share of the outline that has to run along the axes for them to be told by it.
const LEAST_SHARE: f64 = 0.12;

/// The pose that carries a sheet onto the device's frame as seen from above: origin at the lower left of the device's
/// bounds, the axes along its straight sides, up as the sheet's up. Also the device's width and height, mm.
pub(crate) fn frame_of(device: &Outline) -> (Pose, [f64; 2]) {
    let turn_deg = -lean_deg(device);
    let turned = device.placed(Pose::new(0.0, 0.0, turn_deg)).bounds();
    let pose = Pose::new(-turned.min.x, -turned.min.y, turn_deg);
    (pose, [turned.width_mm(), turned.height_mm()])
}

/// How far the device leans from the sheet's axes, -45 to 45 degrees.
fn lean_deg(device: &Outline) -> f64 {
    let hull = convex_hull(device.outer().points().to_vec(), 0.0);
    let runs = straight_runs(device);
    let perimeter = device.outer().length_mm();
    let along = |deg: f64| -> f64 {
        runs.iter()
            .filter(|(d, _)| quarter_off(*d, deg).abs() < ALONG_DEG)
            .map(|(_, l)| l)
            .sum()
    };
    let best = runs
        .iter()
        .map(|(d, _)| (*d, along(*d)))
        .fold(
            (0.0, 0.0),
            |best, one| if one.1 > best.1 { one } else { best },
        );
    let deg = if best.1 > LEAST_SHARE * perimeter {
        // The mean of the sides that agree, each by its length.
        let (sum, weight) = runs
            .iter()
            .map(|(d, l)| (quarter_off(*d, best.0), *l))
            .filter(|(off, _)| off.abs() < ALONG_DEG)
            .fold((0.0, 0.0), |(s, w), (off, l)| (s + off * l, w + l));
        best.0 + sum / weight
    } else {
        long_axis_deg(device).unwrap_or_else(|| least_box_deg(&hull))
    };
    quarter_off(deg, 0.0)
}

/// How far a direction is from another, quarter turns aside, -45 to 45 degrees.
fn quarter_off(deg: f64, from: f64) -> f64 {
    (deg - from + 45.0).rem_euclid(90.0) - 45.0
}

/// Directions (degrees) and lengths of pieces of the outline over some millimetres: single sides are too short to tell.
fn straight_runs(device: &Outline) -> Vec<(f64, f64)> {
    let points: Vec<Point> = {
        let ring = device.outer();
        let step = (ring.length_mm() / 400.0).max(0.05);
        let mut all = Vec::new();
        for (a, b) in ring.sides() {
            let n = (a.distance_mm(b) / step).ceil().max(1.0) as usize;
            all.extend((0..n).map(|k| a.lerp(b, k as f64 / n as f64)));
        }
        all
    };
    let n = points.len();
    let reach = n / 60;
    (0..n)
        .filter_map(|k| {
            let (a, b, c) = (
                points[k],
                points[(k + reach) % n],
                points[(k + 2 * reach) % n],
            );
            let (u, v) = (b - a, c - b);
            let length = u.length_mm() * v.length_mm();
            // Straight: both halves run the same way.
            let straight = length > 0.0 && (u.cross(v) / length).abs() < 0.012 && u.dot(v) > 0.0;
            let w = c - a;
            let piece = points[k].distance_mm(points[(k + 1) % n]);
            straight.then(|| (w.y.atan2(w.x).to_degrees(), piece))
        })
        .collect()
}

/// Direction of the longer axis of the area; `None` where the device is about as broad as long.
fn long_axis_deg(device: &Outline) -> Option<f64> {
    let c = device.centroid();
    // Second moments of the outer ring by triangles from the centroid.
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (a, b) in device.outer().sides() {
        let (a, b) = (a - c, b - c);
        let area = a.cross(b);
        xx += area * (a.x * a.x + a.x * b.x + b.x * b.x) / 12.0;
        yy += area * (a.y * a.y + a.y * b.y + b.y * b.y) / 12.0;
        xy += area * (2.0 * a.x * a.y + a.x * b.y + b.x * a.y + 2.0 * b.x * b.y) / 24.0;
    }
    let spread = (xx - yy).hypot(2.0 * xy);
    (spread > 0.15 * (xx + yy)).then(|| 0.5 * (2.0 * xy).atan2(xx - yy).to_degrees())
}

/// Direction of a side of the hull on which its least box stands.
fn least_box_deg(hull: &[Point]) -> f64 {
    let mut best = (f64::INFINITY, 0.0);
    for k in 0..hull.len() {
        let u = hull[(k + 1) % hull.len()] - hull[k];
        let length = u.length_mm();
        if length <= 0.0 {
            continue;
        }
        let u = u * (1.0 / length);
        let v = Vector::new(-u.y, u.x);
        let spread = |d: Vector| {
            let at = |p: &Point| d.x * p.x + d.y * p.y;
            let all = hull.iter().map(at);
            let (lo, hi) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| {
                (a.min(t), b.max(t))
            });
            hi - lo
        };
        let area = spread(u) * spread(v);
        if area < best.0 {
            best = (area, u.y.atan2(u.x).to_degrees());
        }
    }
    best.1
}

/// The way from the first photo's sheet to homes.
pub(crate) struct Frame {
    pub(crate) device_from_sheet: Pose,
    pub(crate) width_mm: f64,
    pub(crate) opened_from: Side,
}

impl Frame {
    /// A place as it is seen from the device's front.
    fn seen_from_front(&self, p: Point) -> Point {
        let at = self.device_from_sheet.apply(p);
        match self.opened_from {
            Side::Front => at,
            Side::Back => Point::new(self.width_mm - at.x, at.y),
        }
    }

    pub(crate) fn device(&self, on_sheet: &Outline) -> Outline {
        let placed = on_sheet.placed(self.device_from_sheet);
        match self.opened_from {
            Side::Front => placed,
            // Its own vertical centre line is the device's.
            Side::Back => placed.mirrored(),
        }
    }

    /// The home of a part seen at a spot of the first photo's sheet.
    pub(crate) fn home(&self, spot: Spot, view: &View, layer: u32) -> Home {
        let centre = self.seen_from_front(spot.centre);
        let turn = spot.turn + self.device_from_sheet.turn_deg.to_radians();
        let turn = if self.opened_from == Side::Front {
            turn
        } else {
            -turn
        };
        // From the front the part is seen as its outline says, or mirrored; its middle is that of the one seen.
        let bounds = view.outline.bounds();
        let middle = if self.opened_from == Side::Front {
            view.centre
        } else {
            Point::new(bounds.min.x + bounds.max.x - view.centre.x, view.centre.y)
        };
        let turn_deg = (turn.to_degrees() + 180.0).rem_euclid(360.0) - 180.0;
        let Pose { x, y, turn_deg } = Pose::bringing(middle, centre, turn_deg);
        Home {
            x,
            y,
            turn_deg,
            layer,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tapered(turn_deg: f64) -> Outline {
        // A rounded foot narrower than the head, a notch on one side; its middle line is upright before the turn.
        let points = [
            (2.0, 0.0),
            (58.0, 0.0),
            (60.0, 118.0),
            (55.0, 122.0),
            (5.0, 122.0),
            (0.0, 118.0),
        ];
        Outline::try_new(points.map(|(x, y)| Point::new(x, y)).to_vec(), vec![])
            .unwrap()
            .placed(Pose::new(70.0, 60.0, turn_deg))
    }

    /// Truth: the turn by construction; both long sides lean a degree, so that neither may be taken for an axis.
    #[test]
    fn a_device_lying_askew_gets_upright_axes() {
        for turn in [-30.0, -7.3, 0.0, 12.5, 41.0] {
            let (pose, size) = frame_of(&tapered(turn));
            assert!((pose.turn_deg + turn).abs() < 0.35, "{turn}: {pose:?}");
            assert!(
                (size[0] - 60.0).abs() < 0.8 && (size[1] - 122.0).abs() < 0.8,
                "{size:?}"
            );
        }
    }

    #[test]
    fn the_origin_is_at_the_lower_left() {
        let device = Outline::rectangle(Point::new(50.0, 40.0), Point::new(110.0, 150.0)).unwrap();
        let (pose, size) = frame_of(&device);
        let corner = pose.apply(Point::new(50.0, 40.0));
        assert!(
            corner.distance_mm(Point::new(0.0, 0.0)) < 1e-9,
            "{corner:?}"
        );
        assert!((size[0] - 60.0).abs() < 1e-9 && (size[1] - 110.0).abs() < 1e-9);
    }
}
