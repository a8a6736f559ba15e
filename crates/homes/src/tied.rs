//! Photos laid on the first one's sheet.

use crate::error::HomesError;
use crate::inside::Inside;
use crate::look::Seen;
use crate::register::{RimPlaces, Silhouettes, Spot, Tie, tie};
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
        }
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

/// Ties all photos to the first.
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
    let spots: Vec<_> = (0..insides.len()).map(spots_in).collect();
    let rims = |k: usize| {
        rim.map(|r| RimPlaces {
            first: r.places(0),
            other: r.places(k),
            radius_mm: r.view.radius_mm,
        })
    };
    let mut ties = vec![Tie {
        pose: Pose::default(),
        parts: 0.0,
        silhouettes: 1.0,
        lead: f64::INFINITY,
    }];
    let silhouettes = bodies
        .iter()
        .skip(1)
        .map(|other| Silhouettes::of(&bodies[0], other, watch))
        .collect::<Result<Vec<_>, _>>()?;
    // What the photos before show, and then, where a photo's place is in doubt, what all others show.
    for again in [false, true] {
        for k in 1..insides.len() {
            if again && ties[k].is_plain() {
                continue;
            }
            let mut known = spots[0].clone();
            for (j, tie) in ties.iter().enumerate().skip(1) {
                if j == k || tie.is_stranger(rim.is_some()) {
                    continue;
                }
                let back = tie.pose.inverse();
                for (known, there) in known.iter_mut().zip(&spots[j]) {
                    known.extend(there.iter().map(|(s, c)| (s.carried(back), *c)));
                    known.sort_by(|a, b| b.1.total_cmp(&a.1));
                    known.truncate(8);
                }
            }
            let places = rims(k);
            let tie = tie(
                &silhouettes[k - 1],
                &known,
                &spots[k],
                radii,
                places.as_ref(),
                watch,
            )?;
            if again {
                ties[k] = tie;
            } else {
                ties.push(tie);
            }
        }
    }
    Ok(ties)
}
