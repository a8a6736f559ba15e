//! What is needed.

use crate::catalogue::{Adhesive, Catalogue};
use crate::depth::Sandwich;
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{
    ApplyAs, BillKind, BillLine, BillUnit, Bond, Caution, CutSheet, Depth, Fastener, Hanging, Pack,
    PartId, Piece, StandInForm, Step, Support,
};
use std::collections::BTreeMap;

/// All that the bill is made from.
pub(crate) struct Needs<'a> {
    pub(crate) piece: &'a Piece,
    pub(crate) catalogue: &'a Catalogue,
    pub(crate) subjects: &'a [Subject<'a>],
    pub(crate) sandwich: &'a Sandwich<'a>,
    pub(crate) depth: &'a Depth,
    pub(crate) supports: &'a [Support],
    pub(crate) cut_sheets: &'a [CutSheet],
    pub(crate) bonds: &'a [Bond],
    pub(crate) fasteners: &'a [Fastener],
    pub(crate) hanging: &'a Hanging,
    pub(crate) steps: &'a [Step],
}

/// Isopropyl alcohol for one part, ml.
const CLEANER_ML: f64 = 2.0;

/// The bill of materials, by kind.
pub(crate) fn bill(n: &Needs<'_>) -> Vec<BillLine> {
    let mut lines = Vec::new();
    frame(n, &mut lines);
    supports(n, &mut lines);
    adhesives(n, &mut lines);
    fasteners(n, &mut lines);
    stand_ins(n, &mut lines);
    protection(n, &mut lines);
    lines.sort_by(|a, b| a.kind.cmp(&b.kind).then(a.item.cmp(&b.item)));
    lines
}

fn line(kind: BillKind, item: &str, title: piece::Phrase, amount: f64, unit: BillUnit) -> BillLine {
    BillLine {
        kind,
        item: item.into(),
        title,
        amount,
        unit,
        packs: Vec::new(),
        parts: Vec::new(),
    }
}

fn named(name: &str) -> piece::Phrase {
    say("bill.item", params!("name": name))
}

fn frame(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    let [w, h] = n.piece.frame.size_mm;
    lines.push(line(
        BillKind::Frame,
        "frame",
        say(
            "bill.frame",
            params!("width_mm": w, "height_mm": h, "rebate_mm": n.depth.needed_mm),
        ),
        1.0,
        BillUnit::Piece,
    ));
    let (glazing, board, backing) = (n.sandwich.glazing, n.sandwich.board, n.sandwich.backing);
    let board_box = n.piece.frame.board();
    let board_mm2 = board_box.width_mm() * board_box.height_mm();
    for (kind, id, name, mm2) in [
        (BillKind::Glazing, glazing.0, &glazing.1.name, w * h),
        (BillKind::Board, board.0, &board.1.name, board_mm2),
        (BillKind::Backing, backing.0, &backing.1.name, w * h),
    ] {
        lines.push(line(kind, id, named(name), mm2, BillUnit::Mm2));
    }
    let spacer = &n.depth.spacer;
    if spacer.stack_mm.is_empty() {
        lines.push(line(
            BillKind::Spacer,
            "spacer-cut",
            say("bill.spacer-cut", params!("height_mm": n.depth.inside_mm)),
            spacer.run_mm,
            BillUnit::Mm,
        ));
    }
    let mut heights: BTreeMap<u64, f64> = BTreeMap::new();
    for s in &spacer.stack_mm {
        *heights.entry((s * 1000.0).round() as u64).or_default() += spacer.run_mm;
    }
    for (micrometres, run) in heights {
        let height = micrometres as f64 / 1000.0;
        lines.push(line(
            BillKind::Spacer,
            &format!("spacer-{}", crate::texts::number(height)),
            say("bill.spacer", params!("height_mm": height)),
            run,
            BillUnit::Mm,
        ));
    }
    lines.push(line(
        BillKind::Print,
        "template",
        say("bill.print", &[]),
        2.0 * board_mm2,
        BillUnit::Mm2,
    ));
    lines.push(line(
        BillKind::Consumable,
        "seal-tape",
        say("bill.seal-tape", &[]),
        2.0 * (w + h),
        BillUnit::Mm,
    ));
    if let Some(h) = n.catalogue.hangers.get(&n.hanging.hanger) {
        lines.push(line(
            BillKind::Hanger,
            &n.hanging.hanger,
            named(&h.name),
            f64::from(n.hanging.count),
            BillUnit::Piece,
        ));
    }
    if let Some((wire, w)) = n
        .hanging
        .wire
        .as_ref()
        .and_then(|w| Some((w, n.catalogue.wires.get(&w.name)?)))
    {
        lines.push(line(
            BillKind::Hanger,
            &wire.name,
            named(&w.name),
            wire.length_mm,
            BillUnit::Mm,
        ));
    }
}

fn supports(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    let mut by: BTreeMap<(&str, u64), (f64, u32, Vec<PartId>)> = BTreeMap::new();
    for sheet in n.cut_sheets {
        let key = (
            sheet.material.as_str(),
            (sheet.thickness_mm * 1000.0).round() as u64,
        );
        let entry = by.entry(key).or_default();
        entry.0 += sheet.used * sheet.size_mm[0] * sheet.size_mm[1];
        entry.1 += 1;
        entry.2.extend(
            sheet
                .placements
                .iter()
                .filter_map(|p| n.supports.get(p.support))
                .map(|s| s.part.clone()),
        );
    }
    for ((material, micrometres), (mm2, count, mut parts)) in by {
        let Some(foam) = n.catalogue.foams.get(material) else {
            continue;
        };
        parts.sort();
        parts.dedup();
        let thickness = micrometres as f64 / 1000.0;
        let [w, h] = foam.sheet_mm.value;
        let mut l = line(
            BillKind::Support,
            &format!("{material}-{}", crate::texts::number(thickness)),
            say(
                "bill.foam",
                params!("name": foam.name.clone(), "thickness_mm": thickness),
            ),
            mm2,
            BillUnit::Mm2,
        );
        l.packs = vec![Pack {
            size: w * h,
            count,
            form: format!(
                "{} x {} mm",
                crate::texts::number(w),
                crate::texts::number(h)
            ),
        }];
        l.parts = parts;
        lines.push(l);
    }
}

