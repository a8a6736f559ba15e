//! A user's catalogue over the built-in one.

use super::Catalogue;
use crate::{CatalogueError, cautions};
use piece::FastenerKind;
use serde_json::{Map, Value, json};
use std::ops::RangeInclusive;

pub(super) fn parse(bytes: &[u8]) -> Result<Value, CatalogueError> {
    let value: Value = serde_json::from_slice(bytes).map_err(|e| CatalogueError::Malformed {
        path: ".".into(),
        problem: e.to_string(),
    })?;
    if value.is_object() {
        Ok(value)
    } else {
        Err(CatalogueError::Malformed {
            path: ".".into(),
            problem: "must be an object, such as {\"rules\": {\"air_gap_mm\": 6}}".into(),
        })
    }
}

/// Puts `own` over `base`, field by field. Where the base holds a sourced value, a bare one is the user's own.
pub(super) fn over(base: &mut Value, own: Value) {
    match (base, own) {
        (Value::Object(base), Value::Object(own)) => {
            for (key, value) in own {
                match base.get_mut(&key) {
                    Some(old) => over(old, value),
                    None => {
                        base.insert(key, value);
                    }
                }
            }
        }
        (base, own) if base.as_object().is_some_and(is_sourced) => {
            *base = json!({ "value": own, "source": "your own catalogue", "standing": "own" });
        }
        (base, own) => *base = own,
    }
}

fn is_sourced(object: &Map<String, Value>) -> bool {
    object.contains_key("value") && object.contains_key("standing")
}

/// Reads and checks a whole catalogue.
pub(super) fn read(value: Value) -> Result<Catalogue, CatalogueError> {
    let catalogue: Catalogue =
        serde_path_to_error::deserialize(value).map_err(|e| CatalogueError::Malformed {
            path: e.path().to_string(),
            problem: e.inner().to_string(),
        })?;
    check(&catalogue)?;
    Ok(catalogue)
}

/// Refuses kinds of work that are not built in: nothing would ever take so long.
pub(super) fn check_work(own: &Value, built_in: &Value) -> Result<(), CatalogueError> {
    let (Some(own), Some(known)) = (
        own.get("minutes").and_then(Value::as_object),
        built_in.get("minutes").and_then(Value::as_object),
    ) else {
        return Ok(());
    };
    match own.keys().find(|work| !known.contains_key(*work)) {
        Some(work) => Err(CatalogueError::Malformed {
            path: format!("minutes.{work}"),
            problem: format!(
                "is no kind of work; there are {}",
                known.keys().cloned().collect::<Vec<_>>().join(", ")
            ),
        }),
        None => Ok(()),
    }
}

/// Single numbers of stock and fittings with the range that each can have, by path.
fn amounts(c: &Catalogue) -> Vec<(String, f64, RangeInclusive<f64>)> {
    let mut all = Vec::new();
    for (id, f) in &c.faces {
        all.push((format!("faces.{id}.gap_mm"), f.gap_mm, 0.0..=100.0));
    }
    for (id, b) in &c.backings {
        let (thick, dense) = (b.thickness_mm.value, b.density_g_cm3.value);
        all.push((format!("backings.{id}.thickness_mm"), thick, 0.1..=100.0));
        all.push((format!("backings.{id}.density_g_cm3"), dense, 0.001..=30.0));
    }
    for (id, g) in &c.glazings {
        let (thick, dense) = (g.thickness_mm.value, g.density_kg_m3.value);
        all.push((format!("glazings.{id}.thickness_mm"), thick, 0.1..=50.0));
        all.push((
            format!("glazings.{id}.density_kg_m3"),
            dense,
            1.0..=30_000.0,
        ));
    }
    for (k, r) in c.rebates.iter().enumerate() {
        let path = format!("rebates[{k}].rebate_mm");
        all.push((path, r.rebate_mm.value, 1.0..=1000.0));
    }
    for (id, h) in &c.hangers {
        let path = format!("hangers.{id}.rating_g");
        all.push((path, h.rating_g.value, 1.0..=1e7));
    }
    for (id, w) in &c.wires {
        let path = format!("wires.{id}.rating_n");
        all.push((path, w.rating_n.value, 0.01..=1e5));
    }
    for (kind, f) in &c.fastenings {
        let word = match kind {
            FastenerKind::WireTie => "wire_tie",
            FastenerKind::Strap => "strap",
            FastenerKind::Screw => "screw",
        };
        let path = |field| format!("fastenings.{word}.{field}");
        all.push((path("holds_n"), f.holds_n.value, 0.01..=1e5));
        all.push((path("hole_mm"), f.hole_mm.value, 0.0..=50.0));
    }
    all
}

