//! What the choices of forms are called. Templates take the lists from here, and modules get them with their page.

use piece::{FreedBy, PartKind, StandInForm};
use serde::Serialize;
use serde_json::{Value, json};

/// Kinds of part, as the bench calls them.
pub(crate) const KINDS: [PartKind; 17] = [
    PartKind::Shell,
    PartKind::Display,
    PartKind::Board,
    PartKind::Ribbon,
    PartKind::Speaker,
    PartKind::Microphone,
    PartKind::Motor,
    PartKind::Camera,
    PartKind::Wheel,
    PartKind::Keys,
    PartKind::Bracket,
    PartKind::Shield,
    PartKind::Antenna,
    PartKind::Connector,
    PartKind::Cell,
    PartKind::Screw,
    PartKind::Other,
];

/// Ways in which parts come free.
pub(crate) const FREED_BY: [(FreedBy, &str); 7] = [
    (FreedBy::Lifting, "lifting it out"),
    (FreedBy::Unscrewing, "undoing screws"),
    (FreedBy::Unplugging, "pulling plugs"),
    (FreedBy::CuttingLeads, "cutting leads"),
    (FreedBy::Desoldering, "desoldering"),
    (FreedBy::WarmAir, "warm air"),
    (FreedBy::ReworkStation, "a rework station"),
];

/// What is shown instead of a part.
pub(crate) const STAND_INS: [(StandInForm, &str); 3] = [
    (StandInForm::Print, "a life-size print"),
    (StandInForm::Card, "a blank card"),
    (StandInForm::InertCopy, "an inert copy"),
];

/// A list for a page's module: each choice's word in documents, and what it is called.
pub(crate) fn choices<T: Serialize>(list: &[(T, &str)]) -> Value {
    json!(list)
}

/// Kinds of part for a page's module.
pub(crate) fn kinds() -> Value {
    KINDS.iter().map(|k| json!([k, k])).collect()
}
