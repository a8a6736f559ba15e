//! A piece reckoned: its bill, its work and what is bought, made one quote.

use crate::cost::price::{fees_of, net_of, price_for};
use crate::cost::{BatchQuote, CostGroup, CostLine, Kit, Price, Pricing, Quote, Rates, Reckoning};
use crate::money::{Rounding, scaled, share_of, sum};
use crate::{LedgerError, Minor, Share};
use piece::{BillKind, BillLine, BillUnit, Piece, Stage};
use serde::Serialize;
use std::collections::BTreeMap;

const COST: &str = "the cost";

/// Work by stage, minutes.
#[derive(Debug, Clone, Default)]
struct Work {
    by_stage: BTreeMap<Stage, f64>,
    beside: Vec<(String, f64)>,
}

impl Work {
    fn minutes(&self) -> f64 {
        self.by_stage.values().sum::<f64>() + self.beside.iter().map(|b| b.1).sum::<f64>()
    }

    fn times(&self, factor: f64) -> Self {
        Self {
            by_stage: self
                .by_stage
                .iter()
                .map(|(s, m)| (*s, m * factor))
                .collect(),
            beside: self
                .beside
                .iter()
                .map(|(w, m)| (w.clone(), m * factor))
                .collect(),
        }
    }
}

/// Reckons a piece with what is bought for it (`bought`: donors from a purchase, beside the rates' own list).
///
/// # Errors
/// [`LedgerError`]: sums beyond counting, shares that leave nothing of the price.
pub fn reckon(
    piece: &Piece,
    rates: &Rates,
    bought: &[(String, i64)],
) -> Result<Reckoning, LedgerError> {
    let mut notes = Vec::new();
    let bill: &[BillLine] = piece.build.as_ref().map_or(&[], |b| &b.bill);
    let mut work = Work::default();
    if let Some(build) = &piece.build {
        for step in &build.steps {
            *work.by_stage.entry(step.stage).or_default() += step.hands_on_minutes;
        }
        if !piece.build_is_current() {
            notes.push(
                "The piece was changed since its build plan was worked out: run mount again."
                    .into(),
            );
        }
    } else {
        notes.push("The piece has no build plan: materials and the time of its steps are not in the cost. Run mount first.".into());
    }
    work.beside
        .extend(rates.labour.iter().map(|l| (l.what.clone(), l.minutes)));
    let mut parts: Vec<(String, i64)> = rates
        .parts
        .iter()
        .map(|p| (p.what.clone(), p.minor.get()))
        .collect();
    parts.extend(bought.iter().cloned());

    let job = Job {
        rates,
        bill,
        parts: &parts,
    };
    let finished = job.quote(&rates.prices, &work, 1, None)?;
    if !finished.unpriced.is_empty() {
        notes.push(format!(
            "No price is known for {}: the total is without them.",
            crate::error::listed(&finished.unpriced)
        ));
    }
    let mut what_if = Vec::new();
    for other in &rates.what_if {
        let mut prices = rates.prices.clone();
        prices.extend(other.prices.clone());
        what_if.push((other.title.clone(), job.quote(&prices, &work, 1, None)?));
    }
    let kit = match &rates.kit {
        None => None,
        Some(kit) => {
            let mut left = work.clone();
            left.by_stage.retain(|stage, _| kit.stages.contains(stage));
            left.beside
                .push(("picking the kit".into(), kit.picking_minutes));
            Some(job.quote(&rates.prices, &left, 1, Some(kit))?)
        }
    };
    let batch = match rates.batch {
        None => None,
        Some(b) => {
            let first = work.minutes();
            let average = b.model.next(first, b.learning, b.done, b.size) / f64::from(b.size);
            let learned = work.times(if first > 0.0 { average / first } else { 1.0 });
            let each = job.quote(&rates.prices, &learned, b.size, None)?;
            let times = |minor: i64| scaled(minor, b.size.into(), 1, Rounding::Up, "the batch");
            Some(BatchQuote {
                size: b.size,
                done: b.done,
                learning: b.learning,
                model: b.model,
                model_title: b.model.title(),
                first_minutes: first,
                average_minutes: average,
                total_minor: times(each.total_minor)?,
                profit_minor: times(each.profit_minor)?,
                each,
            })
        }
    };
    Ok(Reckoning {
        finished,
        kit,
        what_if,
        batch,
        notes,
    })
}