fn adhesives(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    let mut by: BTreeMap<(&str, u64), (f64, Vec<PartId>)> = BTreeMap::new();
    for b in n.bonds {
        if b.apply_as == ApplyAs::Tape {
            for t in &b.tapes {
                let entry = by
                    .entry((&b.adhesive, (t.width_mm * 1000.0).round() as u64))
                    .or_default();
                entry.0 += t.length_mm;
                entry.1.push(b.part.clone());
            }
        } else {
            let entry = by.entry((&b.adhesive, 0)).or_default();
            entry.0 += b.dose_ml;
            entry.1.push(b.part.clone());
        }
    }
    for ((id, micrometres), (amount, mut parts)) in by {
        let Some(a) = n.catalogue.adhesives.get(id) else {
            continue;
        };
        parts.sort();
        parts.dedup();
        let mut l = if micrometres > 0 {
            let width = micrometres as f64 / 1000.0;
            line(
                BillKind::Tape,
                &format!("{id}-{}", crate::texts::number(width)),
                say(
                    "bill.tape",
                    params!("name": a.name.clone(), "width_mm": width),
                ),
                amount * (1.0 + a.waste_share.value),
                BillUnit::Mm,
            )
        } else {
            line(BillKind::Adhesive, id, named(&a.name), amount, BillUnit::Ml)
        };
        l.packs = packs(a, l.amount);
        l.parts = parts;
        lines.push(l);
    }
}

/// The smallest single pack that is enough, else as many of the largest as it takes.
pub(crate) fn packs(a: &Adhesive, amount: f64) -> Vec<Pack> {
    let mut sizes: Vec<_> = a.packs.iter().collect();
    sizes.sort_by(|x, y| x.size.total_cmp(&y.size));
    let Some(pack) = sizes.iter().find(|p| p.size >= amount).or(sizes.last()) else {
        return Vec::new();
    };
    vec![Pack {
        size: pack.size,
        count: (amount / pack.size).ceil().clamp(1.0, 1e6) as u32,
        form: pack.form.clone(),
    }]
}

fn fasteners(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    for (kind, entry) in &n.catalogue.fastenings {
        let mine: Vec<&Fastener> = n.fasteners.iter().filter(|f| f.kind == *kind).collect();
        if mine.is_empty() {
            continue;
        }
        let mut parts: Vec<PartId> = mine.iter().map(|f| f.part.clone()).collect();
        parts.dedup();
        let mut l = line(
            BillKind::Fastener,
            match kind {
                piece::FastenerKind::WireTie => "wire-tie",
                piece::FastenerKind::Strap => "strap",
                piece::FastenerKind::Screw => "screw",
            },
            named(&entry.name),
            mine.len() as f64,
            BillUnit::Piece,
        );
        l.parts = parts;
        lines.push(l);
    }
}

fn stand_ins(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    for (form, item, code, by_area) in [
        (
            StandInForm::Card,
            "stand-in-card",
            "bill.stand-in-card",
            true,
        ),
        (
            StandInForm::Print,
            "stand-in-print",
            "bill.stand-in-print",
            true,
        ),
        (
            StandInForm::InertCopy,
            "stand-in-copy",
            "bill.stand-in-copy",
            false,
        ),
    ] {
        let mine: Vec<&Subject<'_>> = n
            .subjects
            .iter()
            .filter(|s| s.stand_in == Some(form))
            .collect();
        if mine.is_empty() {
            continue;
        }
        let (amount, unit) = if by_area {
            (
                mine.iter().map(|s| s.outline.area_mm2()).sum(),
                BillUnit::Mm2,
            )
        } else {
            (mine.len() as f64, BillUnit::Piece)
        };
        let mut l = line(BillKind::StandIn, item, say(code, &[]), amount, unit);
        l.parts = mine.iter().map(|s| s.part.id.clone()).collect();
        lines.push(l);
    }
}

fn protection(n: &Needs<'_>, lines: &mut Vec<BillLine>) {
    let worn = |code: &str| {
        n.steps
            .iter()
            .flat_map(|s| &s.cautions)
            .flat_map(|c: &Caution| &c.protection)
            .any(|p| p.code == code)
    };
    for (wear, item, code) in [
        ("wear.gloves", "gloves", "bill.gloves"),
        ("wear.cut-gloves", "cut-gloves", "bill.cut-gloves"),
        ("wear.eyes", "safety-glasses", "bill.eyes"),
        ("keep.sand", "cell-bags", "bill.bags"),
    ] {
        if worn(wear) {
            let title = say(code, &[]);
            lines.push(line(
                BillKind::Protection,
                item,
                title,
                1.0,
                BillUnit::Piece,
            ));
        }
    }
    let cleaned = n.subjects.iter().filter(|s| s.is_real()).count() as f64;
    if cleaned > 0.0 {
        lines.push(line(
            BillKind::Consumable,
            "isopropanol",
            say("bill.isopropanol", &[]),
            CLEANER_ML * cleaned,
            BillUnit::Ml,
        ));
        lines.push(line(
            BillKind::Consumable,
            "wipes",
            say("bill.wipes", &[]),
            cleaned,
            BillUnit::Piece,
        ));
    }
}
