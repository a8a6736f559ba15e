//! How sure a place is, from what speaks for it.

use crate::inside::Sighting;

/// What is weighed, each about 0 to 1.
pub const FEATURES: [&str; 8] = [
    "edges agree",
    "outline seen",
    "outline's edges agree",
    "patterned face seen",
    "plain face seen",
    "colour is off",
    "brightness is off",
    "lead over the next place",
];

/// Weights of the features in a logistic sum, and a constant at the end: set by hand on rendered devices (`reference/homes`), see
/// ARCHITECTURE.
const WITH_PICTURE: [f64; 9] = [6.0, 2.0, 2.0, 4.0, 2.0, -8.0, -1.0, 4.0, -5.0];

/// The same where there is no picture of the face that the photo shows.
const BY_OUTLINE: [f64; 9] = [8.0, 4.0, 4.0, 0.0, 0.0, 0.0, 0.0, 6.0, -10.0];

/// Higher than this no outline alone is believed: many things have the same outline.
const MOST_BY_OUTLINE: f64 = 0.75;

/// What speaks for a sighting; `next` is the score of the best other place.
pub(crate) fn features(sighting: &Sighting, next: f64) -> [f64; 8] {
    let e = &sighting.evidence;
    [
        sighting.score,
        e.rim_share,
        e.rim_mean,
        e.patterned * e.pattern_seen,
        (1.0 - e.patterned) * e.plain_seen,
        e.colour_off,
        e.brighter.abs().min(1.5),
        (sighting.score - next).clamp(-0.2, 0.4),
    ]
}

/// The chance of a part that was looked for by its face alone, from how far that agrees more than anywhere else: on 24 photos of
/// rendered devices faces that were there led by 0.40 and more, all others by less than 0.11.
fn by_face(sighting: &Sighting) -> f64 {
    sighting.face_lead.map_or(0.0, |lead| {
        1.0 / (1.0 + (FACE_STEEPNESS * (FACE_LEAD - lead)).exp())
    })
}

const FACE_LEAD: f64 = 0.25;
const FACE_STEEPNESS: f64 = 25.0;

/// What there is to look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// The picture of the face that the photo shows, and the outline.
    Picture,
    /// The outline alone.
    Outline,
}

impl Kind {
    pub(crate) fn of(by_outline: bool) -> Self {
        if by_outline {
            Self::Outline
        } else {
            Self::Picture
        }
    }

    /// The chance that what has these features is right.
    fn chance(self, features: &[f64; 8]) -> f64 {
        let weights = match self {
            Self::Picture => &WITH_PICTURE,
            Self::Outline => &BY_OUTLINE,
        };
        let sum: f64 = features
            .iter()
            .zip(weights)
            .map(|(f, w)| f * w)
            .sum::<f64>()
            + weights[8];
        let chance = 1.0 / (1.0 + (-sum).exp());
        match self {
            Self::Picture => chance,
            Self::Outline => chance.min(MOST_BY_OUTLINE),
        }
    }

    /// The chance of a sighting with these features, by its face if that says more, and by where it seems to lie.
    pub(crate) fn of_sighting(self, sighting: &Sighting, features: &[f64; 8]) -> f64 {
        let seen = self.chance(features).max(by_face(sighting));
        seen * (-0.5 * sighting.height_off.powi(2)).exp()
    }

    /// The chance of a sighting by itself, without a look at other places.
    pub(crate) fn alone(self, sighting: &Sighting) -> f64 {
        self.of_sighting(sighting, &features(sighting, sighting.score - 0.15))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_face_that_is_seen_there_alone_is_believed_without_an_outline() {
        let led_by = |face_lead: Option<f64>| {
            let sighting = Sighting {
                face_lead,
                ..Sighting::unheld()
            };
            Kind::Picture.of_sighting(&sighting, &[0.0; 8])
        };
        assert!(led_by(Some(0.4)) > 0.95);
        assert!(led_by(Some(0.1)) < 0.05);
        assert_eq!(led_by(Some(-0.5)), led_by(None));
    }

    #[test]
    fn a_place_higher_than_devices_are_is_hardly_believed() {
        let of_height = |height_off: f64| {
            let sighting = Sighting {
                height_off,
                ..Sighting::unheld()
            };
            Kind::Picture.of_sighting(&sighting, &[1.0; 8])
        };
        assert!(of_height(0.0) > 0.9);
        assert!((of_height(2.0) / of_height(0.0) - (-2.0f64).exp()).abs() < 1e-12);
    }
}
