//! Intake: what is known of a device, and what is best done with it.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::device_kinds::{self, Came, Past};
use crate::serve::heard::Of;
use crate::serve::ledger_forms::{
    Fields, Sent, amount, answer_and_form, bars, bytes_of, choice, field, heard, in_percent,
    in_place, keep, take_out, taken, told,
};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, fact, open, word};
use crate::serve::words::KINDS;
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use ledger::intake::{ActionKind, DeviceKind, Intake, IntakePart, PartState, Verdict, judge};
use ledger::{Currency, Money};
use maud::{Markup, html};
use piece::Piece;
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::PieceId;

const STATES: [(&str, PartState, &str); 7] = [
    ("whole", PartState::Whole, "seems whole"),
    ("works", PartState::Works, "tried: works"),
    ("fails", PartState::Fails, "tried: fails"),
    ("cracked", PartState::Cracked, "cracked"),
    ("rusty", PartState::Rusty, "rusty"),
    ("chips_lifted", PartState::ChipsLifted, "chips lifted"),
    ("missing", PartState::Missing, "not there"),
];

/// `GET /piece/{id}/intake`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Intake, |bench, on, settings| {
        let kinds = device_kinds::kinds(bench)?;
        let currency = Currency::try_new(&settings.currency).map_err(|e| told(&e))?;
        Ok(Shown {
            title: format!("Intake of {}", on.piece.name),
            scripts: &["ledger.js"],
            body: room(bench, on, &kinds, currency)?,
        })
    })
    .await
}

/// `POST /piece/{id}/intake`: keeps the form, and answers with the verdict.
pub(crate) async fn answer(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    sent: Sent,
) -> Result<Json<Value>, Refusal> {
    taken(bench, id, sent, |bench, id, sent| {
        let kinds = device_kinds::kinds(bench)?;
        let (intake, came) = intake_of(&sent.fields, &kinds)?;
        let record = json!(intake);
        let on = keep(bench, id, sent, "Intake form", |shop| {
            shop.intake = Some(record.clone());
        })?;
        let past = Past::of(bench)?;
        past.note(bench, id, &intake, &came)?;
        let mut all = heard(&on, verdict_or_why(&past, id, &intake, &kinds));
        // Another kind has other signs: the page fetches its form anew.
        all["again"] = json!(sent.fields.text("kind") != sent.fields.text("shown_kind"));
        Ok(all)
    })
    .await
}

/// The form, and what came of the device.
fn intake_of(fields: &Fields, kinds: &[DeviceKind]) -> Result<(Intake, Came), Refusal> {
    let named = fields.needed("kind")?;
    let kind = kinds
        .iter()
        .find(|k| k.id == named)
        .ok_or_else(|| Refusal::not_there("such kind of device").of_field("kind"))?;
    let currency = fields.currency()?;
    let mut intake = Intake::blank(kind, currency);
    intake.device = fields.needed("device")?.to_owned();
    for sign in &kind.signs {
        let seen = fields.text(&format!("sign.{}", sign.id));
        let known = seen.filter(|s| sign.values.iter().any(|v| v.id == *s));
        intake
            .signs
            .insert(sign.id.clone(), known.map(str::to_owned));
    }
    let mut came = Came {
        condition: known(
            fields,
            "came.condition",
            kind.conditions.iter().map(|c| c.id.as_str()),
        ),
        repaired: yes_or_no(fields, "came.repaired"),
        parts: Vec::new(),
    };
    for n in fields.lines("part") {
        let of = |what: &str| format!("part.{n}.{what}");
        let Some(name) = fields.text(&of("name")) else {
            // A line that was added and not filled in.
            if fields.text(&of("value")).is_some() {
                fields.needed(&of("name"))?;
            }
            continue;
        };
        let state = fields.text(&of("state")).unwrap_or("whole");
        came.parts.push(yes_or_no(fields, &of("came")));
        intake.parts.push(IntakePart {
            name: name.to_owned(),
            kind: fields.kind(&of("kind"))?,
            value_minor: fields.money(&of("value"), currency)?,
            state: STATES
                .iter()
                .find(|s| s.0 == state)
                .map_or(PartState::Whole, |s| s.1),
            paired: fields.is_on(&of("paired")),
        });
    }
    let money = &mut intake.money;
    money.repaired_minor = fields.money("repaired", currency)?;
    money.repair_parts_minor = fields.money("repair_parts", currency)?;
    money.labour_per_hour_minor = fields.money("labour", currency)?.unwrap_or_default();
    money.selling_fee = fields.share("fee", 99.0)?.unwrap_or_default();
    money.piece_price_minor = fields.money("piece_price", currency)?;
    money.piece_cost_minor = fields.money("piece_cost", currency)?;
    money.piece_sells = fields.chance("sells")?;
    // What the typed fields make must be what the document's own reader takes.
    let intake = Intake::from_json(&bytes_of(&json!(intake))).map_err(|e| told(&e))?;
    Ok((intake, came))
}

