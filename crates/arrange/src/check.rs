//! What is wrong with a layout as it stands.

use crate::alike::alike;
use crate::board::{box_tree, keep_outs, lines_cross, overlap};
use crate::held::meets;
use crate::hull::hull;
use piece::{Caption, Finding, Level, Part, PartId, Piece, Turns};
use shape::{Bounds, EdgeTree, Outline, intersection_area_mm2};
use std::collections::BTreeSet;

/// Rounding of coordinates in a document, mm: a shortfall of less than this is none.
pub const TOLERANCE_MM: f64 = 1e-6;

/// Checks a piece's layout: overlaps, gaps, window, margins, keep-outs, captions and leaders.
///
/// Measures true outlines, holes included. A shortfall of less than [`TOLERANCE_MM`] is rounding;
/// lengths in the texts are rounded so that the case never looks better than it is. The findings come
/// sorted, stops first.
///
/// | code | level | says |
/// | --- | --- | --- |
/// | `layout.part-too-large` | stop | a part fits the field at no allowed turn |
/// | `layout.overlap` | stop | two parts share area |
/// | `layout.outside-window` | stop | a part reaches out of the window |
/// | `layout.outside-margin` | fix | a part reaches into the margin |
/// | `layout.gap` | fix | two parts are nearer than the gap |
/// | `layout.keep-out` | fix | a part lies where none may lie |
/// | `layout.nested` | fix | a part lies in another's hole or notch, and the layout does not allow it |
/// | `layout.turn` | fix | a part that is not pinned lies at a turn that it may not take |
/// | `layout.group-torn` | fix | a part lies between those of a group that is not its own |
/// | `layout.not-placed` | fix | a part has no place yet |
/// | `caption.on-part`, `caption.on-caption`, `caption.outside-window` | fix | a caption touches something |
/// | `leader.crosses-part`, `leader.crosses-leader` | fix | a leader meets what is not its own |
/// | `caption.missing` | note | a part has no caption, nor has a small one of its kind and size |
pub fn check(piece: &Piece) -> Vec<Finding> {
    let mut findings = Vec::new();
    let placed: Vec<(&Part, EdgeTree)> = piece
        .outlines_on_board()
        .into_iter()
        .map(|(part, outline)| (part, EdgeTree::new(outline)))
        .collect();
    check_sizes(piece, &mut findings);
    check_places(piece, &placed, &mut findings);
    check_pairs(piece, &placed, &mut findings);
    check_turns(piece, &mut findings);
    check_groups(&placed, &mut findings);
    check_captions(piece, &placed, &mut findings);
    check_leaders(piece, &placed, &mut findings);
    Finding::sort(&mut findings);
    findings
}

fn finding(
    level: Level,
    code: &str,
    parts: &[&PartId],
    text: String,
    remedy: impl Into<String>,
) -> Finding {
    Finding {
        level,
        code: code.into(),
        parts: parts.iter().map(|&id| id.clone()).collect(),
        text,
        remedy: remedy.into(),
        phrases: Vec::new(),
    }
}

/// A length with two decimals, rounded down: a clearance never looks larger than it is.
fn down(mm: f64) -> String {
    format!("{:.2}", (mm * 100.0).floor() / 100.0)
}

/// A length with two decimals, rounded up: a need or an excess never looks smaller than it is.
fn up(mm: f64) -> String {
    format!("{:.2}", (mm * 100.0).ceil() / 100.0)
}

fn named(part: &Part) -> String {
    format!("{} ({})", part.name, part.id)
}

fn check_sizes(piece: &Piece, findings: &mut Vec<Finding>) {
    let field = piece.frame.field();
    for part in &piece.parts {
        if let Some([w, h]) = crate::fit::too_large_for(part, field) {
            findings.push(finding(
                Level::Stop,
                "layout.part-too-large",
                &[&part.id],
                format!(
                    "{} is {} x {} mm; the window less spacer and margin has {} x {} mm.",
                    named(part),
                    up(w),
                    up(h),
                    down(field.width_mm()),
                    down(field.height_mm()),
                ),
                "Choose a larger frame or narrower margins, or let the part turn.",
            ));
        }
    }
}

