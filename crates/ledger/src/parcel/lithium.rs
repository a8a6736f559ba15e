//! Lithium cells in a parcel.

use crate::LedgerError;
use piece::{Part, Piece};
use serde::{Deserialize, Serialize};

/// What is printed on a cell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CellRating {
    /// What it is called.
    pub name: String,
    /// Nominal voltage, V.
    pub volts: f64,
    /// Capacity, Ah.
    pub amp_hours: f64,
    /// It is one cell, not several in a battery.
    pub single_cell: bool,
}

/// Largest energy of a small cell, Wh (FACTS 7: recalled).
const SMALL_CELL_WH: f64 = 20.0;
/// Largest energy of a small battery, Wh (FACTS 7: published).
const SMALL_BATTERY_WH: f64 = 100.0;

/// What a parcel holds of lithium.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lithium {
    /// There is none.
    pub none: bool,
    /// To be put with the papers.
    pub statement: String,
    /// The UN number, where there is one.
    pub un_number: Option<&'static str>,
    /// Each cell with its energy, Wh.
    pub cells: Vec<(String, f64)>,
    /// What must be seen to.
    pub notes: Vec<String>,
}

impl CellRating {
    /// Its energy, Wh: volts times ampere hours.
    pub fn watt_hours(&self) -> f64 {
        self.volts * self.amp_hours
    }

    fn check(&self) -> Result<(), LedgerError> {
        for (what, found, allowed) in [
            ("V", self.volts, "above 0 and at most 1000 V"),
            (
                "Ah",
                self.amp_hours,
                "above 0 and at most 1000 Ah; milliampere hours are thousandths",
            ),
        ] {
            if !(found > 0.0 && found <= 1000.0) {
                return Err(LedgerError::Range {
                    what: format!("the rating of {} in {what}", self.name),
                    found: found.to_string(),
                    allowed,
                });
            }
        }
        Ok(())
    }
}

/// What is said of lithium. A piece whose cells are all stand-ins has none.
///
/// # Errors
/// [`LedgerError`] for ratings that cannot be.
pub fn statement(piece: &Piece, ratings: &[CellRating]) -> Result<Lithium, LedgerError> {
    for rating in ratings {
        rating.check()?;
    }
    let live: Vec<&Part> = piece
        .parts
        .iter()
        .filter(|p| p.is_cell() && p.stand_in.is_none())
        .collect();
    let decide = "The carrier's rules and local law decide what may travel and how; this statement does not replace them.".to_owned();
    if live.is_empty() && ratings.is_empty() {
        let stand_ins = piece.parts.iter().filter(|p| p.is_cell()).count();
        let why = if stand_ins > 0 {
            " Where the device had a cell, an inert stand-in is shown."
        } else {
            ""
        };
        return Ok(Lithium {
            none: true,
            statement: format!("This parcel contains no lithium cells or batteries.{why}"),
            un_number: None,
            cells: Vec::new(),
            notes: vec![decide],
        });
    }
    let mut notes = Vec::new();
    for part in &live {
        notes.push(format!("{} counts as a live cell: a live cell is never mounted. Show a stand-in, and hand the cell to a collection point.", part.name));
    }
    if !live.is_empty() && ratings.len() < live.len() {
        notes.push(
            "Not every cell's rating is known: read V and Ah off each, and give both with the parcel."
                .into(),
        );
    }
    let cells: Vec<(String, f64)> = ratings
        .iter()
        .map(|r| (r.name.clone(), r.watt_hours()))
        .collect();
    for r in ratings {
        let limit = if r.single_cell {
            SMALL_CELL_WH
        } else {
            SMALL_BATTERY_WH
        };
        let what = if r.single_cell { "cell" } else { "battery" };
        let wh = r.watt_hours();
        // Energy exactly at the limit is still small; rounding must not make it large.
        if wh > limit + 1e-9 {
            notes.push(format!("{} has {wh:.1} Wh, above the limit of {limit:.0} Wh for a small {what}: full dangerous goods rules; ask a trained shipper.", r.name));
        } else {
            notes.push(format!(
                "{} has {wh:.1} Wh; the limit for a small {what} is {limit:.0} Wh.",
                r.name
            ));
        }
    }
    notes.push(
        "Damaged, swollen or recalled cells may not fly, and most carriers refuse them altogether."
            .into(),
    );
    notes.push("State of charge 30 % or less is asked for much of air freight; check what holds on the day.".into());
    notes.push(decide);
    let listed: Vec<String> = cells
        .iter()
        .map(|(n, wh)| format!("{n}, {wh:.1} Wh"))
        .collect();
    Ok(Lithium {
        none: false,
        statement: format!(
            "This parcel contains lithium-ion cells packed with or in equipment, UN 3481{}{}. Packed alone they would be UN 3480.",
            if listed.is_empty() { "" } else { ": " },
            listed.join("; ")
        ),
        un_number: Some("UN 3481"),
        cells,
        notes,
    })
}
