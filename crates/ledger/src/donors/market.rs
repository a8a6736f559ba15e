//! Lots on offer and what is asked of them: the document, and lots from a table.

use crate::donors::{Lot, LotChances, LotPart, Need, Sibling};
use crate::sheet::{Sheet, read_json, unsound};
use crate::{Chance, Currency, LedgerError};
use piece::{PartId, Piece};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The largest document of lots that is read, bytes.
pub(super) const MAX_LOTS_BYTES: usize = 8 << 20;

const VERSION: u32 = 1;
const MOST_LOTS: usize = 2_000;
const MOST_NEEDS: usize = 500;
/// More of one lot or part than this nobody buys for one piece.
const MOST_COPIES: u32 = 50;

/// Lots on offer, and what is asked of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Market {
    /// Always `setapart-lots`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// All prices are in it.
    pub currency: Currency,
    /// How sure each part is to be there, where its need does not say.
    #[serde(default = "usual_confidence")]
    pub confidence: Chance,
    /// What is needed; empty: every part of the piece that no stand-in stands for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs: Vec<Need>,
    /// Whether parts of sibling models fit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub siblings: Vec<Sibling>,
    /// What can be bought.
    pub lots: Vec<Lot>,
}

fn usual_confidence() -> Chance {
    Chance::of(0.9)
}

impl Market {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-lots";

    /// Lots and nothing else: every part is needed as surely as usual.
    pub fn of_lots(currency: Currency, lots: Vec<Lot>) -> Self {
        Self {
            format: Market::FORMAT.into(),
            version: VERSION,
            currency,
            confidence: usual_confidence(),
            needs: Vec::new(),
            siblings: Vec::new(),
            lots,
        }
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let market: Self = read_json(bytes, MAX_LOTS_BYTES)?;
        market.check()?;
        Ok(market)
    }

    /// The document as JSON, indented, with a line break at its end.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Lots from a table, one a line: `id,price` and any of
    /// `title,model,shipping,more_shipping,available,condition,dead,currency`, and a column `part:ID` for each part:
    /// the chance that it comes out whole, `-` where it is not in the lot, `?` or nothing for the chance of the
    /// condition. Prices in major units with a decimal point.
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn from_csv(bytes: &[u8], currency: Currency) -> Result<Self, LedgerError> {
        let known = [
            "title",
            "model",
            "shipping",
            "more_shipping",
            "available",
            "condition",
            "dead",
            "currency",
        ];
        let sheet = Sheet::read(bytes, &["id", "price"], &known, &["part:"])?;
        let mut parts = Vec::new();
        for name in sheet.open_columns("part:") {
            let part = PartId::try_new(name).map_err(|e| LedgerError::Table {
                line: None,
                column: Some(format!("part:{name}")),
                problem: e.to_string(),
            })?;
            parts.push((format!("part:{name}"), part));
        }
        let mut lots = Vec::new();
        let mut ids = BTreeSet::new();
        for line in sheet.lines() {
            if let Some(code) = line.cell("currency") {
                let found =
                    Currency::try_new(code).map_err(|e| line.wrong("currency", e.to_string()))?;
                if found != currency {
                    return Err(LedgerError::Currencies {
                        place: format!("line {}", line.number),
                        found: found.to_string(),
                        expected: currency.to_string(),
                    });
                }
            }
            let mut has = BTreeMap::new();
            for (column, part) in &parts {
                let there = match line.cell(column) {
                    Some("-") => continue,
                    None | Some("?") => LotPart::default(),
                    Some(_) => LotPart {
                        chance: line.chance(column)?,
                        count: None,
                    },
                };
                has.insert(part.clone(), there);
            }
            let id = line.needed("id")?;
            if !ids.insert(id.clone()) {
                return Err(line.wrong("id", format!("{id:?} is the id of an earlier line too")));
            }
            lots.push(Lot {
                id,
                title: line.text("title")?,
                model: line.text("model")?,
                price_minor: line
                    .money("price", currency)?
                    .ok_or_else(|| line.wrong("price", "is empty"))?,
                shipping_minor: line.money("shipping", currency)?.unwrap_or_default(),
                more_shipping_minor: line.money("more_shipping", currency)?,
                available: line.count("available")?.unwrap_or(1),
                condition: line.text("condition")?,
                dead: line.chance("dead")?,
                parts: (!parts.is_empty()).then_some(has),
                lacks: BTreeSet::new(),
            });
        }
        let market = Self::of_lots(currency, lots);
        market.check()?;
        Ok(market)
    }

