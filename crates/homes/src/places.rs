//! Which of its possible places each part takes: photos that agree, no two parts at one place.

use crate::alike::Parts;
use crate::claims::Claims;
use crate::inside::Sighting;
use crate::layers::placed;
use crate::look::{Seen, has_picture};
use crate::register::{NEAR_AT_OUTLINE_MM, Spot, filled};
use crate::search::turned_by;
use crate::sought::View;
use crate::tied::Tied;
use shape::Outline;

/// Sightings of one part in several photos nearer than this are one place, mm: heights are not known yet.
const NEAR_MM: f64 = 3.0;

/// Share of what a part claims to be seen that may be claimed by another too.
const MOST_SHARED: f64 = 0.4;

/// A part whose outline reaches so far from its middle is large, mm.
const LARGE_MM: f64 = 20.0;

/// Much in a device looks like a part that reaches less far than the first from its middle, and like a plain one that
/// reaches less far than the second, mm.
const TINY_MM: f64 = 3.0;
const SMALL_MM: f64 = 9.0;

/// A face of which a smaller share is pattern that the photo shows is as good as plain: bare metal mirrors a pattern, another in each
/// light.
const PATTERNED: f64 = 0.3;

/// No such part is sure, however well it fits: on rendered devices several of them were wrong at 0.8 and more.
const MOST_OF_COMMON: f64 = 0.75;

/// No part is sure either of whose edges as much is seen elsewhere in each photo: on rendered devices all that were right and sure
/// led by 0.04 and more, all that were wrong by less than 0.03. Where parts look alike, another's place is about as good.
const LEAST_LEAD: [f64; 2] = [0.035, -0.05];

/// Nor where another place is so nearly as likely: a frame's window looks like the outline of a plain display in several places.
const RIVAL: f64 = 0.9;

/// Aerials, keys and lugs stick out of a device, but no part by more of its area; one that seems to is half as likely there.
const MOST_OUTSIDE: f64 = 0.3;
const STICKING_OUT: f64 = 0.5;

/// A sighting with a smaller chance claims nothing.
const CLAIMS: f64 = 0.3;

/// A part's place and what speaks for it.
#[derive(Debug, Clone)]
pub(crate) struct Chosen {
    pub(crate) confidence: f64,
    /// By photo, the surest first.
    pub(crate) sightings: Vec<(usize, Sighting)>,
    /// The chance of each by itself.
    pub(crate) chances: Vec<f64>,
    /// Parts that look the same.
    pub(crate) alike: Vec<usize>,
    /// Turns besides its own that look the same, radians.
    pub(crate) turns_alike: Vec<f64>,
    pub(crate) by_outline: bool,
}

impl Chosen {
    /// Where it lies on the first photo's sheet, by the photo that is surest.
    pub(crate) fn spot(&self, tied: Tied<'_>) -> Option<Spot> {
        let (photo, sighting) = self.sightings.first()?;
        let spot = tied.insides[*photo].spot(sighting);
        Some(spot.carried(tied.poses[*photo].inverse()))
    }
}

/// One possible place on the first photo's sheet, from all photos.
struct Group {
    part: usize,
    spot: Spot,
    /// Whether much of the part would lie outside the device there.
    sticks_out: bool,
    confidence: f64,
    sightings: Vec<(usize, Sighting, f64)>,
}

impl Group {
    /// What its sightings say together.
    fn weigh(&mut self, view: &View) {
        // Photos that agree say more of a large outline: a small one may meet the same wrong thing in each.
        let weight = if view.radius_mm > LARGE_MM { 0.8 } else { 0.25 };
        let mut confidence = self.sightings.first().map_or(0.0, |s| s.2);
        for (_, _, chance) in self.sightings.iter().skip(1) {
            confidence += (1.0 - confidence) * weight * chance;
        }
        self.confidence = if self.sticks_out {
            STICKING_OUT * confidence
        } else {
            confidence
        };
    }