/// What was chosen, where it is one of these; else nothing.
fn known<'a>(fields: &Fields, name: &str, mut of: impl Iterator<Item = &'a str>) -> String {
    let chosen = fields.text(name).unwrap_or_default();
    of.find(|v| *v == chosen).unwrap_or_default().to_owned()
}

fn yes_or_no(fields: &Fields, name: &str) -> Option<bool> {
    match fields.text(name) {
        Some("yes") => Some(true),
        Some("no") => Some(false),
        _ => None,
    }
}

fn yes_no_word(value: Option<bool>) -> &'static str {
    match value {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    }
}

/// The kept form, or an empty one with the piece's parts.
fn form_of(piece: &Piece, kinds: &[DeviceKind], currency: Currency) -> Result<Intake, Refusal> {
    if let Some(kept) = &piece.shop.intake {
        return Intake::from_json(&bytes_of(kept)).map_err(|e| told(&e));
    }
    let mut intake = match kinds.first() {
        Some(kind) => Intake::blank(kind, currency),
        None => return Err(Refusal::inside("no kind of device is known")),
    };
    let device = piece.device.as_ref().map(|d| d.name.clone());
    intake.device = device.unwrap_or_else(|| piece.name.clone());
    let parts = piece.parts.iter().map(|p| IntakePart {
        name: p.name.clone(),
        kind: p.kind,
        value_minor: None,
        state: PartState::Whole,
        paired: false,
    });
    intake.parts = parts.collect();
    Ok(intake)
}

fn verdict_or_why(past: &Past, piece: PieceId, intake: &Intake, kinds: &[DeviceKind]) -> Markup {
    let Some(kind) = kinds.iter().find(|k| k.id == intake.kind) else {
        return in_place(&Refusal::not_there(format!("kind {:?}", intake.kind)));
    };
    match judge(intake, kind, &past.experience(kind, Some(piece)), None) {
        Ok(v) => verdict(&v, intake),
        Err(e) => in_place(&told(&e)),
    }
}

fn room(
    bench: &Bench,
    on: &OnBench,
    kinds: &[DeviceKind],
    currency: Currency,
) -> Result<Markup, Refusal> {
    let intake = match form_of(&on.piece, kinds, currency) {
        Ok(intake) => intake,
        Err(e) => return Ok(html! { h1 class="quiet" { "Intake" } (in_place(&e)) }),
    };
    let past = Past::of(bench)?;
    let came = past.came(on.id, intake.parts.len());
    let answer = html! {
        @if on.piece.shop.intake.is_some() {
            (verdict_or_why(&past, on.id, &intake, kinds))
        } @else {
            div class="empty" {
                h2 { "Is it dead, and what is it good for?" }
                p { "Say what you see on the device and what it would be worth. The answer comes with each field; what nobody \
                     looked at stays open." }
            }
        }
    };
    let form = form(&intake, &came, kinds);
    Ok(answer_and_form(on, Room::Intake, "Verdict", &answer, &form))
}

