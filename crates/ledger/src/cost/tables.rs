//! A reckoning as tables.

use crate::cost::{CostGroup, Quote, Reckoning};
use crate::table::{Cell, Table};
use std::collections::BTreeMap;

impl Quote {
    /// Costs by group and what is left, largest first: where the money goes.
    pub fn by_group(&self) -> Vec<(&'static str, i64)> {
        let mut sums: BTreeMap<CostGroup, i64> = BTreeMap::new();
        for line in &self.lines {
            *sums.entry(line.group).or_default() += line.minor;
        }
        let mut list: Vec<(&'static str, i64)> =
            sums.into_iter().map(|(g, m)| (g.title(), m)).collect();
        if self.tax_minor > 0 {
            list.push(("tax", self.tax_minor));
        }
        list.push(("profit", self.profit_minor));
        list.sort_by_key(|e| std::cmp::Reverse(e.1));
        list
    }

    fn lines_table(&self, title: &str) -> Table {
        let mut lines: Vec<Vec<Cell>> = self
            .lines
            .iter()
            .map(|l| {
                vec![
                    l.group.title().into(),
                    l.what.as_str().into(),
                    l.amount
                        .map_or(Cell::Empty, |a| Cell::Number((a * 100.0).ceil() / 100.0)),
                    l.unit.into(),
                    Cell::Money(l.minor),
                    l.packs_minor.map_or(Cell::Empty, Cell::Money),
                ]
            })
            .collect();
        for (what, minor) in [
            ("all costs", self.total_minor),
            ("price, with tax", self.price_minor),
            ("tax", self.tax_minor),
            ("price, without tax", self.net_minor),
            ("profit", self.profit_minor),
            ("break-even price", self.break_even_price_minor),
        ] {
            lines.push(vec![
                "".into(),
                what.into(),
                Cell::Empty,
                "".into(),
                Cell::Money(minor),
                Cell::Empty,
            ]);
        }
        let columns = ["group", "what", "amount", "unit", "cost", "whole_packs"];
        Table {
            title: title.into(),
            currency: self.currency,
            columns: columns.map(str::to_owned).to_vec(),
            lines,
        }
    }
}

impl Reckoning {
    /// The reckoning as tables: the finished piece, then a comparison, the kit's lines and the batch.
    pub fn tables(&self) -> Vec<Table> {
        let currency = self.finished.currency;
        let mut tables = vec![self.finished.lines_table("Finished piece")];
        let mut lines = Vec::new();
        let mut compare = |what: &str, q: &Quote| {
            lines.push(vec![
                what.into(),
                Cell::Money(q.total_minor),
                Cell::Money(q.price_minor),
                Cell::Money(q.profit_minor),
                Cell::Share(q.margin),
                Cell::Share(q.markup),
                Cell::Number((q.minutes * 10.0).ceil() / 10.0),
            ]);
        };
        compare("finished piece", &self.finished);
        for (title, quote) in &self.what_if {
            compare(title, quote);
        }
        if let Some(kit) = &self.kit {
            compare("kit", kit);
        }
        if let Some(batch) = &self.batch {
            compare(&format!("each of {}", batch.size), &batch.each);
        }
        let columns = [
            "what", "cost", "price", "profit", "margin", "markup", "minutes",
        ];
        tables.push(Table {
            title: "Side by side".into(),
            currency,
            columns: columns.map(str::to_owned).to_vec(),
            lines,
        });
        if let Some(kit) = &self.kit {
            tables.push(kit.lines_table("Kit"));
        }
        if let Some(batch) = &self.batch {
            tables.push(batch.each.lines_table(&format!("Each of {}", batch.size)));
        }
        tables
    }
}
