//! How the layers stand behind the glazing.

use crate::catalogue::{Backing, Board, Catalogue, Glazing};
use crate::say::{Findings, down_to_tenth, up, up_to_tenth};
use crate::stack::spacer_stack;
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{
    Bond, BuildChoices, Depth, DepthLayer, DepthLayerKind, Joint, Level, PartDepth, Piece, Spacer,
    StockDepth, Support,
};

/// What stands before and behind the parts.
pub(crate) struct Sandwich<'a> {
    pub(crate) glazing: (&'a str, &'a Glazing),
    pub(crate) board: (&'a str, &'a Board),
    pub(crate) backing: (&'a str, &'a Backing),
}

/// One part as it stands: its foot over the board, and what it stands on.
pub(crate) struct Stood<'a> {
    pub(crate) subject: &'a Subject<'a>,
    pub(crate) foot_mm: f64,
    pub(crate) supports: &'a [Support],
    pub(crate) bonds: &'a [Bond],
}

/// Most spacers on each other.
const MOST_SPACERS: usize = 3;

pub(crate) fn plan(
    piece: &Piece,
    parts: &[Stood<'_>],
    sandwich: &Sandwich<'_>,
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Depth {
    let air_mm = air_gap_mm(&piece.choices, catalogue);
    let top_of = |s: &Stood<'_>| s.foot_mm + s.subject.height_mm;
    let tallest = parts.iter().max_by(|a, b| top_of(a).total_cmp(&top_of(b)));
    let top_mm = tallest.map_or(0.0, top_of);
    let glazing_mm = sandwich.glazing.1.thickness_mm.value;
    let behind_mm = sandwich.board.1.thickness_mm.value + sandwich.backing.1.thickness_mm.value;
    let around = glazing_mm + behind_mm;
    let needed_mm = up_to_tenth(around + top_mm + air_mm);
    let rebate_mm = piece.frame.rebate_depth_mm;
    let spare_mm = rebate_mm.map(|r| r - needed_mm);
    let stack_mm = spacer_stack(&catalogue.spacers_mm.value, top_mm + air_mm, MOST_SPACERS)
        .filter(|s| rebate_mm.is_none_or(|r| s.iter().sum::<f64>() + around <= r + 1e-9))
        .unwrap_or_default();
    let inside_mm = if stack_mm.is_empty() {
        let wanted = top_mm + air_mm;
        rebate_mm.map_or(wanted, |r| wanted.min(r - around))
    } else {
        stack_mm.iter().sum()
    };
    let depth_parts: Vec<PartDepth> = parts
        .iter()
        .map(|s| PartDepth {
            part: s.subject.part.id.clone(),
            foot_mm: s.foot_mm,
            top_mm: top_of(s),
            clearance_mm: inside_mm - top_of(s),
            height_unknown: s.subject.height_unknown,
        })
        .collect();
    let window = piece.frame.window();
    let depth = Depth {
        needed_mm,
        rebate_mm,
        spare_mm,
        inside_mm,
        layers: layers(tallest, top_mm, inside_mm, sandwich),
        spacer: Spacer {
            needed_mm: top_mm + air_mm,
            run_mm: 2.0 * (window.width_mm() + window.height_mm()),
            stack_mm,
        },
        parts: depth_parts,
        stock: catalogue
            .rebates
            .iter()
            .map(|s| StockDepth {
                name: s.name.clone(),
                rebate_mm: s.rebate_mm.value,
                spare_mm: s.rebate_mm.value - needed_mm,
            })
            .collect(),
    };
    check(&depth, parts, air_mm, catalogue, findings);
    depth
}

pub(crate) fn air_gap_mm(choices: &BuildChoices, catalogue: &Catalogue) -> f64 {
    choices
        .air_gap_mm
        .unwrap_or(catalogue.rules.air_gap_mm.value)
}

fn layers(
    tallest: Option<&Stood<'_>>,
    top_mm: f64,
    inside_mm: f64,
    sandwich: &Sandwich<'_>,
) -> Vec<DepthLayer> {
    let layer = |kind, name: &str, thickness_mm| DepthLayer {
        kind,
        name: name.into(),
        thickness_mm,
    };
    let mut all = vec![
        layer(
            DepthLayerKind::Glazing,
            sandwich.glazing.0,
            sandwich.glazing.1.thickness_mm.value,
        ),
        layer(DepthLayerKind::Air, "", inside_mm - top_mm),
    ];
    if let Some(s) = tallest {
        all.push(layer(
            DepthLayerKind::Part,
            s.subject.part.id.as_str(),
            s.subject.height_mm,
        ));
        // A fill lies inside its part, and takes no height of its own.
        let on_board = s
            .bonds
            .iter()
            .find(|b| matches!(b.joint, Joint::PartToBoard | Joint::SupportToBoard));
        let line = on_board.map_or(0.0, |b| b.bond_line_mm).min(s.foot_mm);
        if s.foot_mm - line > 1e-9 {
            let foam = s
                .supports
                .first()
                .and_then(|p| p.materials.first())
                .map_or("", String::as_str);
            all.push(layer(DepthLayerKind::Support, foam, s.foot_mm - line));
        }
        if line > 0.0 {
            let adhesive = on_board.map_or("", |b| b.adhesive.as_str());
            all.push(layer(DepthLayerKind::Adhesive, adhesive, line));
        }
    }
    all.push(layer(
        DepthLayerKind::Board,
        sandwich.board.0,
        sandwich.board.1.thickness_mm.value,
    ));
    all.push(layer(
        DepthLayerKind::Backing,
        sandwich.backing.0,
        sandwich.backing.1.thickness_mm.value,
    ));
    all
}

fn check(
    depth: &Depth,
    parts: &[Stood<'_>],
    air_mm: f64,
    catalogue: &Catalogue,
    findings: &mut Findings,
) {
    let least = catalogue.rules.least_air_gap_mm.value.min(air_mm);
    let remedy = || {
        let frame = depth
            .stock
            .iter()
            .filter(|s| s.spare_mm >= 0.0)
            .map(|s| s.rebate_mm)
            .fold(None, |best: Option<f64>, r| {
                Some(best.map_or(r, |b| b.min(r)))
            });
        match frame {
            Some(r) => say(
                "remedy.depth.deeper",
                params!("needed_mm": up_to_tenth(depth.needed_mm), "stock_mm": r),
            ),
            None => say(
                "remedy.depth.build",
                params!("needed_mm": up_to_tenth(depth.needed_mm)),
            ),
        }
    };
    for (s, d) in parts.iter().zip(&depth.parts) {
        if depth.rebate_mm.is_none() {
            break;
        }
        if d.clearance_mm <= 0.0 {
            findings.tell_about(
                s.subject,
                Level::Stop,
                "depth.touches-glazing",
                vec![say(
                    "case.depth.touches-glazing",
                    params!(
                        "part": s.subject.named(), "top_mm": up_to_tenth(d.top_mm),
                        "inside_mm": down_to_tenth(depth.inside_mm)
                    ),
                )],
                remedy(),
            );
        } else if d.clearance_mm < least - 1e-9 {
            findings.tell_about(
                s.subject,
                Level::Fix,
                "depth.air-gap",
                vec![say(
                    "case.depth.air-gap",
                    params!(
                        "part": s.subject.named(), "air_mm": down_to_tenth(d.clearance_mm),
                        "least_mm": up_to_tenth(least)
                    ),
                )],
                remedy(),
            );
        }
    }
    let unknown: Vec<_> = parts
        .iter()
        .filter(|s| s.subject.height_unknown)
        .map(|s| s.subject.part.id.clone())
        .collect();
    if !unknown.is_empty() {
        let text = format!(
            "The height of {} is not known: {} is counted, and its clearance is no promise.",
            parts_in_words(unknown.len()),
            if unknown.len() == 1 {
                "1 mm"
            } else {
                "1 mm each"
            }
        );
        findings.note(
            "depth.height-unknown",
            unknown,
            text,
            "Measure the greatest height of each with a caliper (thickness_mm).",
        );
    }
    match (depth.rebate_mm, depth.spacer.stack_mm.is_empty()) {
        (None, _) => findings.note(
            "depth.rebate-unknown",
            vec![],
            format!(
                "The frame's rebate depth is not known; {} mm are needed.",
                up(depth.needed_mm)
            ),
            "Measure from the front of the glazing to the back of the backing (frame.rebate_depth_mm).",
        ),
        (Some(_), true) if depth.spare_mm.is_some_and(|s| s >= 0.0) => findings.note(
            "depth.spacer-cut",
            vec![],
            format!(
                "No stack of stock spacers is {} mm high or a little more and fits the rebate.",
                up(depth.spacer.needed_mm)
            ),
            "Cut spacers of board or wood to measure.",
        ),
        _ => {}
    }
}

pub(crate) fn parts_in_words(n: usize) -> String {
    if n == 1 {
        "one part".into()
    } else {
        format!("{n} parts")
    }
}