fn form(intake: &Intake, came: &Came, kinds: &[DeviceKind]) -> Markup {
    let currency = intake.currency;
    let money = &intake.money;
    let m = |minor| amount(minor, currency);
    let kind = kinds.iter().find(|k| k.id == intake.kind);
    let names = kinds.iter().map(|k| (k.id.as_str(), k.title.as_str()));
    html! {
        fieldset class="card" {
            legend { "The device" }
            (field("What it is called", "device", &intake.device, ""))
            (choice("What it is", "kind", &intake.kind, names))
            input type="hidden" name="shown_kind" value=(intake.kind);
        }
        @if let Some(kind) = kind {
            fieldset class="card" {
                legend { "What is seen" }
                @for sign in &kind.signs {
                    @let now = intake.signs.get(&sign.id).and_then(Option::as_deref).unwrap_or("");
                    @let values = sign.values.iter().map(|v| (v.id.as_str(), v.title.as_str()));
                    div class="sign" {
                        (choice(&crate::say::capital(&sign.title), &format!("sign.{}", sign.id), now, std::iter::once(("", "not looked at")).chain(values)))
                        details {
                            summary { "How, in " (sign.minutes) " min" }
                            p { (sign.how) }
                            @if let Some(caution) = &sign.caution { p class="caution" { (caution) } }
                        }
                    }
                }
            }
        }
        fieldset class="card" {
            legend { "Its parts" }
            p class="soft" { "Worth: what a good one sells for, in " (currency.code()) ". Paired: works with its own board alone." }
            ol class="lines" data-list="part" {
                @for (n, part) in intake.parts.iter().enumerate() { (part_line(&n.to_string(), Some(part), came.parts.get(n).copied().flatten(), currency)) }
            }
            template id="line-part" { (part_line("NEW", None, None, currency)) }
            p { button type="button" data-add="part" { "Add a part" } }
        }
        @if let Some(kind) = kind {
            fieldset class="card" {
                legend { "What came of it" }
                p class="soft" { "Once it is known. Each device that was opened makes the chances of the next ones surer; with its parts above." }
                (choice("What was wrong", "came.condition", &came.condition,
                    std::iter::once(("", "not known yet")).chain(kind.conditions.iter().map(|c| (c.id.as_str(), c.title.as_str())))))
                (choice("Was it repaired", "came.repaired", yes_no_word(came.repaired),
                    [("", "nobody tried"), ("yes", "yes, it works again"), ("no", "tried, without success")].into_iter()))
            }
        }
        fieldset class="card" {
            legend { "Money" }
            div class="grid" {
                (field("Currency", "currency", currency.code(), "EUR"))
                (field("Worth repaired", "repaired", &m(money.repaired_minor), "not known"))
                (field("Parts of a repair", "repair_parts", &m(money.repair_parts_minor), "the kind's share"))
                (field("An hour of work", "labour", &m(Some(money.labour_per_hour_minor)), "0"))
                (field("Selling takes, %", "fee", &in_percent(f64::from(money.selling_fee)), "0"))
                (field("Price of a piece, without tax", "piece_price", &m(money.piece_price_minor), "not known"))
                (field("Cost of a piece", "piece_cost", &m(money.piece_cost_minor), "Costing says"))
                (field("Chance that it sells, %", "sells", &money.piece_sells.map_or(String::new(), |c| in_percent(c.get())),
                    &kind.map_or(String::new(), |k| format!("{} as a rule", in_percent(k.piece_sells.get())))))
            }
        }
    }
}

fn part_line(n: &str, part: Option<&IntakePart>, came: Option<bool>, currency: Currency) -> Markup {
    let name = |what: &str| format!("part.{n}.{what}");
    let title = part.map_or("a new part", |p| p.name.as_str());
    let kind = part.map_or("other".into(), |p| word(&p.kind));
    let state = part.map_or(PartState::Whole, |p| p.state);
    html! {
        li class="part-line" {
            input type="text" name=(name("name")) value=(part.map_or("", |p| p.name.as_str())) aria-label="Name of the part" placeholder="name";
            select name=(name("kind")) aria-label={ "Kind of " (title) } {
                @for k in KINDS.map(|k| word(&k)) { option value=(k) selected[k == kind] { (k) } }
            }
            select name=(name("state")) aria-label={ "State of " (title) } {
                @for (id, s, title) in STATES { option value=(id) selected[s == state] { (title) } }
            }
            input class="n" type="text" inputmode="decimal" name=(name("value")) aria-label={ "Worth of " (title) } placeholder="worth"
                value=(amount(part.and_then(|p| p.value_minor), currency));
            select name=(name("came")) aria-label={ "What came of " (title) } {
                @for (value, word) in [("", "not out yet"), ("yes", "came out good"), ("no", "came out bad")] {
                    option value=(value) selected[value == yes_no_word(came)] { (word) }
                }
            }
            label class="inline" { input type="checkbox" name=(name("paired")) value="yes" checked[part.is_some_and(|p| p.paired)]
                aria-label={ (title) " is paired" }; "paired" }
            (take_out(title))
        }
    }
}