struct Job<'a> {
    rates: &'a Rates,
    bill: &'a [BillLine],
    parts: &'a [(String, i64)],
}

impl Job<'_> {
    /// One piece of `pieces` that share what is spent once.
    fn quote(
        &self,
        prices: &BTreeMap<String, Price>,
        work: &Work,
        pieces: u32,
        kit: Option<&Kit>,
    ) -> Result<Quote, LedgerError> {
        let r = self.rates;
        let mut lines = Vec::new();
        let mut unpriced = Vec::new();
        for line in self.bill {
            let kind = format!("kind:{}", word(&line.kind));
            if kit.is_some_and(|k| k.without.iter().any(|w| *w == line.item || *w == kind)) {
                continue;
            }
            let of_unit = format!("{kind}:{}", word(&line.unit));
            let sort = (line.unit == usual_unit(line.kind)).then_some(&kind);
            let price = [Some(&line.item), Some(&of_unit), sort]
                .into_iter()
                .flatten()
                .find_map(|key| prices.get(key));
            let Some(price) = price else {
                unpriced.push(line.title.text.clone());
                continue;
            };
            let used = material(line.amount, *price, false)?;
            let packs = material(line.amount, *price, true)?;
            let sold_in_packs = price.per > 1.0 || !line.packs.is_empty();
            lines.push(CostLine {
                group: CostGroup::Material,
                what: line.title.text.clone(),
                amount: Some(line.amount),
                unit: unit(line.unit),
                minor: if r.whole_packs { packs } else { used },
                packs_minor: sold_in_packs.then_some(packs),
            });
        }
        let plain = |group, what: &str, minor: i64| CostLine {
            group,
            what: what.to_owned(),
            amount: None,
            unit: "",
            minor,
            packs_minor: None,
        };
        for (what, minor) in self.parts {
            lines.push(plain(CostGroup::Parts, what, *minor));
        }
        for extra in kit.iter().flat_map(|k| &k.extra) {
            lines.push(plain(CostGroup::Material, &extra.what, extra.minor.get()));
        }
        let lossy = sum(lines.iter().map(|l| l.minor), COST)?;

        let mut minutes = 0.0;
        let stages = work
            .by_stage
            .iter()
            .map(|(stage, m)| (stage_title(*stage).to_owned(), *m));
        for (what, m) in stages
            .chain(work.beside.iter().cloned())
            .filter(|l| l.1 > 0.0)
        {
            minutes += m;
            lines.push(CostLine {
                group: CostGroup::Labour,
                what,
                amount: Some(m),
                unit: "min",
                minor: labour(m, r.labour_per_hour_minor)?,
                packs_minor: None,
            });
        }
        let paid = sum(
            lines
                .iter()
                .filter(|l| l.group == CostGroup::Labour)
                .map(|l| l.minor),
            COST,
        )?;
        let set_up = scaled(
            r.set_up_minor.get(),
            1,
            pieces.max(1).into(),
            Rounding::Up,
            COST,
        )?;
        for (group, what, minor) in [
            (
                CostGroup::Overhead,
                "overhead on labour",
                share_of(paid, r.overhead_on_labour, Rounding::Up, COST)?,
            ),
            (
                CostGroup::Overhead,
                "overhead of each piece",
                r.overhead_per_piece_minor.get(),
            ),
            (
                CostGroup::Scrap,
                "scrap of material and parts",
                share_of(lossy, r.scrap, Rounding::Up, COST)?,
            ),
            (
                CostGroup::SetUp,
                if pieces > 1 {
                    "share of what is spent once"
                } else {
                    "what is spent once"
                },
                set_up,
            ),
            (CostGroup::Packing, "packing", r.packing_minor.get()),
            (CostGroup::Freight, "freight", r.freight_minor.get()),
        ] {
            if minor > 0 {
                lines.push(plain(group, what, minor));
            }
        }
        let before_fees = sum(lines.iter().map(|l| l.minor), COST)?;
        let price = price_for(r, before_fees, r.pricing)?;
        let fees = fees_of(r, price)?;
        if fees > 0 {
            lines.push(plain(CostGroup::Fees, "fees of selling", fees));
        }
        let total = sum([before_fees, fees], COST)?;
        let net = net_of(r, price)?;
        let profit = net - total;
        let ratio = |of: i64, over: i64| {
            if over > 0 {
                of as f64 / over as f64
            } else {
                0.0
            }
        };
        // With what is spent once left out, so that it can be earned back.
        let each = profit + set_up;
        let spent_once = r.set_up_minor.get();
        Ok(Quote {
            total_minor: total,
            currency: r.currency,
            price_minor: price,
            net_minor: net,
            tax_minor: price - net,
            profit_minor: profit,
            margin: ratio(profit, net),
            markup: ratio(profit, total),
            break_even_price_minor: price_for(r, before_fees, Pricing::Margin(Share::NONE))?,
            break_even_pieces: (spent_once > 0 && each > 0)
                .then(|| spent_once.div_euclid(each) + i64::from(spent_once % each > 0)),
            minutes,
            lines,
            unpriced,
        })
    }
}