    fn check(&self) -> Result<(), LedgerError> {
        if self.format != Market::FORMAT {
            return Err(unsound(
                "format",
                format!("is {:?}, not {:?}", self.format, Market::FORMAT),
            ));
        }
        if self.version != VERSION {
            return Err(unsound(
                "version",
                format!("is {}; this program reads version {VERSION}", self.version),
            ));
        }
        for (list, found, most) in [
            ("lots", self.lots.len(), MOST_LOTS),
            ("needs", self.needs.len(), MOST_NEEDS),
        ] {
            if found > most {
                return Err(unsound(list, format!("has {found}, limit {most}")));
            }
        }
        let copies = |path: String, n: u32, least: u32| {
            if (least..=MOST_COPIES).contains(&n) {
                Ok(())
            } else {
                Err(unsound(
                    path,
                    format!("is {n}; it must be {least} to {MOST_COPIES}"),
                ))
            }
        };
        let mut seen = BTreeSet::new();
        for (i, need) in self.needs.iter().enumerate() {
            if !seen.insert(&need.part) {
                return Err(unsound(
                    format!("needs[{i}].part"),
                    format!(
                        "{} is needed by an earlier line; give its quantity there",
                        need.part
                    ),
                ));
            }
            copies(format!("needs[{i}].quantity"), need.quantity, 1)?;
            copies(
                format!("needs[{i}].per_device"),
                need.per_device.unwrap_or(1),
                1,
            )?;
        }
        for (i, s) in self.siblings.iter().enumerate() {
            if s.chance.is_none() && s.fit.is_none() {
                return Err(unsound(
                    format!("siblings[{i}]"),
                    "needs a chance, or what fit said: \"fit\", \"trim\" or \"no\"",
                ));
            }
        }
        let mut ids = BTreeSet::new();
        for (i, lot) in self.lots.iter().enumerate() {
            if lot.id.is_empty()
                || lot.id.chars().count() > 64
                || lot.id.chars().any(char::is_control)
            {
                return Err(unsound(
                    format!("lots[{i}].id"),
                    "must have 1 to 64 characters and no control characters",
                ));
            }
            if !ids.insert(&lot.id) {
                return Err(unsound(
                    format!("lots[{i}].id"),
                    format!("{:?} is the id of an earlier lot too", lot.id),
                ));
            }
            copies(format!("lots[{i}].available"), lot.available, 0)?;
            for (part, has) in lot.parts.iter().flatten() {
                copies(
                    format!("lots[{i}].parts.{part}.count"),
                    has.count.unwrap_or(1),
                    1,
                )?;
            }
            if lot.parts.is_some() && !lot.lacks.is_empty() {
                return Err(unsound(
                    format!("lots[{i}].lacks"),
                    "is for whole devices; this lot lists its parts",
                ));
            }
        }
        Ok(())
    }

    /// What is needed, with names and kinds from the piece where there is one.
    ///
    /// # Errors
    /// [`LedgerError::Missing`] where neither says anything.
    pub fn needs_of(&self, piece: Option<&Piece>) -> Result<Vec<Need>, LedgerError> {
        let of_piece = |id: &PartId| piece.and_then(|p| p.part(id));
        let mut needs = self.needs.clone();
        if needs.is_empty() {
            let Some(piece) = piece else {
                return Err(LedgerError::Missing {
                    what: "what is needed".into(),
                    remedy:
                        "list it under needs in the lots' document, or give the piece with --in"
                            .into(),
                });
            };
            let shown = piece.parts.iter().filter(|p| p.stand_in.is_none());
            needs = shown
                .map(|p| Need {
                    per_device: Some(p.quantity.clamp(1, MOST_COPIES)),
                    ..Need::new(p.id.clone())
                })
                .collect();
        }
        for need in &mut needs {
            if let Some(part) = of_piece(&need.part) {
                need.name.get_or_insert_with(|| part.name.clone());
                need.kind.get_or_insert(part.kind);
            }
        }
        if needs.is_empty() {
            return Err(LedgerError::Missing {
                what: "what is needed".into(),
                remedy: "the piece has no part that is not a stand-in; list parts under needs"
                    .into(),
            });
        }
        Ok(needs)
    }

    /// The chance that a copy of a part comes out whole from a lot that is not dead as a whole.
    pub(crate) fn chance_in(
        &self,
        lot: usize,
        need: &Need,
        table: &LotChances,
    ) -> Result<Chance, LedgerError> {
        let there = &self.lots[lot];
        let own = there
            .parts
            .as_ref()
            .and_then(|p| p.get(&need.part))
            .and_then(|p| p.chance);
        if let Some(chance) = own {
            return Ok(chance);
        }
        let by_condition = there.condition.as_ref().map(|c| {
            table.chance(c, need.kind).ok_or_else(|| {
                unsound(
                    format!("lots[{lot}].condition"),
                    format!(
                        "{c:?} is not in the table of chances, which has: {}",
                        table.conditions().join(", ")
                    ),
                )
            })
        });
        by_condition.unwrap_or_else(|| {
            Err(unsound(
                format!("lots[{lot}]"),
                format!(
                    "lot {:?} says neither its condition nor the chance of {}; give one of them",
                    there.id,
                    need.title()
                ),
            ))
        })
    }
}
