//! What the maker decides about the build, as a form. `build.js` reads it field by field: `data-path` says where in the
//! document's `choices` a field belongs, `data-as` what it holds.

use crate::serve::rooms::word;
use crate::serve::words::FREED_BY;
use maud::{Markup, html};
use mount::Catalogue;
use piece::{DeviceSide, Hazard, Part, Piece, Transfer};
use serde_json::json;

/// The whole form.
pub(super) fn form(piece: &Piece, catalogue: &Catalogue) -> Markup {
    let c = &piece.choices;
    let placed: Vec<&Part> = piece
        .parts
        .iter()
        .filter(|p| piece.placement(&p.id).is_some())
        .collect();
    let dangerous: Vec<&&Part> = placed.iter().filter(|p| may_be_made_safe(p)).collect();
    html! {
        form class="choices" id="choices" data-choices=(json!(c).to_string()) autocomplete="off" {
            fieldset class="card" {
                legend { "What it is made of" }
                (choice("Board", "board", c.board.as_deref(), "the lightest that does", catalogue.boards.iter().map(|(k, b)| (k.as_str(), b.name.as_str()))))
                (choice("Behind", "backing", c.backing.as_deref(), "as a rule", catalogue.backings.iter().map(|(k, b)| (k.as_str(), b.name.as_str()))))
                (length("Air to the glazing", "air_gap_mm", c.air_gap_mm, "as a rule"))
                div class="three" {
                    (choice("Moulding", "moulding.material", c.moulding.as_ref().map(|m| m.material.as_str()), "not known", mouldings(catalogue)))
                    (length("Wide", "moulding.width_mm", c.moulding.as_ref().map(|m| m.width_mm), "not known"))
                    (length("Off the wall", "moulding.height_mm", c.moulding.as_ref().map(|m| m.height_mm), "not known"))
                }
            }
            fieldset class="card" {
                legend { "Where it hangs and how it travels" }
                (number("Warmest there, °C", "warmest_c", c.warmest_c))
                (number("Shock in carriage, times gravity", "shock_g", c.shock_g))
                (flag("Every part must come off again whole", "reversible", c.reversible == Some(true)))
            }
            fieldset class="card" {
                legend { "The bench" }
                (number("People", "hands", c.hands.map(f64::from)))
                (number("Clamps or weights", "clamps", c.clamps.map(f64::from)))
                (choice("Places go to the board by", "transfer", c.transfer.map(|t| word(&t)).as_deref(), "as a rule", [
                    (Transfer::Tape, "tape corners"), (Transfer::Prick, "pricked points"), (Transfer::CutOut, "a template with openings"),
                ].iter().map(|(t, title)| (TRANSFERS[*t as usize], *title))))
                (flag("The room cannot be aired", "unaired", c.unaired == Some(true)))
                p class="soft" { "Not there:" }
                @for (way, title) in FREED_BY.iter().skip(3) { (member(title, "lacks", &word(way), c.lacks.contains(way))) }
            }
            fieldset class="card" {
                legend { "The device" }
                (choice("Opened from", "opened_from", c.opened_from.map(side), "the side nearer to its cell", [("front", "the front"), ("back", "the back")].into_iter()))
                @if !dangerous.is_empty() {
                    p class="caution" { "Made safe and passed in writing by a qualified person, as local rules ask:" }
                    @for p in &dangerous { (member(&p.name, "made_safe", p.id.as_str(), c.made_safe.contains(&p.id))) }
                }
            }
            details class="card" {
                summary { "Adhesive of single parts" }
                @for p in &placed {
                    (choice(&p.name, &format!("adhesives.{}", p.id), c.adhesives.get(&p.id).map(String::as_str), "what holds best",
                        catalogue.adhesives.iter().map(|(k, a)| (k.as_str(), a.name.as_str()))))
                }
            }
            details class="card" {
                summary { "Ties, straps and screws" }
                (number("Beside adhesive from this mass on, g", "tie_above_g", c.tie_above_g))
                (number("Or from this share of what may be borne, 0 to 1", "tie_above_utilisation", c.tie_above_utilisation))
            }
        }
    }
}