fn check_places(piece: &Piece, placed: &[(&Part, EdgeTree)], findings: &mut Vec<Finding>) {
    let (window, field) = (piece.frame.window(), piece.frame.field());
    for part in &piece.parts {
        if piece.placement(&part.id).is_none() {
            findings.push(finding(
                Level::Fix,
                "layout.not-placed",
                &[&part.id],
                format!("{} is not on the board yet.", named(part)),
                "Arrange the piece, or place the part by hand.",
            ));
        }
    }
    for (part, tree) in placed {
        let bounds = tree.outline().bounds();
        let out = reaches_out_mm(bounds, window);
        if out > TOLERANCE_MM {
            findings.push(finding(
                Level::Stop,
                "layout.outside-window",
                &[&part.id],
                format!("{} reaches {} mm out of the window.", named(part), up(out)),
                "Move it inwards, or choose a larger frame.",
            ));
        } else {
            let out = reaches_out_mm(bounds, field);
            if out > TOLERANCE_MM {
                findings.push(finding(
                    Level::Fix,
                    "layout.outside-margin",
                    &[&part.id],
                    format!("{} reaches {} mm into the margin.", named(part), up(out)),
                    "Move it inwards, or make the margin narrower.",
                ));
            }
        }
        for (keep_out, named_keep_out) in keep_outs(piece).into_iter().zip(&piece.layout.keep_outs)
        {
            let lies_on = box_tree(keep_out)
                .filter(|_| overlap(keep_out.grown(-TOLERANCE_MM), bounds))
                .is_some_and(|b| shared_area_mm2(tree.outline(), b.outline()) > TOLERANCE_MM);
            if lies_on {
                let what = if named_keep_out.why.is_empty() {
                    "where no part may lie".to_owned()
                } else {
                    format!("on the place kept for: {}", named_keep_out.why)
                };
                findings.push(finding(
                    Level::Fix,
                    "layout.keep-out",
                    &[&part.id],
                    format!("{} lies {what}.", named(part)),
                    "Move the part, or move the place that is kept free.",
                ));
            }
        }
    }
}

fn reaches_out_mm(inner: Bounds, outer: Bounds) -> f64 {
    [
        outer.min.x - inner.min.x,
        outer.min.y - inner.min.y,
        inner.max.x - outer.max.x,
        inner.max.y - outer.max.y,
    ]
    .into_iter()
    .fold(0.0, f64::max)
}

fn shared_area_mm2(a: &Outline, b: &Outline) -> f64 {
    intersection_area_mm2(a, b)
}

fn check_pairs(piece: &Piece, placed: &[(&Part, EdgeTree)], findings: &mut Vec<Finding>) {
    let gap = piece.layout.gap_mm;
    for (i, (a, tree)) in placed.iter().enumerate() {
        for (b, other) in &placed[i + 1..] {
            let clearance = tree.clearance_mm(other, gap.max(TOLERANCE_MM));
            if clearance == 0.0 {
                let area = shared_area_mm2(tree.outline(), other.outline());
                if area > TOLERANCE_MM {
                    findings.push(finding(
                        Level::Stop,
                        "layout.overlap",
                        &[&a.id, &b.id],
                        format!("{} and {} overlap by {} mm².", named(a), named(b), up(area)),
                        "Move one of them, or arrange the piece again.",
                    ));
                    continue;
                }
            }
            if !piece.layout.nesting
                && overlap(tree.bounds(), other.bounds())
                && shared_area_mm2(&hull(tree.outline()), &hull(other.outline())) > TOLERANCE_MM
            {
                findings.push(finding(
                    Level::Fix,
                    "layout.nested",
                    &[&a.id, &b.id],
                    format!(
                        "{} and {} lie one in the other's hole or notch.",
                        named(a),
                        named(b)
                    ),
                    "Move one of them, or allow nesting in the layout.",
                ));
            }
            if clearance < gap - TOLERANCE_MM {
                findings.push(finding(
                    Level::Fix,
                    "layout.gap",
                    &[&a.id, &b.id],
                    format!(
                        "{} and {} are {} mm apart; the gap asked is {} mm.",
                        named(a),
                        named(b),
                        down(clearance),
                        up(gap),
                    ),
                    format!(
                        "Move them {} mm apart, or ask for a smaller gap.",
                        up(gap - clearance)
                    ),
                ));
            }
        }
    }
}

fn check_turns(piece: &Piece, findings: &mut Vec<Finding>) {
    for part in &piece.parts {
        let Some(placement) = piece.placement(&part.id).filter(|p| !p.pinned) else {
            continue;
        };
        let step_deg = match part.turns {
            Turns::Free => continue,
            Turns::Quarter => 90.0,
            Turns::None => 360.0,
        };
        let turn_deg = placement.turn_deg - part.home.map_or(0.0, |h| h.turn_deg);
        let off_deg = (turn_deg - step_deg * (turn_deg / step_deg).round()).abs();
        if off_deg > 1e-6 {
            findings.push(finding(
                Level::Fix,
                "layout.turn",
                &[&part.id],
                format!(
                    "{} lies {} degrees off a turn that it may take.",
                    named(part),
                    up(off_deg)
                ),
                "Arrange the piece, pin the part as it lies, or allow it more turns.",
            ));
        }
    }
}