    /// Whether another group says of the same part that it lies elsewhere, and is about as likely.
    fn is_rivalled_by(&self, other: &Self) -> bool {
        other.part == self.part
            && !other.sightings.is_empty()
            && other.spot.centre.distance_mm(self.spot.centre) > NEAR_MM
            && other.confidence > RIVAL * self.confidence
    }

    /// By how much more its edges, or its face's, agree here than anywhere else, in the photo where that is most.
    fn lead(&self) -> f64 {
        let leads = self
            .sightings
            .iter()
            .map(|(_, s, _)| s.face_lead.map_or(s.lead, |by_face| by_face.max(s.lead)));
        leads.fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Chooses a place for each part that is seen anywhere. `held`: parts that have theirs already, and keep what they claim.
pub(crate) fn choose(
    parts: &Parts<'_>,
    views: &[View],
    held: &[Option<Chosen>],
    seen: &[Vec<Vec<Seen>>],
    tied: Tied<'_>,
) -> Vec<Option<Chosen>> {
    let insides = tied.insides;
    let Parts { sought, alike } = parts;
    let mut groups: Vec<Group> = (0..sought.len())
        .flat_map(|i| groups_of(i, &views[i], seen, tied))
        .collect();
    let mut claims: Vec<Claims> = insides.iter().map(|_| Claims::default()).collect();
    for (i, choice) in held.iter().enumerate().filter(|(i, _)| !tied.is_shell(*i)) {
        let sightings = choice
            .iter()
            .flat_map(|c| c.sightings.iter().zip(&c.chances));
        for ((k, s), _) in sightings.filter(|(_, chance)| **chance > CLAIMS) {
            claims[*k].add(i, &insides[*k], s);
        }
    }
    let mut chosen: Vec<Option<Chosen>> = sought.iter().map(|_| None).collect();
    let mut taken: Vec<Option<Spot>> = (held.iter())
        .map(|choice| choice.as_ref().and_then(|c| c.spot(tied)))
        .collect();
    taken.resize(sought.len(), None);
    loop {
        // What others have taken since may have weakened a group: it is asked again before it is believed.
        let likeliest = (0..groups.len())
            .filter(|&g| taken[groups[g].part].is_none() && !groups[g].sightings.is_empty())
            .min_by(|&a, &b| {
                let (a, b) = (&groups[a], &groups[b]);
                b.confidence
                    .total_cmp(&a.confidence)
                    .then(a.part.cmp(&b.part))
            });
        let Some(at) = likeliest else { break };
        let i = groups[at].part;
        let twin_there = alike[i].iter().any(|&j| {
            taken[j].is_some_and(|t| {
                t.centre.distance_mm(groups[at].spot.centre) < 0.6 * views[i].radius_mm
            })
        });
        if twin_there {
            groups[at].sightings.clear();
            continue;
        }
        // Of a shell, what lies in it hides some and looks like the rest: shells claim nothing, and nothing is claimed from them.
        if !tied.is_shell(i) {
            let before = groups[at].sightings.len();
            groups[at]
                .sightings
                .retain(|(k, s, _)| claims[*k].shared(i, views, &insides[*k], s) <= MOST_SHARED);
            if groups[at].sightings.len() < before {
                groups[at].weigh(&views[i]);
                continue;
            }
        }
        let group = &groups[at];
        taken[i] = Some(group.spot);
        for (k, s, c) in &group.sightings {
            if *c > CLAIMS && !tied.is_shell(i) {
                claims[*k].add(i, &insides[*k], s);
            }
        }
        let side = group.sightings[0].1.side;
        let turns = turns_alike(group, &groups);
        // Another turn at the same place that is about as likely: where the outline itself has no right way up, both are
        // told; else it is a doubt.
        let doubt = turns
            .iter()
            .filter(|(turn, _)| !views[i].is_same_turned(*turn))
            .map(|(_, c)| *c)
            .fold(0.0, f64::max);
        let evidence = &group.sightings[0].1.evidence;
        let confidence = group.confidence * group.confidence / (group.confidence + doubt);
        let has_twin = !alike[i].is_empty();
        let least = LEAST_LEAD[usize::from(has_twin)];
        let has_rival = !has_twin && groups.iter().any(|o| group.is_rivalled_by(o));
        let may_be_elsewhere = !tied.is_shell(i) && (group.lead() < least || has_rival);
        let most = if may_be_elsewhere {
            MOST_OF_COMMON
        } else {
            most_of(
                views[i].radius_mm,
                evidence.patterned * evidence.pattern_seen,
            )
        };
        chosen[i] = Some(Chosen {
            confidence: confidence.min(most),
            sightings: group
                .sightings
                .iter()
                .map(|(k, s, _)| (*k, s.clone()))
                .collect(),
            chances: group.sightings.iter().map(|s| s.2).collect(),
            alike: alike[i].clone(),
            turns_alike: turns.iter().map(|t| t.0).collect(),
            by_outline: !has_picture(&sought[i], side),
        });
    }
    chosen
}

/// The greatest confidence that a part of this size, with pattern seen on this share of its face, can have.
fn most_of(radius_mm: f64, patterned: f64) -> f64 {
    let common = radius_mm < TINY_MM || (radius_mm < SMALL_MM && patterned < PATTERNED);
    if common { MOST_OF_COMMON } else { 1.0 }
}

/// Turns at the same place that are about as likely, and how likely.
fn turns_alike(group: &Group, all: &[Group]) -> Vec<(f64, f64)> {
    all.iter()
        .filter(|o| o.part == group.part)
        .filter(|o| o.spot.centre.distance_mm(group.spot.centre) < 1.0)
        .filter(|o| {
            turned_by(o.spot.turn, group.spot.turn) > 0.2 && o.confidence > 0.85 * group.confidence
        })
        .map(|o| (o.spot.turn - group.spot.turn, o.confidence))
        .collect()
}

/// Gathers one part's sightings of all photos into places.
fn groups_of(part: usize, view: &View, seen: &[Vec<Vec<Seen>>], tied: Tied<'_>) -> Vec<Group> {
    let mut all: Vec<(usize, Spot, &Seen)> = Vec::new();
    for (k, inside, pose) in tied.photos() {
        let back = pose.inverse();
        all.extend(
            seen[k][part]
                .iter()
                .map(|s| (k, inside.spot(&s.0).carried(back), s)),
        );
    }
    all.sort_by(|a, b| b.2.2.total_cmp(&a.2.2).then(a.0.cmp(&b.0)));
    let mut used = vec![false; all.len()];
    let mut groups = Vec::new();
    for first in 0..all.len() {
        if used[first] || all[first].2.2 < 0.05 || groups.len() == 8 {
            continue;
        }
        let (_, spot, _) = all[first];
        let mut members: Vec<(usize, Sighting, f64)> = Vec::new();
        for n in first..all.len() {
            let (k, s, seen) = all[n];
            let near = s.is_near(spot, view.radius_mm, [NEAR_MM, NEAR_AT_OUTLINE_MM]);
            if !used[n] && near && members.iter().all(|m| m.0 != k) {
                used[n] = true;
                members.push((k, seen.0.clone(), seen.2));
            }
        }
        let mut group = Group {
            part,
            spot,
            sticks_out: tied.body.is_some_and(|body| sticks_out(view, spot, body)),
            confidence: 0.0,
            sightings: members,
        };
        group.weigh(view);
        groups.push(group);
    }
    groups
}

/// Whether more of a part would lie outside the device than parts do.
fn sticks_out(view: &View, spot: Spot, body: &Outline) -> bool {
    let there = placed(view, spot);
    let within = shape::intersection_area_mm2(&filled(&there), body);
    within < (1.0 - MOST_OUTSIDE) * filled(&there).area_mm2()
}

#[cfg(test)]
impl Chosen {
    /// Chosen by sightings in these photos, with these chances, of which nothing else is known.
    pub(crate) fn seen_in(confidence: f64, photos: &[(usize, f64)]) -> Self {
        Self {
            confidence,
            sightings: photos
                .iter()
                .map(|&(photo, _)| (photo, Sighting::unheld()))
                .collect(),
            chances: photos.iter().map(|p| p.1).collect(),
            alike: Vec::new(),
            turns_alike: Vec::new(),
            by_outline: false,
        }
    }
}

#[cfg(test)]
impl Sighting {
    /// At the plate's origin, with nothing that speaks for it.
    pub(crate) fn unheld() -> Self {
        use crate::search::Stand;
        let stand = Stand {
            x: 0.0,
            y: 0.0,
            turn: 0.0,
            scale: 1.0,
        };
        Self {
            side: crate::sought::Side::Front,
            held: crate::settle::Held {
                stand,
                information: nalgebra::Matrix4::identity(),
            },
            score: 0.5,
            face_lead: None,
            lead: 0.0,
            height_off: 0.0,
            evidence: crate::judge::Evidence::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::found::{LEAST, SURE};
    use shape::{Outline, Point};

    #[test]
    fn screws_and_small_plain_parts_are_never_sure_but_told() {
        for (radius_mm, patterned) in [(1.9, 1.0), (6.0, 0.0), (8.9, 0.29)] {
            let most = most_of(radius_mm, patterned);
            assert!(
                most < SURE && most > LEAST,
                "{radius_mm} {patterned}: {most}"
            );
        }
        for (radius_mm, patterned) in [(6.0, 0.5), (9.5, 0.0), (60.0, 0.0)] {
            assert_eq!(most_of(radius_mm, patterned), 1.0);
        }
    }
    #[test]
    fn a_part_that_sticks_out_by_half_is_told_from_one_with_a_lug() {
        let rectangle = |w: f64, h: f64| {
            let corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
            let corners = corners.map(|(x, y)| Point::new(x, y)).to_vec();
            Outline::try_new(corners, Vec::new()).expect("a rectangle")
        };
        let (body, view) = (
            rectangle(60.0, 110.0),
            View::of_outline(rectangle(10.0, 8.0)),
        );
        let at = |x: f64| Spot {
            centre: Point::new(x, 50.0),
            turn: 0.0,
        };
        assert!(!sticks_out(&view, at(30.0), &body));
        assert!(!sticks_out(&view, at(57.5), &body));
        assert!(sticks_out(&view, at(60.0), &body));
    }

    #[test]
    fn a_place_is_weighed_by_the_photos_that_are_left_to_it() {
        let corner = |x: f64, y: f64| Point::new(x, y);
        let square = |r: f64| {
            let corners = vec![corner(-r, -r), corner(r, -r), corner(r, r), corner(-r, r)];
            View::of_outline(Outline::try_new(corners, Vec::new()).expect("a square"))
        };
        let mut group = Group {
            part: 0,
            spot: Spot {
                centre: corner(0.0, 0.0),
                turn: 0.0,
            },
            sticks_out: false,
            confidence: 0.0,
            sightings: vec![(0, Sighting::unheld(), 0.6), (2, Sighting::unheld(), 0.5)],
        };
        let mut weighed = |view: &View, left: usize| {
            group.sightings.truncate(left);
            group.weigh(view);
            group.confidence
        };
        // Photos that agree say more of a large outline.
        assert!((weighed(&square(20.0), 2) - 0.76).abs() < 1e-12);
        assert!((weighed(&square(5.0), 2) - 0.65).abs() < 1e-12);
        assert!((weighed(&square(20.0), 1) - 0.6).abs() < 1e-12);
        assert_eq!(weighed(&square(20.0), 0), 0.0);
    }
}