/// What an amount costs, rounded up: amounts in thousandths of the unit, so that money stays whole.
fn material(amount: f64, price: Price, whole_packs: bool) -> Result<i64, LedgerError> {
    let too_much = LedgerError::TooMuch { what: COST };
    if !(0.0..=1e12).contains(&amount) {
        return Err(too_much);
    }
    if whole_packs {
        // What rounding put on top of a full pack does not open another.
        let packs = (amount / price.per - 1e-9).ceil().max(0.0) as i64;
        return scaled(price.minor.get(), packs, 1, Rounding::Up, COST);
    }
    // Millionths where the pack is small, so that small amounts are not rounded away.
    let scale = if price.per < 1000.0 { 1e6 } else { 1e3 };
    let amount = (amount * scale - 1e-6).ceil().max(0.0) as i64;
    scaled(
        price.minor.get(),
        amount,
        (price.per * scale).round() as i64,
        Rounding::Up,
        COST,
    )
}

/// What minutes cost: in thousandths of a minute, rounded up.
fn labour(minutes: f64, per_hour: Minor) -> Result<i64, LedgerError> {
    if !(0.0..=1e9).contains(&minutes) {
        return Err(LedgerError::TooMuch { what: "the labour" });
    }
    scaled(
        per_hour.get(),
        (minutes * 1000.0 - 1e-6).ceil().max(0.0) as i64,
        60_000,
        Rounding::Up,
        COST,
    )
}

/// What a price of a whole sort is for, where its key names no unit: a price of hooks is none of a millimetre of wire.
fn usual_unit(kind: BillKind) -> BillUnit {
    match kind {
        BillKind::Glazing
        | BillKind::Board
        | BillKind::Backing
        | BillKind::Support
        | BillKind::Print => BillUnit::Mm2,
        BillKind::Spacer | BillKind::Tape => BillUnit::Mm,
        BillKind::Adhesive => BillUnit::Ml,
        _ => BillUnit::Piece,
    }
}

fn word(of: &impl Serialize) -> String {
    serde_json::to_value(of)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

fn unit(unit: BillUnit) -> &'static str {
    match unit {
        BillUnit::Piece => "",
        BillUnit::Ml => "ml",
        BillUnit::Mm => "mm",
        BillUnit::Mm2 => "mm2",
        BillUnit::G => "g",
    }
}

fn stage_title(stage: Stage) -> &'static str {
    match stage {
        Stage::Prepare => "preparing parts",
        Stage::DryFit => "fills, stand-ins, dry fit",
        Stage::Transfer => "register and transfer",
        Stage::Bond => "gluing",
        Stage::Close => "captions, glazing, closing",
        Stage::Hang => "hangers and wire",
        Stage::Later => "later work",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_and_minutes_round_up_to_a_whole_minor_unit() {
        let price = |minor, per| Price {
            minor: Minor::try_new(minor).unwrap(),
            per,
        };
        // 12.5 of 310 ml at 8.90: 35.887… cents.
        assert_eq!(material(12.5, price(890, 310.0), false).unwrap(), 36);
        assert_eq!(material(12.5, price(890, 310.0), true).unwrap(), 890);
        assert_eq!(material(620.0, price(890, 310.0), true).unwrap(), 1780);
        assert_eq!(material(0.0, price(890, 310.0), true).unwrap(), 0);
        assert_eq!(labour(20.0, Minor::try_new(3000).unwrap()).unwrap(), 1000);
        assert_eq!(labour(0.01, Minor::try_new(3000).unwrap()).unwrap(), 1);
    }
}