/// What frames are made of.
fn mouldings(catalogue: &Catalogue) -> impl Iterator<Item = (&str, &str)> {
    let of = |face: &str| ["wood", "metal", "plastic"].contains(&face);
    let all = catalogue.materials.iter().filter(move |(_, m)| of(&m.face));
    all.map(|(key, m)| (key.as_str(), m.name.as_str()))
}

/// Words of [`Transfer`], by its order.
const TRANSFERS: [&str; 3] = ["tape", "prick", "cut_out"];

fn side(side: DeviceSide) -> &'static str {
    match side {
        DeviceSide::Front => "front",
        DeviceSide::Back => "back",
    }
}

/// A danger that a qualified person can take away; never a cell's.
fn may_be_made_safe(part: &Part) -> bool {
    let of = [
        Hazard::FlashCapacitor,
        Hazard::ColdCathodeLamp,
        Hazard::CathodeRayTube,
        Hazard::MainsPart,
    ];
    !part.is_cell() && part.hazards.iter().any(|h| of.contains(h))
}

fn choice<'a>(
    title: &str,
    path: &str,
    now: Option<&str>,
    none: &str,
    entries: impl Iterator<Item = (&'a str, &'a str)>,
) -> Markup {
    html! {
        label class="block" {
            span { (title) }
            select data-path=(path) data-as="word" {
                option value="" selected[now.is_none()] { (none) }
                @for (value, name) in entries { option value=(value) selected[now == Some(value)] { (name) } }
            }
        }
    }
}

fn number(title: &str, path: &str, now: Option<f64>) -> Markup {
    html! {
        label class="block" {
            span { (title) }
            input type="text" inputmode="decimal" data-path=(path) data-as="number" value=(now.map_or(String::new(), |v| v.to_string())) placeholder="as a rule";
        }
    }
}

fn length(title: &str, path: &str, now: Option<f64>, none: &str) -> Markup {
    html! {
        label class="block" {
            span { (title) }
            input class="length" type="text" inputmode="decimal" data-path=(path) data-as="length" data-mm=[now] placeholder=(none);
        }
    }
}

fn flag(title: &str, path: &str, on: bool) -> Markup {
    html! { label class="check" { input type="checkbox" data-path=(path) data-as="flag" checked[on]; (title) } }
}

fn member(title: &str, path: &str, value: &str, on: bool) -> Markup {
    html! { label class="check" { input type="checkbox" data-path=(path) data-as="member" value=(value) checked[on]; (title) } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use piece::{BuildChoices, FreedBy};

    #[test]
    fn every_choice_of_the_document_has_its_field() {
        let all = json!(BuildChoices {
            board: Some("x".into()),
            backing: Some("x".into()),
            air_gap_mm: Some(3.0),
            reversible: Some(true),
            unaired: Some(true),
            warmest_c: Some(30.0),
            shock_g: Some(40.0),
            tie_above_g: Some(50.0),
            tie_above_utilisation: Some(0.5),
            transfer: Some(Transfer::Tape),
            hands: Some(1),
            clamps: Some(1),
            lacks: [FreedBy::WarmAir].into(),
            opened_from: Some(DeviceSide::Back),
            ..BuildChoices::default()
        });
        let piece = Piece::new("empty", crate::commands::demo::usual_frame());
        let page = form(&piece, &Catalogue::built_in().unwrap()).into_string();
        for field in all.as_object().unwrap().keys() {
            assert!(page.contains(&format!("data-path=\"{field}\"")), "{field}");
        }
        for (transfer, name) in [Transfer::Tape, Transfer::Prick, Transfer::CutOut]
            .iter()
            .zip(TRANSFERS)
        {
            assert_eq!(word(transfer), name);
        }
    }
}
