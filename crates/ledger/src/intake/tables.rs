//! The verdict as tables.

use crate::intake::Verdict;
use crate::table::{Cell, Table};

impl Verdict {
    /// The verdict as tables.
    pub fn tables(&self) -> Vec<Table> {
        let names = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        let table = |title: &str, columns: &[&str], lines: Vec<Vec<Cell>>| Table {
            title: title.into(),
            currency: self.currency,
            columns: names(columns),
            lines,
        };
        let actions = self.actions.iter().map(|a| {
            vec![
                a.action.word().into(),
                Cell::Money(a.expected_minor),
                Cell::Money(a.cost_minor),
            ]
        });
        let conditions = self.conditions.iter().map(|c| {
            vec![
                c.condition.as_str().into(),
                c.title.as_str().into(),
                Cell::Share(c.chance.get()),
                Cell::Share(c.repair.get()),
                Cell::Number(c.n.into()),
                c.standing.in_words().into(),
            ]
        });
        let parts = self.parts.iter().map(|p| {
            vec![
                p.name.as_str().into(),
                Cell::Share(p.chance.get()),
                Cell::Money(p.expected_minor),
                Cell::Number(p.n.into()),
                p.note.as_str().into(),
            ]
        });
        let checks = self.next_checks.iter().map(|c| {
            vec![
                c.sign.as_str().into(),
                c.title.as_str().into(),
                Cell::Money(c.worth_minor),
                Cell::Money(c.cost_minor),
                Cell::Number(c.minutes),
            ]
        });
        vec![
            table(
                "Actions",
                &["action", "expected", "cost"],
                actions.collect(),
            ),
            table(
                "Conditions",
                &["condition", "what", "chance", "repair", "n", "standing"],
                conditions.collect(),
            ),
            table(
                "Parts",
                &["part", "yield", "expected", "n", "note"],
                parts.collect(),
            ),
            table(
                "Checks",
                &["sign", "what", "worth", "cost", "minutes"],
                checks.collect(),
            ),
        ]
    }
}
