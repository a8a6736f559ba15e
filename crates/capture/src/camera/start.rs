//! A first guess: the projective map from sheet to photo, and the pose it implies.

use super::Camera;
use crate::photo::PhotoPoint;
use nalgebra::{Matrix3, SMatrix, SVector, Vector3};
use shape::Point;

/// A corner on the sheet and where it was seen.
pub(super) type Pair = (Point, PhotoPoint);

/// The map `photo_from_sheet` of a flat sheet without distortion.
#[derive(Debug, Clone, Copy)]
pub(super) struct Homography(Matrix3<f64>);

impl Homography {
    /// Least squares over four or more pairs, each side first shifted and scaled to unit size (Hartley, In
    /// defence of the 8-point algorithm, 1997).
    pub(super) fn through(pairs: &[Pair]) -> Option<Self> {
        let from = unit_size(pairs.iter().map(|(s, _)| [s.x, s.y]))?;
        let to = unit_size(pairs.iter().map(|(_, p)| [p.x, p.y]))?;
        let mut normal = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (s, p) in pairs {
            let [x, y] = from.apply([s.x, s.y]);
            let [u, v] = to.apply([p.x, p.y]);
            let rows = [
                ([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], u),
                ([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y], v),
            ];
            for (row, value) in rows {
                let row = SVector::<f64, 8>::from(row);
                normal += row * row.transpose();
                right += row * value;
            }
        }
        let h = normal.cholesky()?.solve(&right);
        let h = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let map = to.matrix().try_inverse()? * h * from.matrix();
        map.iter().all(|v| v.is_finite()).then_some(Self(map))
    }

    /// Where a point of the sheet is seen; infinite on the horizon.
    pub(super) fn at(&self, p: Point) -> PhotoPoint {
        let v = self.0 * Vector3::new(p.x, p.y, 1.0);
        PhotoPoint::new(v.x / v.z, v.y / v.z)
    }

    /// The pose that a focal length gives the map: its columns are two axes of the sheet and the
    /// sheet's origin, up to one factor.
    pub(super) fn camera(&self, focal_px: f64, centre_px: PhotoPoint) -> Option<Camera> {
        let f = focal_px;
        let inverse = Matrix3::new(
            1.0 / f,
            0.0,
            -centre_px.x / f, //
            0.0,
            1.0 / f,
            -centre_px.y / f, //
            0.0,
            0.0,
            1.0,
        );
        let m = inverse * self.0;
        let (a, b) = (m.column(0).into_owned(), m.column(1).into_owned());
        let scale = 2.0 / (a.norm() + b.norm());
        // The sheet is in front of the camera.
        let scale = if m[(2, 2)] < 0.0 { -scale } else { scale };
        let (a, b) = (a * scale, b * scale);
        let rough = Matrix3::from_columns(&[a, b, a.cross(&b)]);
        let svd = rough.svd(true, true);
        let rotation = svd.u? * svd.v_t?;
        let translation = m.column(2) * scale;
        let sound = rotation
            .iter()
            .chain(translation.iter())
            .all(|v| v.is_finite());
        (sound && rotation.determinant() > 0.0).then(|| Camera {
            focal_px,
            centre_px,
            k1: 0.0,
            k2: 0.0,
            rotation: std::array::from_fn(|i| std::array::from_fn(|j| rotation[(i, j)])),
            translation_mm: translation.into(),
        })
    }
}

/// The map that most tags agree on: of all maps through two tags, the one whose middle tag is off
/// least (least median of squares; no chance is involved). Then again through the tags near it.
///
/// Distortion is not in the map, so that near means a few per cent of the photo.
pub(super) fn agreed_homography(tags: &[[Pair; 4]], diagonal_px: f64) -> Option<Homography> {
    let miss = |map: &Homography, tag: &[Pair; 4]| -> f64 {
        let misses = tag.iter().map(|(s, p)| map.at(*s).distance_px(*p));
        // A NaN has to count as far off.
        misses.fold(0.0, |most, m| if m <= most { most } else { m })
    };
    let mut best: Option<(f64, Homography)> = None;
    for a in 1..tags.len() {
        for b in 0..a {
            let Some(map) = Homography::through(&[tags[a], tags[b]].concat()) else {
                continue;
            };
            let mut misses: Vec<f64> = tags.iter().map(|t| miss(&map, t)).collect();
            misses.sort_by(f64::total_cmp);
            let middle = misses[misses.len() / 2];
            if best.is_none_or(|(least, _)| middle < least) {
                best = Some((middle, map));
            }
        }
    }
    let (middle, map) = best?;
    let near = (3.0 * middle).max(0.01 * diagonal_px);
    let agreeing: Vec<Pair> = tags
        .iter()
        .filter(|t| miss(&map, t) <= near)
        .flatten()
        .copied()
        .collect();
    Homography::through(&agreeing)
}

/// A shift and scale.
struct Unit {
    middle: [f64; 2],
    scale: f64,
}

impl Unit {
    fn apply(&self, p: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|i| (p[i] - self.middle[i]) * self.scale)
    }

    fn matrix(&self) -> Matrix3<f64> {
        let ([x, y], s) = (self.middle, self.scale);
        Matrix3::new(s, 0.0, -s * x, 0.0, s, -s * y, 0.0, 0.0, 1.0)
    }
}

fn unit_size(points: impl Iterator<Item = [f64; 2]> + Clone) -> Option<Unit> {
    let n = points.clone().count() as f64;
    let middle = [0, 1].map(|i| points.clone().map(|p| p[i]).sum::<f64>() / n);
    let away = |p: [f64; 2]| (p[0] - middle[0]).hypot(p[1] - middle[1]);
    let scale = std::f64::consts::SQRT_2 * n / points.map(away).sum::<f64>();
    scale.is_finite().then_some(Unit { middle, scale })
}
