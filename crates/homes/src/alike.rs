//! Which of the parts look the same.

use crate::sought::Sought;
use shape::registration::{Options, register};
use shape::{Silent, mapped};

/// The parts that are looked for.
pub(crate) struct Parts<'a> {
    pub(crate) sought: &'a [Sought],
    /// By part, which others look the same: outline and colours.
    pub(crate) alike: Vec<Vec<usize>>,
}

impl<'a> Parts<'a> {
    pub(crate) fn of(sought: &'a [Sought]) -> Self {
        let pairs: Vec<[usize; 2]> = (0..sought.len())
            .flat_map(|i| (i + 1..sought.len()).map(move |j| [i, j]))
            .collect();
        let same = mapped(&pairs, |&[i, j]| look_alike(&sought[i], &sought[j]));
        let mut alike = vec![Vec::new(); sought.len()];
        for ([i, j], _) in pairs.into_iter().zip(same).filter(|(_, same)| *same) {
            alike[i].push(j);
            alike[j].push(i);
        }
        Self { sought, alike }
    }
}

/// Outlines of one shape that are captured differ by less along their edges on the mean, mm: bare metal mirrors what is round it.
const CAPTURED_MM: f64 = 0.2;

fn look_alike(a: &Sought, b: &Sought) -> bool {
    let (x, y) = (a.outline.area_mm2(), b.outline.area_mm2());
    let (p, q) = (a.outline.perimeter_mm(), b.outline.perimeter_mm());
    // Small parts' outlines are captured to a tenth or two.
    let off = |u: f64, v: f64, by: f64| (u - v).abs() > by * u.max(v);
    let small = 0.6 / x.sqrt().max(1.0);
    if off(x, y, 0.04 + small) || off(p, q, 0.06 + small) {
        return false;
    }
    let colours = a.front.as_ref().zip(b.front.as_ref()).is_none_or(|(f, g)| {
        let (f, g) = (f.mean_rgb(), g.mean_rgb());
        (0..3).all(|k| (f[k] - g[k]).abs() < 0.16)
    });
    colours
        && register(&a.outline, &b.outline, &Options::default(), &Silent).is_ok_and(|r| {
            let edges = r.edge_share > 0.85 && r.edge_rms_mm < 0.3;
            let common = shape::intersection_area_mm2(&a.outline.placed(r.b_from_a), &b.outline);
            edges || common > x.max(y) - CAPTURED_MM * p.max(q)
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::{Outline, Point};

    /// A plate of this size with corners cut by so much: bare metal's outlines are captured so.
    fn plate(width: f64, height: f64, cut: f64) -> Sought {
        let corners = vec![
            Point::new(cut, 0.0),
            Point::new(width, 0.0),
            Point::new(width, height - cut),
            Point::new(width - cut, height),
            Point::new(0.0, height),
            Point::new(0.0, cut),
        ];
        Sought {
            outline: Outline::try_new(corners, Vec::new()).expect("a plate"),
            sigma_mm: None,
            thickness_mm: None,
            front: None,
            back: None,
        }
    }

    #[test]
    fn twins_are_told_however_their_outlines_were_captured() {
        assert!(look_alike(&plate(10.2, 7.9, 0.3), &plate(7.9, 10.2, 1.6)));
        assert!(!look_alike(&plate(10.2, 7.9, 0.3), &plate(10.2, 6.8, 0.3)));
        assert!(!look_alike(&plate(10.2, 7.9, 0.3), &plate(11.6, 7.0, 0.3)));
    }
}
