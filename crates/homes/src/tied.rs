//! Photos laid on the first one's sheet.

use crate::error::HomesError;
use crate::inside::Inside;
use crate::look::Seen;
use crate::register::{self, RimPlaces, Silhouettes, Spot, Tie};
use crate::rim::Rim;
use shape::{Outline, Pose, Watch};

/// What is known of the photos once they are tied. `insides`, `poses` and `stranger` have one for each photo.
#[derive(Clone, Copy)]
pub(crate) struct Tied<'a> {
    pub(crate) insides: &'a [Inside],
    /// Each photo's sheet from the first one's.
    pub(crate) poses: &'a [Pose],
    /// Whether it shows another device, or nothing that ties it.
    pub(crate) stranger: &'a [bool],
    /// The parts that are the device's shells.
    pub(crate) shells: &'a [usize],
    /// The device's outline on the first photo's sheet, where its shell tells it.
    pub(crate) body: Option<&'a Outline>,
}

impl<'a> Tied<'a> {
    pub(crate) fn new(
        insides: &'a [Inside],
        poses: &'a [Pose],
        stranger: &'a [bool],
        shells: &'a [usize],
    ) -> Self {
        Self {
            insides,
            poses,
            stranger,
            shells,
            body: None,
        }
    }

    /// The same, with the device's outline on the first photo's sheet.
    pub(crate) fn with_body(self, body: Option<&'a Outline>) -> Self {
        Self { body, ..self }
    }

    /// Photos that show the device: number, picture, and the pose of its sheet.
    pub(crate) fn photos(self) -> impl Iterator<Item = (usize, &'a Inside, Pose)> {
        let all = self.insides.iter().zip(self.poses).enumerate();
        all.filter(move |(k, _)| !self.stranger[*k])
            .map(|(k, (inside, pose))| (k, inside, *pose))
    }

    /// Whether a part is one of the device's shells.
    pub(crate) fn is_shell(self, part: usize) -> bool {
        self.shells.contains(&part)
    }
}

/// Ways of laying all photos on the first that are followed side by side.
const WAYS: usize = 8;

/// One way of laying the photos so far on the first: what speaks for it in all, and their ties.
#[derive(Clone)]
struct Way {
    worth: f64,
    ties: Vec<Tie>,
}

/// What the photos show, to tie them by.
struct Tying<'a> {
    /// By photo and part: where it may lie on the photo's own sheet, each with its weight.
    spots: Vec<Vec<Vec<(Spot, f64)>>>,
    /// Of all photos but the first.
    silhouettes: Vec<Silhouettes>,
    radii: &'a [f64],
    rim: Option<&'a Rim>,
    watch: &'a dyn Watch,
}

impl Tying<'_> {
    /// What the photos that are tied, but for one, show of each part, on the first one's sheet.
    fn known(&self, ties: &[Tie], but: usize) -> Vec<Vec<(Spot, f64)>> {
        let mut known = self.spots[0].clone();
        for (j, tie) in ties.iter().enumerate().skip(1) {
            if j == but || tie.is_stranger(self.rim.is_some()) {
                continue;
            }
            let back = tie.pose.inverse();
            for (known, there) in known.iter_mut().zip(&self.spots[j]) {
                known.extend(there.iter().map(|(s, c)| (s.carried(back), *c)));
                known.sort_by(|a, b| b.1.total_cmp(&a.1));
                known.truncate(8);
            }
        }
        known
    }

    /// Ways to tie one photo to those that are tied, the best first.
    fn of(&self, photo: usize, ties: &[Tie]) -> Result<Vec<(f64, Tie)>, HomesError> {
        let places = self.rim.map(|r| RimPlaces {
            first: r.places(0),
            other: r.places(photo),
            radius_mm: r.view.radius_mm,
        });
        let found = register::ties(
            &self.silhouettes[photo - 1],
            &self.known(ties, photo),
            &self.spots[photo],
            self.radii,
            places.as_ref(),
            self.watch,
        )?;
        Ok(found)
    }

    /// Ties all photos to the first, so that most speaks for all ties together.
    fn all(&self, photos: usize) -> Result<Vec<Tie>, HomesError> {
        let first = Tie {
            pose: Pose::default(),
            parts: 0.0,
            silhouettes: 1.0,
            lead: f64::INFINITY,
        };
        let mut ways = vec![Way {
            worth: 0.0,
            ties: vec![first],
        }];
        for photo in 1..photos {
            let mut longer = Vec::new();
            for way in &ways {
                for (worth, tie) in self.of(photo, &way.ties)? {
                    let mut ties = way.ties.clone();
                    ties.push(tie);
                    let worth = way.worth + worth;
                    longer.push(Way { worth, ties });
                }
            }
            // Of equals the first, as they were found.
            longer.sort_by(|a, b| b.worth.total_cmp(&a.worth));
            longer.truncate(WAYS);
            ways = longer;
        }
        let Some(Way { mut ties, .. }) = ways.into_iter().next() else {
            return Ok(vec![first]);
        };
        // Where a photo's place is in doubt by what the photos before it show: what all others show.
        for photo in 1..photos {
            if !ties[photo].is_plain()
                && let Some((_, tie)) = self.of(photo, &ties)?.first()
            {
                ties[photo] = *tie;
            }
        }
        Ok(ties)
    }
}

