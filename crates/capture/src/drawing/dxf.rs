//! DXF as text: header units, layers, blocks, and the entities that draw lines in the plane.
//!
//! Group codes as in the DXF reference (recalled, not verified; checked against files that the library ezdxf
//! writes and reads). A reader of our own: the file is pairs of lines, what is left out has to be named with
//! its count, errors name the line, and blocks come under limits.

mod entities;
mod pairs;

use super::trace::{Affine, Traces};
use super::{DrawingError, DrawingUnit, Scale};
use pairs::{Group, Pair};
use std::collections::{HashMap, HashSet};

/// The text starts as DXF files start: a comment, or the first section.
pub(super) fn looks_like(text: &str) -> bool {
    let mut lines = text.lines().map(str::trim);
    match (lines.next(), lines.next()) {
        (Some("0"), Some("SECTION")) | (Some("999"), Some(_)) => true,
        (Some(first), _) => first.ends_with("Binary DXF"),
        _ => false,
    }
}

/// A block's base point and entities (groups from, to).
struct Block {
    base: [f64; 2],
    from: usize,
    to: usize,
}

/// What the file holds, by where its groups are.
#[derive(Default)]
struct Contents<'a> {
    groups: Vec<Group<'a>>,
    blocks: HashMap<String, Block>,
    entities: Vec<(usize, usize)>,
    hidden_layers: HashSet<String>,
    unit_code: Option<i64>,
    metric: Option<i64>,
}

pub(super) fn read(
    bytes: &[u8],
    unit: Option<DrawingUnit>,
    sink: &mut Traces,
) -> Result<Scale, DrawingError> {
    if bytes.starts_with(b"AC") || bytes[..bytes.len().min(32)].ends_with(b"\x1a\0") {
        return Err(DrawingError::NotRead(
            "this is a binary drawing; save it as DXF in text (ASCII) form",
        ));
    }
    let text = super::text_of(bytes);
    if looks_like(&text)
        && text
            .trim_start()
            .lines()
            .next()
            .is_some_and(|l| l.ends_with("Binary DXF"))
    {
        return Err(DrawingError::NotRead(
            "this is a binary DXF file; save it as DXF in text (ASCII) form",
        ));
    }
    let pairs = pairs::pairs_of(&text, sink)?;
    let contents = contents_of(&pairs, sink)?;
    let scale = scale_of(&contents, unit);
    let mut page = entities::Page {
        contents: &contents,
        sink,
    };
    for &(from, to) in &contents.entities {
        page.draw(
            from,
            to,
            &entities::Within::page(Affine::scale(scale.unit_mm, scale.unit_mm)),
        )?;
    }
    Ok(scale)
}

fn scale_of(contents: &Contents<'_>, unit: Option<DrawingUnit>) -> Scale {
    let stated = contents.unit_code.and_then(unit_mm);
    let assumed = || match (unit, contents.metric) {
        (Some(u), _) => u.mm(),
        // $MEASUREMENT 0: line types and hatches in inches.
        (None, Some(0)) => 25.4,
        _ => 1.0,
    };
    Scale {
        unit_mm: stated.unwrap_or_else(assumed),
        stated: stated.is_some(),
    }
}

/// Length of a unit of `$INSUNITS`, mm (its table; recalled, not verified, and as ezdxf has it).
fn unit_mm(code: i64) -> Option<f64> {
    Some(match code {
        1 => 25.4,
        2 => 304.8,
        4 => 1.0,
        5 => 10.0,
        6 => 1000.0,
        8 => 25.4e-6,
        9 => 0.0254,
        10 => 914.4,
        13 => 1e-3,
        14 => 100.0,
        _ => return None,
    })
}

fn contents_of<'a>(pairs: &'a [Pair<'a>], sink: &Traces) -> Result<Contents<'a>, DrawingError> {
    let mut contents = Contents {
        groups: pairs::groups_of(pairs),
        ..Contents::default()
    };
    let groups = std::mem::take(&mut contents.groups);
    let mut section = "";
    let mut block: Option<(String, Block)> = None;
    let mut section_from = 0;
    for (k, group) in groups.iter().enumerate() {
        match (section, group.kind) {
            (_, "SECTION") => {
                section = group.text(2).unwrap_or_default();
                section_from = k + 1;
                if section == "HEADER" {
                    contents.unit_code = header_number(group, "$INSUNITS", sink)?;
                    contents.metric = header_number(group, "$MEASUREMENT", sink)?;
                }
            }
            (_, "ENDSEC") => {
                if section == "ENTITIES" {
                    contents.entities.push((section_from, k));
                }
                section = "";
            }
            ("TABLES", "LAYER") => {
                let frozen = group.integer(70, sink)?.unwrap_or(0) & 1 == 1;
                let off = group.integer(62, sink)?.unwrap_or(0) < 0;
                if let (true, Some(name)) = (frozen || off, group.text(2)) {
                    contents.hidden_layers.insert(name.to_owned());
                }
            }
            ("BLOCKS", "BLOCK") => {
                let base = [
                    group.number(10, sink)?.unwrap_or(0.0),
                    group.number(20, sink)?.unwrap_or(0.0),
                ];
                let from = k + 1;
                let name = group.text(2).unwrap_or_default().to_owned();
                block = Some((
                    name,
                    Block {
                        base,
                        from,
                        to: from,
                    },
                ));
            }
            ("BLOCKS", "ENDBLK") => {
                if let Some((name, mut open)) = block.take() {
                    open.to = k;
                    contents.blocks.insert(name, open);
                }
            }
            _ => {}
        }
    }
    if !section.is_empty() {
        return Err(sink.truncated("a section does not end"));
    }
    contents.groups = groups;
    Ok(contents)
}

/// The number after a header variable's name.
fn header_number(
    group: &Group<'_>,
    name: &str,
    sink: &Traces,
) -> Result<Option<i64>, DrawingError> {
    let after = group
        .pairs
        .windows(2)
        .find(|w| w[0].code == 9 && w[0].value == name);
    after.map(|w| w[1].integer(sink)).transpose()
}
