//! What is not framed, by the stream it is handed in with.
//!
//! Flags follow Annex VII of Directive 2012/19/EU (consolidated 2024-04-08): what must be taken out of separately collected
//! devices. Local rules come first; this is no legal advice.

use crate::sheet::Sheet;
use crate::table::{Cell, Table};
use crate::{Currency, LedgerError};
use piece::{Hazard, Part, PartKind, Piece};
use serde::Serialize;

pub use piece::Stream;

/// A stream in words.
fn title_of(stream: Stream) -> &'static str {
    match stream {
        Stream::Cells => "cells and batteries",
        Stream::Boards => "circuit boards",
        Stream::Screens => "screens",
        Stream::MercuryLamps => "mercury lamps",
        Stream::Tubes => "tubes",
        Stream::Capacitors => "capacitors",
        Stream::Cables => "cables",
        Stream::Hazardous => "hazardous",
        Stream::Plastics => "plastics",
        Stream::Metals => "metals",
        Stream::Glass => "glass",
        Stream::Mixed => "mixed small electronics",
    }
}

/// What is done with what goes there, and what can hurt.
fn advice_on(stream: Stream) -> &'static str {
    match stream {
        Stream::Cells => {
            "Tape the contacts, bag each cell, hand it to a battery collection point. Never open, pierce, crush or heat it; swollen ones go into sand or a metal tin outdoors until they are collected. A resting voltage does not prove it empty."
        }
        Stream::Boards => {
            "Whole to an electronics collection point. Storage chips: see that data are cleared, purged or destroyed first."
        }
        Stream::Screens => {
            "Whole, face covered; broken ones bagged, cut gloves on. Old ones may hold a mercury lamp."
        }
        Stream::MercuryLamps => {
            "Unbroken, in a rigid box, to a lamp collection point. Where one breaks: leave the room, air it for 15 minutes, do not vacuum."
        }
        Stream::Tubes => {
            "Never open or break: high voltage stays in it, and the glass flies. To a collection point, by somebody trained."
        }
        Stream::Capacitors => {
            "Flash and mains capacitors hold a charge that can kill: discharged by somebody qualified, then to electronics collection."
        }
        Stream::Cables => {
            "With the electronics, or to a metal dealer with the insulation on; never burnt off."
        }
        Stream::Hazardous => "Never cut, ground or broken. Whole and bagged, to hazardous waste.",
        Stream::Plastics => {
            "With the electronics where it may hold flame retardants; otherwise by its mark."
        }
        Stream::Metals => "To a metal dealer or the recycling yard.",
        Stream::Glass => "Wrapped, marked; not with bottle glass.",
        Stream::Mixed => "To an electronics collection point.",
    }
}

/// Something that is left over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Leftover {
    /// What it is.
    pub name: String,
    /// Where it goes.
    pub stream: Stream,
    /// How many.
    pub count: u32,
    /// Its mass, g, of all of them, where it is known.
    pub mass_g: Option<f64>,
    /// Its area, cm2, of one, where it is known.
    pub area_cm2: Option<f64>,
    /// The item of Annex VII that asks for it to be taken out.
    pub annex_vii: Option<&'static str>,
    /// Why it is left over.
    pub why: String,
}

/// What is left over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Leftovers {
    /// One line each, by stream.
    pub lines: Vec<Leftover>,
    /// Streams with what is done with them.
    pub streams: Vec<StreamSum>,
    /// What comes first.
    pub rule: &'static str,
}

/// All of a stream.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StreamSum {
    /// Which.
    pub stream: Stream,
    /// In words.
    pub title: &'static str,
    /// How many things.
    pub count: u32,
    /// Their mass, g, as far as it is known.
    pub mass_g: f64,
    /// What is done with it.
    pub advice: &'static str,
}

/// What is known of something that is left over.
#[derive(Debug, Clone, PartialEq)]
pub struct Thing {
    /// What it is.
    pub name: String,
    /// Its kind.
    pub kind: PartKind,
    /// Material of its back face, where it is known.
    pub material: Option<String>,
    /// Its hazards.
    pub hazards: Vec<Hazard>,
    /// How many.
    pub count: u32,
    /// Mass of one, g.
    pub mass_g: Option<f64>,
    /// Area of one, cm2.
    pub area_cm2: Option<f64>,
    /// It is of a telephone: its boards count whatever their size.
    pub of_phone: bool,
    /// Why it is left over.
    pub why: String,
}

impl Thing {
    fn of_part(part: &Part, why: String) -> Self {
        Self {
            name: part.name.clone(),
            kind: part.kind,
            material: part.known_material().map(str::to_owned),
            hazards: part.hazards.clone(),
            count: 1,
            mass_g: part.mass_g,
            area_cm2: Some(part.outline.area_mm2() / 100.0),
            of_phone: false,
            why,
        }
    }

