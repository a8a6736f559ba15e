//! The build plan: what mounting works out, as plain data that sheets, guide, costs and the app read.
//!
//! Heights are mm above the board's face, towards the glazing. Outlines, paths and holes of a part are in the part's
//! own coordinates as it is shown ([`crate::Part::shown_outline`]): its placement carries them onto the board.

mod bill;
mod bond;
mod choices;
mod depth;
mod fastener;
mod hanging;
mod step;
mod support;

pub use bill::{BillKind, BillLine, BillUnit, Pack};
pub use bond::{ApplyAs, Bond, Joint, LoadCaseKind, LoadResult, RunnerUp, TapePiece};
pub use choices::{BuildChoices, DeviceSide, Moulding, Transfer};
pub use depth::{Depth, DepthLayer, DepthLayerKind, PartDepth, Spacer, StockDepth};
pub use fastener::{Fastener, FastenerKind, Hole};
pub use hanging::{BoardPlan, Hanging, MassLine, Wire};
pub use step::{Caution, Stage, Step};
pub use support::{CutPlacement, CutSheet, Support, SupportKind};

use crate::place::{FARTHEST_MM, are_near, is_near};
use crate::{Finding, Standing};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How a piece is built. [`crate::Piece::build_is_current`] says whether it still belongs to its piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildPlan {
    /// Mark of the piece that it was worked out for.
    pub made_from: String,
    /// How the layers stand behind the glazing.
    pub depth: Depth,
    /// What lies under or inside the parts.
    #[serde(default)]
    pub supports: Vec<Support>,
    /// The supports' cut list on stock sheets.
    #[serde(default)]
    pub cut_sheets: Vec<CutSheet>,
    /// What holds the parts, in the order in which it is applied.
    #[serde(default)]
    pub bonds: Vec<Bond>,
    /// Ties, straps and screws beside the adhesive.
    #[serde(default)]
    pub fasteners: Vec<Fastener>,
    /// The board that carries the parts.
    pub board: BoardPlan,
    /// The frame on the wall.
    pub hanging: Hanging,
    /// Mass of the finished piece, g.
    pub mass_g: f64,
    /// What is done, each after those that it names; in the order of their start.
    #[serde(default)]
    pub steps: Vec<Step>,
    /// What may be done later: opening the piece, bonding a fallen part again. Not scheduled.
    #[serde(default)]
    pub later: Vec<Step>,
    /// Time from the first step's start to the last one's end, minutes.
    pub elapsed_minutes: f64,
    /// Time that it would take if hands and clamps had no end, minutes: the critical path.
    #[serde(default)]
    pub critical_minutes: f64,
    /// Time during which somebody works, minutes: the sum over all steps.
    pub hands_on_minutes: f64,
    /// What is needed.
    #[serde(default)]
    pub bill: Vec<BillLine>,
    /// Handbook figures that the plan rests on.
    #[serde(default)]
    pub figures: Vec<Figure>,
    /// What stands in the way, or is worth knowing.
    #[serde(default)]
    pub findings: Vec<Finding>,
}

/// A handbook figure that a plan rests on, for people to judge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// Stable: where it stands in the catalogue, such as `adhesives.neutral-silicone.lap_shear_mpa`.
    pub code: String,
    /// What it is, in English.
    pub name: String,
    /// The value in that unit.
    pub value: f64,
    /// `mm`, `MPa`, `g`, `min`; empty for a bare number.
    #[serde(default)]
    pub unit: String,
    /// Where it is from.
    pub source: String,
    /// How far it can be trusted.
    pub standing: Standing,
}

impl BuildPlan {
    /// The path of the first number that cannot be: a coordinate beyond 100 m, a negative length or time.
    pub(crate) fn unsound(&self) -> Option<(String, &'static str)> {
        let far = |p: &shape::Point| !is_near(p);
        const POINTS: &str = "needs coordinates within 100 m";
        const POSITIVE: &str = "must not be negative, nor beyond all measure";
        let negative = |v: f64| !(0.0..=1e9).contains(&v);
        for (i, s) in self.supports.iter().enumerate() {
            if s.outer.iter().chain(s.holes.iter().flatten()).any(far) {
                return Some((format!("build.supports[{i}]"), POINTS));
            }
            if s.layers_mm.iter().any(|l| negative(*l)) {
                return Some((format!("build.supports[{i}].layers_mm"), POSITIVE));
            }
        }
        for (i, sheet) in self.cut_sheets.iter().enumerate() {
            let all = |p: &CutPlacement| are_near(&[p.x, p.y, p.turn_deg]);
            if !sheet
                .size_mm
                .iter()
                .all(|v| (0.0..=FARTHEST_MM).contains(v))
                || !sheet.placements.iter().all(all)
            {
                return Some((format!("build.cut_sheets[{i}]"), POINTS));
            }
            if sheet
                .placements
                .iter()
                .any(|p| p.support >= self.supports.len())
            {
                return Some((
                    format!("build.cut_sheets[{i}]"),
                    "names a support that is not in the plan",
                ));
            }
        }
        for (i, b) in self.bonds.iter().enumerate() {
            let tapes = b.tapes.iter().flat_map(|t| &t.outer);
            if b.paths
                .iter()
                .flatten()
                .chain(&b.dots)
                .chain(tapes)
                .any(far)
            {
                return Some((format!("build.bonds[{i}]"), POINTS));
            }
            if [b.bead_mm, b.spread_mm, b.dose_ml, b.utilisation]
                .iter()
                .any(|v| negative(*v))
            {
                return Some((format!("build.bonds[{i}]"), POSITIVE));
            }
        }
        for (i, f) in self.fasteners.iter().enumerate() {
            if f.holes.iter().any(|h| {
                far(&shape::Point::new(h.x, h.y)) || !(0.0..=FARTHEST_MM).contains(&h.diameter_mm)
            }) {
                return Some((format!("build.fasteners[{i}]"), POINTS));
            }
        }
        for (i, s) in self.steps.iter().enumerate() {
            if [s.minutes, s.hands_on_minutes, s.start_minute, s.end_minute]
                .iter()
                .any(|v| negative(*v))
            {
                return Some((format!("build.steps[{i}]"), POSITIVE));
            }
        }
        for (i, l) in self.bill.iter().enumerate() {
            if negative(l.amount) || l.packs.iter().any(|p| negative(p.size)) {
                return Some((format!("build.bill[{i}]"), POSITIVE));
            }
        }
        None
    }
}