fn check_groups(placed: &[(&Part, EdgeTree)], findings: &mut Vec<Finding>) {
    let names: BTreeSet<&str> = placed
        .iter()
        .filter_map(|(p, _)| p.group.as_deref())
        .collect();
    for name in names {
        let is_own = |p: &Part| p.group.as_deref() == Some(name);
        let block = placed
            .iter()
            .filter(|(p, _)| is_own(p))
            .map(|(_, t)| t.bounds())
            .reduce(Bounds::joined);
        for (part, tree) in placed.iter().filter(|(p, _)| !is_own(p)) {
            if block.is_some_and(|b| meets(tree, b)) {
                findings.push(finding(
                    Level::Fix,
                    "layout.group-torn",
                    &[&part.id],
                    format!(
                        "{} lies between the parts of the group {name:?}.",
                        named(part)
                    ),
                    "Move it away, or arrange the piece again.",
                ));
            }
        }
    }
}

fn check_captions(piece: &Piece, placed: &[(&Part, EdgeTree)], findings: &mut Vec<Finding>) {
    let window = piece.frame.window();
    let captions: Vec<(&Caption, Bounds)> =
        piece.captions.iter().map(|c| (c, c.bounds())).collect();
    for (k, (caption, bounds)) in captions.iter().enumerate() {
        let out = reaches_out_mm(*bounds, window);
        if out > TOLERANCE_MM {
            findings.push(finding(
                Level::Fix,
                "caption.outside-window",
                &[&caption.part],
                format!(
                    "The caption {:?} reaches {} mm out of the window.",
                    caption.text,
                    up(out)
                ),
                "Move the caption inwards, or set its text smaller.",
            ));
        }
        let tree = box_tree(*bounds);
        for (part, outline) in placed {
            let touches = tree.as_ref().is_some_and(|t| {
                overlap(*bounds, outline.outline().bounds()) && t.clearance_mm(outline, 1.0) == 0.0
            });
            if touches {
                findings.push(finding(
                    Level::Fix,
                    "caption.on-part",
                    &[&caption.part, &part.id],
                    format!("The caption {:?} lies on {}.", caption.text, named(part)),
                    "Move the caption, or arrange the captions again.",
                ));
            }
        }
        for (other, other_bounds) in &captions[k + 1..] {
            if overlap(bounds.grown(-TOLERANCE_MM), *other_bounds) {
                findings.push(finding(
                    Level::Fix,
                    "caption.on-caption",
                    &[&caption.part, &other.part],
                    format!(
                        "The captions {:?} and {:?} overlap.",
                        caption.text, other.text
                    ),
                    "Move one of them, or arrange the captions again.",
                ));
            }
        }
    }
    for (part, _) in placed {
        let said = |p: &Part| piece.caption(&p.id).is_some();
        let alike_is_captioned = || piece.parts.iter().any(|p| alike(p, part) && said(p));
        if !said(part) && !alike_is_captioned() {
            findings.push(finding(
                Level::Note,
                "caption.missing",
                &[&part.id],
                format!("{} has no caption.", named(part)),
                "Arrange the captions, or leave it unnamed.",
            ));
        }
    }
}

fn check_leaders(piece: &Piece, placed: &[(&Part, EdgeTree)], findings: &mut Vec<Finding>) {
    let leaders: Vec<(&Caption, [shape::Point; 2])> = piece
        .captions
        .iter()
        .flat_map(|c| c.leader.windows(2).map(move |w| (c, [w[0], w[1]])))
        .collect();
    for (k, (caption, [a, b])) in leaders.iter().enumerate() {
        for (part, tree) in placed {
            if part.id != caption.part && tree.line_clearance_mm(*a, *b, 1.0) == 0.0 {
                findings.push(finding(
                    Level::Fix,
                    "leader.crosses-part",
                    &[&caption.part, &part.id],
                    format!("The leader of {:?} crosses {}.", caption.text, named(part)),
                    "Move the caption to another side, or arrange the captions again.",
                ));
            }
        }
        for (other, [c, d]) in &leaders[k + 1..] {
            if other.part != caption.part && lines_cross(*a, *b, *c, *d) {
                findings.push(finding(
                    Level::Fix,
                    "leader.crosses-leader",
                    &[&caption.part, &other.part],
                    format!(
                        "The leaders of {:?} and {:?} cross.",
                        caption.text, other.text
                    ),
                    "Change the places of the two captions, or arrange them again.",
                ));
            }
        }
    }
}