/// Ties all photos to the first.
///
/// One photo alone often fits in several places nearly alike, and two that are laid wrong in the same way bear each other out: so
/// several ways of laying all of them are followed, and the one for which most speaks in all is taken.
pub(crate) fn tie_all(
    insides: &[Inside],
    bodies: &[Outline],
    seen: &[Vec<Vec<Seen>>],
    radii: &[f64],
    rim: Option<&Rim>,
    watch: &dyn Watch,
) -> Result<Vec<Tie>, HomesError> {
    let spots_in = |k: usize| -> Vec<Vec<(Spot, f64)>> {
        seen[k]
            .iter()
            .map(|all| {
                let spot = |(s, _, c): &Seen| (insides[k].spot(s), *c);
                all.iter().take(4).map(spot).collect()
            })
            .collect()
    };
    let silhouettes = bodies
        .iter()
        .skip(1)
        .map(|other| Silhouettes::of(&bodies[0], other, watch))
        .collect::<Result<Vec<_>, _>>()?;
    let tying = Tying {
        spots: (0..insides.len()).map(spots_in).collect(),
        silhouettes,
        radii,
        rim,
        watch,
    };
    tying.all(insides.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rim::tests::hull;
    use shape::{Point, Silent};

    /// Where a part at that place of the first photo's sheet lies in a photo that is tied by a pose.
    fn at(pose: Pose, x: f64, y: f64) -> Spot {
        let centre = Point::new(x, y);
        Spot { centre, turn: 0.0 }.carried(pose)
    }

    #[test]
    fn photos_are_laid_where_most_speaks_for_all_of_them_together() {
        // The first photo, the device still closed, shows one part alone; each of the others shows that part in two places, in the
        // wrong one a little better, and its silhouette lies half way between. Two more parts are seen in both of them.
        let right = [Pose::new(30.0, -8.0, 0.0), Pose::new(-6.0, 14.0, 0.0)];
        let off = [Pose::new(4.4, 0.0, 0.0), Pose::new(0.0, 4.4, 0.0)];
        let half = [Pose::new(2.2, 0.0, 0.0), Pose::new(0.0, 2.2, 0.0)];
        let first = hull().placed(Pose::new(60.0, 60.0, 0.0));
        let mut spots = vec![vec![
            vec![(at(Pose::default(), 80.0, 90.0), 0.7)],
            Vec::new(),
            Vec::new(),
        ]];
        let mut silhouettes = Vec::new();
        for k in 0..2 {
            let wrong = off[k].after(right[k]);
            spots.push(vec![
                vec![
                    (at(wrong, 80.0, 90.0), 0.7),
                    (at(right[k], 80.0, 90.0), 0.6),
                ],
                vec![(at(right[k], 100.0, 120.0), 0.7)],
                vec![(at(right[k], 75.0, 140.0), 0.7)],
            ]);
            let other = first.placed(half[k].after(right[k]));
            silhouettes.push(Silhouettes::of(&first, &other, &Silent).expect("not cancelled"));
        }
        let tying = Tying {
            spots,
            silhouettes,
            radii: &[12.0, 20.0, 8.0],
            rim: None,
            watch: &Silent,
        };
        // Each for itself would be laid wrong.
        for k in 0..2 {
            let alone = tying.of(k + 1, &[]).expect("not cancelled")[0].1;
            assert!(
                (alone.pose.x - right[k].x).hypot(alone.pose.y - right[k].y) > 1.5,
                "{alone:?}"
            );
        }
        let ties = tying.all(3).expect("not cancelled");
        for (tie, right) in ties[1..].iter().zip(right) {
            let off = (tie.pose.x - right.x).hypot(tie.pose.y - right.y);
            assert!(off < 0.5 && tie.pose.turn_deg.abs() < 0.5, "{tie:?}");
        }
    }
}