    /// Things from a table with the columns `name,kind` and any of `count,mass_g,area_cm2,material,hazard,phone,why`.
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn list_from_csv(csv: &[u8]) -> Result<Vec<Self>, LedgerError> {
        let known = [
            "count", "mass_g", "area_cm2", "material", "hazard", "phone", "why",
        ];
        let sheet = Sheet::read(csv, &["name", "kind"], &known, &[])?;
        let mut list = Vec::new();
        for line in sheet.lines() {
            let kind = line.needed("kind")?;
            let kind: PartKind = serde_json::from_value(kind.into())
                .map_err(|e| line.wrong("kind", e.to_string()))?;
            let hazard = line.cell("hazard").map(|h| {
                serde_json::from_value::<Hazard>(h.into())
                    .map_err(|e| line.wrong("hazard", e.to_string()))
            });
            let positive = |column: &str| match line.number(column)? {
                Some(v) if !(0.0..=1e7).contains(&v) => {
                    Err(line.wrong(column, "must be 0 or more, and at most 10^7"))
                }
                other => Ok(other),
            };
            list.push(Self {
                name: line.needed("name")?,
                kind,
                material: line.text("material")?,
                hazards: hazard.transpose()?.into_iter().collect(),
                count: line.count("count")?.unwrap_or(1),
                mass_g: positive("mass_g")?,
                area_cm2: positive("area_cm2")?,
                of_phone: line.yes_or_no("phone")?.unwrap_or(false),
                why: line.text("why")?.unwrap_or_else(|| "left over".into()),
            });
        }
        Ok(list)
    }

    /// The item of Annex VII, 1, that names it. An area that is not known counts as large.
    fn annex_vii(&self, stream: Stream) -> Option<&'static str> {
        let at_least = |cm2: f64| self.area_cm2.is_none_or(|a| a > cm2);
        match stream {
            Stream::Cells => Some("batteries"),
            Stream::MercuryLamps => {
                Some("mercury containing components, such as switches or backlighting lamps")
            }
            Stream::Tubes => Some("cathode ray tubes"),
            Stream::Boards if self.of_phone => {
                Some("printed circuit boards of mobile phones generally")
            }
            Stream::Boards if at_least(10.0) => Some("printed circuit boards larger than 10 cm2"),
            Stream::Screens if at_least(100.0) => {
                Some("liquid crystal displays larger than 100 cm2")
            }
            Stream::Capacitors => {
                Some("capacitors: those with polychlorinated biphenyls, and large electrolyte ones")
            }
            Stream::Cables if self.kind != PartKind::Ribbon => Some("external electric cables"),
            _ => None,
        }
    }
}

/// What is left over of a piece: real parts behind stand-ins, parts that are not placed, and the things that are named.
pub fn leftovers(piece: Option<&Piece>, more: &[Thing]) -> Leftovers {
    let mut things: Vec<Thing> = Vec::new();
    for part in piece.iter().flat_map(|p| &p.parts) {
        let placed = piece.is_some_and(|p| p.placements.iter().any(|q| q.part == part.id));
        if let Some(stand_in) = &part.stand_in {
            let mut thing = Thing::of_part(part, format!("a stand-in is shown: {}", stand_in.why));
            // The mass in the document is the stand-in's.
            thing.mass_g = None;
            things.push(thing);
        } else if !placed {
            things.push(Thing::of_part(part, "not on the board".into()));
        }
    }
    things.extend(more.iter().cloned());
    let mut lines: Vec<Leftover> = things
        .into_iter()
        .filter(|t| t.count > 0)
        .map(|t| {
            let stream = Stream::of(t.kind, &t.hazards, t.material.as_deref());
            Leftover {
                annex_vii: t.annex_vii(stream),
                stream,
                count: t.count,
                mass_g: t.mass_g.map(|m| m * f64::from(t.count)),
                area_cm2: t.area_cm2,
                name: t.name,
                why: t.why,
            }
        })
        .collect();
    lines.sort_by_key(|l| l.stream);
    let mut streams: Vec<StreamSum> = Vec::new();
    for line in &lines {
        if streams.last().is_none_or(|s| s.stream != line.stream) {
            streams.push(StreamSum {
                stream: line.stream,
                title: title_of(line.stream),
                count: 0,
                mass_g: 0.0,
                advice: advice_on(line.stream),
            });
        }
        if let Some(sum) = streams.last_mut() {
            sum.count += line.count;
            sum.mass_g += line.mass_g.unwrap_or(0.0);
        }
    }
    Leftovers {
        lines,
        streams,
        rule: "Local rules come first; where they say otherwise, they are right. No legal advice.",
    }
}

impl Leftovers {
    /// The lines as a table.
    pub fn table(&self) -> Table {
        let lines = self.lines.iter().map(|l| {
            vec![
                title_of(l.stream).into(),
                l.name.as_str().into(),
                Cell::Number(l.count.into()),
                l.mass_g
                    .map_or(Cell::Empty, |m| Cell::Number((m * 10.0).ceil() / 10.0)),
                l.area_cm2
                    .map_or(Cell::Empty, |a| Cell::Number((a * 10.0).ceil() / 10.0)),
                l.annex_vii.map_or(Cell::Empty, Cell::from),
                l.why.as_str().into(),
            ]
        });
        let columns = [
            "stream",
            "what",
            "count",
            "mass_g",
            "area_cm2",
            "annex_vii",
            "why",
        ];
        Table {
            title: "Leftovers".into(),
            currency: Currency::any(),
            columns: columns.map(str::to_owned).to_vec(),
            lines: lines.collect(),
        }
    }
}