fn verdict(v: &Verdict, intake: &Intake) -> Markup {
    let money = |minor: i64| Money::new(minor, v.currency).to_string();
    let (what, rest) = v.sentence.split_once(": ").unwrap_or(("", &v.sentence));
    let actions: Vec<(String, i64, String, bool)> = v
        .actions
        .iter()
        .map(|a| {
            let name = match a.action {
                ActionKind::Repair => "Repair it",
                ActionKind::Donor => "Take it apart",
                ActionKind::Display => "Make a piece",
                ActionKind::Recycle => "Hand it in",
            };
            (
                name.into(),
                a.expected_minor,
                money(a.expected_minor),
                a.action == v.verdict,
            )
        })
        .collect();
    html! {
        div class="card verdict" {
            @if !what.is_empty() { h2 class="large" { (what) } }
            p { (crate::say::capital(rest)) }
            @for w in &v.warnings { p class="caution" data-code=(w.code) { strong { (w.text) } " " (w.remedy) } }
            div class="facts" {
                (fact("Chance of repair", &v.repair_chance.to_string()))
                @if let Some(p) = v.break_even_chance { (fact("Repair pays from", &p.to_string())) }
            }
            h3 { "What each brings on the average" }
            (bars("What each brings on the average", &actions))
            @for missing in &v.not_weighed { p class="soft" { "Not weighed: " (missing_in_words(missing)) } }
        }
        @if let Some(next) = v.next_checks.first() {
            div class="card" {
                h2 { "The next check" }
                p { strong { (crate::say::capital(&next.title)) } }
                p { (next.how) }
                @if let Some(caution) = &next.caution { p class="caution" { (caution) } }
                div class="facts" {
                    (fact("Knowing it is worth", &money(next.worth_minor)))
                    (fact("Looking costs", &money(next.cost_minor)))
                    (fact("No check is worth more than", &money(v.perfect_information_minor)))
                }
                @if next.worth_minor <= next.cost_minor { p class="soft" { "It would not pay: no answer would change much." } }
                @if v.next_checks.len() > 1 {
                    details {
                        summary { "The others" }
                        table {
                            thead { tr { th { "Check" } th class="n" { "Worth" } th class="n" { "Costs" } } }
                            tbody { @for c in &v.next_checks[1..] {
                                tr { td { (crate::say::capital(&c.title)) } td class="n" { (money(c.worth_minor)) } td class="n" { (money(c.cost_minor)) } }
                            } }
                        }
                    }
                }
            }
        }
        @if !v.parts.is_empty() {
            div class="card" {
                h2 { "Its parts" }
                table {
                    thead { tr { th { "Part" } th class="n" { "Comes out good" } th class="n" { "Own cases" } th class="n" { "Brings" } } }
                    tbody { @for (p, of) in v.parts.iter().zip(&intake.parts) {
                        tr {
                            td { (p.name) @if !p.note.is_empty() { span class="soft note" { (p.note) } } }
                            td class="n" { (p.chance) }
                            td class="n" { (p.n) }
                            td class="n" { @if of.value_minor.is_some() { (money(p.expected_minor)) } @else { "–" } }
                        }
                    } }
                }
            }
        }
        details class="card" {
            summary { "What may be wrong, and where the chances are from" }
            table {
                thead { tr { th { "What may be wrong" } th class="n" { "Chance" } th class="n" { "Repair succeeds" } th class="n" { "Own cases" } th { "Standing" } } }
                tbody { @for c in &v.conditions {
                    tr {
                        td { (crate::say::capital(&c.title)) }
                        td class="n" { (c.chance) }
                        td class="n" { (c.repair) span class="soft note" { (c.repair_interval90[0]) " to " (c.repair_interval90[1]) } }
                        td class="n" { (c.n) }
                        td { (c.standing.in_words()) }
                    }
                } }
            }
            p class="soft" { (crate::say::capital(&v.source)) ". Own cases: " (v.n) ". Nine times of ten, the chance of a repair \
                lies between the two small figures." }
            p { a href={ "/chances/" (v.kind) } { "See and change the chances" } }
        }
    }
}

/// The ledger names fields of its document; here they have names of their own.
fn missing_in_words(text: &str) -> String {
    text.replace("give parts[].value_minor", "say what parts are worth")
        .replace(
            "give money.piece_price_minor and money.piece_cost_minor",
            "fill both in under Money",
        )
        .replace("give money.repaired_minor", "fill it in under Money")
}