fn check(c: &Catalogue) -> Result<(), CatalogueError> {
    let bad = |path: String, problem: &str| {
        Err(CatalogueError::Malformed {
            path,
            problem: problem.into(),
        })
    };
    for (id, m) in &c.materials {
        if !c.faces.contains_key(&m.face) {
            return bad(format!("materials.{id}.face"), "names no class of `faces`");
        }
        if !(0.001..=30.0).contains(&m.density_g_cm3.value) {
            return bad(
                format!("materials.{id}.density_g_cm3"),
                "must be 0.001 to 30",
            );
        }
    }
    for (id, a) in &c.adhesives {
        if let Some((field, problem)) = a.unsound() {
            return bad(format!("adhesives.{id}.{field}"), problem);
        }
        if let Some(strange) = a.cautions.iter().find(|code| !cautions::is_known(code)) {
            return bad(
                format!("adhesives.{id}.cautions"),
                &format!("{strange:?} is the code of no caution, such as \"glue.epoxy\""),
            );
        }
    }
    for (id, f) in &c.foams {
        if !c.materials.contains_key(&f.material) {
            return bad(format!("foams.{id}.material"), "names no material");
        }
        if f.thicknesses_mm.value.is_empty()
            || !f
                .thicknesses_mm
                .value
                .iter()
                .all(|t| (0.1..=500.0).contains(t))
        {
            return bad(format!("foams.{id}.thicknesses_mm"), "needs 0.1 to 500 mm");
        }
        if !f
            .sheet_mm
            .value
            .iter()
            .all(|s| (10.0..=10_000.0).contains(s))
        {
            return bad(format!("foams.{id}.sheet_mm"), "needs 10 to 10000 mm");
        }
    }
    for (id, b) in &c.boards {
        if !c.materials.contains_key(&b.face) {
            return bad(format!("boards.{id}.face"), "names no material");
        }
        for (field, value, most) in [
            ("thickness_mm", b.thickness_mm.value, 100.0),
            ("mass_g_m2", b.mass_g_m2.value, 100_000.0),
            ("e_mpa", b.e_mpa.value, 1e6),
            ("facing_mpa", b.facing_mpa.value, 1e3),
        ] {
            if !(value > 0.0 && value <= most) {
                return bad(format!("boards.{id}.{field}"), "must be more than nothing");
            }
        }
    }
    for (path, value, range) in amounts(c) {
        if !range.contains(&value) {
            return bad(
                path,
                &format!("must be {} to {}", range.start(), range.end()),
            );
        }
    }
    if !c.spacers_mm.value.iter().all(|s| (0.5..=500.0).contains(s)) {
        return bad("spacers_mm".into(), "needs 0.5 to 500 mm");
    }
    for (work, m) in &c.minutes {
        if !(0.0..=100_000.0).contains(&m.value) {
            return bad(format!("minutes.{work}"), "must be 0 to 100000");
        }
    }
    for (name, list) in [
        ("adhesives", c.adhesives.is_empty()),
        ("foams", c.foams.is_empty()),
        ("boards", c.boards.is_empty()),
        ("backings", c.backings.is_empty()),
        ("glazings", c.glazings.is_empty()),
        ("hangers", c.hangers.is_empty()),
        ("wires", c.wires.is_empty()),
    ] {
        if list {
            return bad(name.into(), "needs an entry");
        }
    }
    match c.rules.unsound() {
        Some((field, problem)) => bad(format!("rules.{field}"), problem),
        None => Ok(()),
    }
}
