//! Fills for hollow parts, lifts for a stepped look, pads for backs that are not flat.

use crate::catalogue::Catalogue;
use crate::inset::{LEAN_MM, inset};
use crate::say::Findings;
use crate::stack::{FoamStack, foam_stack};
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{Level, Phrase, Support, SupportKind};
use shape::{Outline, Point, Vector, difference, intersection, offset};

/// Heights of what lies under one part.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Standing {
    /// Height of the part's lowest face over the top of what is under it, without adhesive, mm.
    pub(crate) lift_mm: f64,
    /// A fill sits inside the part, and the part's rim stands on the board.
    pub(crate) filled: bool,
}

/// Plans what lies under or inside one part. `lines_mm` is the bond line to the board and the one to the part.
pub(crate) fn plan(
    subject: &Subject<'_>,
    lines_mm: [f64; 2],
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> (Vec<Support>, Standing) {
    let lift_mm = subject.part.lift_mm.unwrap_or(0.0);
    if let Some([depth, wall]) = subject.hollow() {
        let height = depth + lift_mm - lines_mm[0] - lines_mm[1];
        let fills = fill(subject, wall, height, catalogue, findings);
        let filled = !fills.is_empty();
        return (fills, Standing { lift_mm, filled });
    }
    let highest = subject
        .protrusions()
        .iter()
        .map(|p| p.height_mm)
        .fold(0.0, f64::max);
    if highest > 0.05 {
        return pads(subject, highest, lift_mm, lines_mm, catalogue, findings);
    }
    if lift_mm > 0.0 {
        let height = lift_mm - lines_mm[0] - lines_mm[1];
        let supports = lift(subject, height, catalogue, findings);
        return (
            supports,
            Standing {
                lift_mm,
                filled: false,
            },
        );
    }
    (Vec::new(), Standing::default())
}

/// The fill of a hollow part.
fn fill(
    subject: &Subject<'_>,
    wall_mm: f64,
    height_mm: f64,
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Vec<Support> {
    let r = &catalogue.rules;
    let faces = fill_outlines(subject, wall_mm, catalogue);
    if faces.is_empty() {
        findings.tell_about(
            subject,
            Level::Fix,
            "support.no-room",
            vec![say(
                "case.support.no-room-inside",
                params!(
                    "part": subject.named(), "wall_mm": wall_mm,
                    "least_mm": r.fill_least_width_mm.value
                ),
            )],
            say("remedy.support.no-room-inside", &[]),
        );
        return Vec::new();
    }
    of_stack(
        subject,
        SupportKind::Fill,
        &faces,
        height_mm,
        catalogue,
        findings,
    )
}

/// Where a fill can be: inside the wall, clear of openings and bosses, nowhere narrower than the least width.
pub(crate) fn fill_outlines(
    subject: &Subject<'_>,
    wall_mm: f64,
    catalogue: &Catalogue,
) -> Vec<Outline> {
    let r = &catalogue.rules;
    let Ok(whole) = Outline::try_new(subject.outline.outer().points().to_vec(), vec![]) else {
        return Vec::new();
    };
    let inside = inset(&[whole], wall_mm + r.fill_clearance_mm.value + LEAN_MM);
    let holes = subject
        .outline
        .holes()
        .iter()
        .filter_map(|h| Outline::try_new(h.points().to_vec(), vec![]).ok());
    let left_out: Vec<Outline> = holes
        .chain(subject.part.openings.iter().cloned())
        .chain(subject.part.bosses.iter().map(|b| b.outline.clone()))
        .collect();
    let left_out = offset(&left_out, r.opening_margin_mm.value);
    let rest: Vec<Outline> = inside
        .iter()
        .flat_map(|o| difference(o, &left_out))
        .collect();
    without_narrow(&rest, r.fill_least_width_mm.value)
}

/// What is left where a disc of that width fits: an opening by erosion and dilation, held inside what there was.
fn without_narrow(outlines: &[Outline], width_mm: f64) -> Vec<Outline> {
    let radius = width_mm / 2.0;
    let opened = offset(&inset(outlines, radius), radius);
    let mut kept: Vec<Outline> = opened
        .iter()
        .flat_map(|o| outlines.iter().flat_map(|w| intersection(o, w)))
        .filter(|o| o.area_mm2() >= width_mm * width_mm)
        .collect();
    // A crumb beside a large piece is not worth cutting.
    let largest = kept.iter().map(Outline::area_mm2).fold(0.0, f64::max);
    kept.retain(|o| o.area_mm2() >= 0.05 * largest);
    kept.sort_by(|a, b| b.area_mm2().total_cmp(&a.area_mm2()));
    kept
}

/// What a lifted part stands on, out of sight behind its edge.
fn lift(
    subject: &Subject<'_>,
    height_mm: f64,
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Vec<Support> {
    let r = &catalogue.rules;
    let inside = inset(
        std::slice::from_ref(&subject.outline),
        r.lift_inset_mm.value,
    );
    let mut faces = without_narrow(&inside, r.fill_least_width_mm.value);
    if faces.is_empty() {
        // A narrow part: whatever is left of it, nowhere narrower than 2 mm.
        faces = without_narrow(&inset(std::slice::from_ref(&subject.outline), 0.5), 2.0);
    }
    if faces.is_empty() {
        findings.tell_about(
            subject,
            Level::Fix,
            "support.no-room",
            vec![say(
                "case.support.no-room-below",
                params!("part": subject.named()),
            )],
            say("remedy.support.no-room-below", &[]),
        );
        return Vec::new();
    }
    of_stack(
        subject,
        SupportKind::Lift,
        &faces,
        height_mm,
        catalogue,
        findings,
    )
}

/// Pads for a back that is not flat: under its lowest points where it stands firmly on them, else beside them.
fn pads(
    subject: &Subject<'_>,
    highest_mm: f64,
    lift_mm: f64,
    lines_mm: [f64; 2],
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> (Vec<Support>, Standing) {
    const LEVEL_MM: f64 = 0.2;
    let r = &catalogue.rules;
    let feet: Vec<&Outline> = subject
        .protrusions()
        .iter()
        .filter(|p| p.height_mm >= highest_mm - LEVEL_MM)
        .map(|p| &p.outline)
        .collect();
    let standing = |lift_mm| Standing {
        lift_mm,
        filled: false,
    };
    if stands_on(subject.centre(), &feet) {
        let faces: Vec<Outline> = feet
            .iter()
            .flat_map(|f| inset(std::slice::from_ref(*f), 0.2))
            .collect();
        if !faces.is_empty() {
            // The least that is lifted is one thin layer.
            let height = (lift_mm - lines_mm[0] - lines_mm[1]).max(1.0);
            let supports = of_stack(
                subject,
                SupportKind::Pad,
                &faces,
                height,
                catalogue,
                findings,
            );
            return (supports, standing(height + lines_mm[0] + lines_mm[1]));
        }
    }
    // Beside what stands out: the pads reach from the board to the flat of the back.
    let side = r.pad_mm.value;
    let blocked: Vec<Outline> = subject
        .protrusions()
        .iter()
        .map(|p| p.outline.clone())
        .collect();
    let blocked = offset(&blocked, 0.5);
    let room: Vec<Outline> = difference(&subject.outline, &blocked);
    let room = inset(&room, side / 2.0 + r.tape_margin_mm.value);
    let faces = spread_squares(&room, subject.centre(), side);
    if faces.len() < 2 {
        findings.tell_about(
            subject,
            Level::Fix,
            "support.no-room",
            vec![say(
                "case.support.no-room-between",
                params!("part": subject.named(), "side_mm": side),
            )],
            say("remedy.support.no-room-between", &[]),
        );
        return (Vec::new(), standing(lift_mm.max(highest_mm)));
    }
    let clear = 0.5;
    let height = highest_mm + lift_mm + clear;
    let supports = of_stack(
        subject,
        SupportKind::Pad,
        &faces,
        height,
        catalogue,
        findings,
    );
    // The part's lowest points hang in the air by what the adhesive and the clearance add.
    (
        supports,
        standing(lift_mm + clear + lines_mm[0] + lines_mm[1]),
    )
}

/// The centre of mass lies between at least three feet.
fn stands_on(centre: Point, feet: &[&Outline]) -> bool {
    if feet.len() < 3 {
        return false;
    }
    let hull = shape::convex_hull(feet.iter().map(|f| f.centroid()).collect(), 1e-9);
    Outline::try_new(hull, vec![]).is_ok_and(|h| h.contains(centre))
}

/// Up to four round pads, as far from the middle and from each other as there is room.
fn spread_squares(room: &[Outline], middle: Point, side: f64) -> Vec<Outline> {
    let mut places: Vec<Point> = room
        .iter()
        .flat_map(|o| o.outer().points().iter().copied())
        .collect();
    places.retain(|p| p.is_finite());
    let mut taken: Vec<Point> = Vec::new();
    while taken.len() < 4 {
        let far = |p: Point| {
            taken
                .iter()
                .map(|t| t.distance_mm(p))
                .fold(p.distance_mm(middle), f64::min)
        };
        let best = places.iter().copied().fold(None, |best: Option<Point>, p| {
            if best.is_some_and(|b| far(b) >= far(p)) {
                best
            } else {
                Some(p)
            }
        });
        match best {
            Some(p) if taken.is_empty() || far(p) >= 1.5 * side => taken.push(p),
            _ => break,
        }
    }
    let half = Vector::new(side / 2.0, side / 2.0);
    taken
        .iter()
        .filter_map(|p| {
            // A round pad: it keeps its distance whichever way the edge runs.
            let ring = (0..48)
                .map(|k| {
                    let (s, c) = (f64::from(k) * std::f64::consts::TAU / 48.0).sin_cos();
                    *p + Vector::new(half.x * c, half.y * s)
                })
                .collect();
            Outline::try_new(ring, vec![]).ok()
        })
        .collect()
}

/// Supports of these outlines, each stacked of one foam to the height.
fn of_stack(
    subject: &Subject<'_>,
    kind: SupportKind,
    faces: &[Outline],
    height_mm: f64,
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Vec<Support> {
    let Some((foam, stack)) = choose_stack(height_mm, catalogue) else {
        findings.tell_about(
            subject,
            Level::Fix,
            "support.no-stack",
            vec![
                say(
                    "case.support.no-stack",
                    params!(
                        "part": subject.named(), "height_mm": height_mm,
                        "percent": 100.0 * catalogue.rules.most_compression.value
                    ),
                ),
                nearest_stock(height_mm, catalogue),
            ],
            say("remedy.support.no-stack", &[]),
        );
        return Vec::new();
    };
    faces
        .iter()
        .map(|face| {
            let (outer, holes) = Support::rings_of(face);
            Support {
                part: subject.part.id.clone(),
                kind,
                outer,
                holes,
                materials: vec![foam.to_owned(); stack.layers_mm.len()],
                layers_mm: stack.layers_mm.clone(),
                height_mm,
                compression: stack.compression,
            }
        })
        .collect()
}

/// The foam whose stack has the fewest layers; of equals the preferred one, then the one that is pressed least.
fn choose_stack(height_mm: f64, catalogue: &Catalogue) -> Option<(&str, FoamStack)> {
    catalogue
        .foams
        .iter()
        .filter_map(|(id, foam)| {
            let most = catalogue.rules.most_compression.value;
            let stack = foam_stack(&foam.thicknesses_mm.value, height_mm, most)?;
            Some((id.as_str(), foam.preference, stack))
        })
        .min_by(|(a, p, s), (b, q, t)| {
            (s.layers_mm.len().cmp(&t.layers_mm.len()))
                .then(p.total_cmp(q))
                .then(s.compression.total_cmp(&t.compression))
                .then(a.cmp(b))
        })
        .map(|(id, _, stack)| (id, stack))
}

fn nearest_stock(height_mm: f64, catalogue: &Catalogue) -> Phrase {
    let nearest = catalogue
        .foams
        .values()
        .flat_map(|f| &f.thicknesses_mm.value)
        .copied()
        .min_by(|a, b| (a - height_mm).abs().total_cmp(&(b - height_mm).abs()));
    match nearest {
        Some(t) => say("case.support.nearest-layer", params!("layer_mm": t)),
        None => say("case.support.no-layers", &[]),
    }
}
