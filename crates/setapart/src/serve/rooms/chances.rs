//! The chances of a kind of device: what they are, how far they can be trusted, what the shop's own devices taught.

use crate::serve::bench::Bench;
use crate::serve::device_kinds::{self, Past};
use crate::serve::download;
use crate::serve::ledger_forms::{Fields, Sent, bytes_of, field, in_percent, told};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{open_beside, word};
use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use ledger::Chance;
use ledger::intake::{DeviceCondition, DeviceKind, Experience, Sign};
use maud::{Markup, html};
use piece::{PartKind, Standing};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// `GET /chances/{kind}`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Response, Refusal> {
    open_beside(
        bench,
        "Chances",
        &["ledger.js"],
        &["ledger.css"],
        move |bench| {
            let kind = kind_of(bench, &id)?;
            Ok(room(&kind, &Past::of(bench)?.experience(&kind, None)))
        },
    )
    .await
}

/// `GET /chances/{kind}/kind.json`: the kind as a document for `verdict --kind`.
pub(crate) async fn document(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let kind = kind_of(bench, &id)?;
            let name = format!("{}.json", kind.id);
            Ok(download("application/json", &name, kind.to_json()))
        })
        .await
}

/// `POST /chances/{kind}`: keeps the shop's own chances.
pub(crate) async fn keep(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
    sent: Sent,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let mut heard = json!({ "revision": 0, "undo": null, "redo": null });
            if sent.fields.is_on("as_shipped") {
                device_kinds::change_kind(bench, &id, |_| Ok(None))?;
                heard["again"] = json!(true);
                return Ok(Json(heard));
            }
            let kind = device_kinds::change_kind(bench, &id, |before| {
                edited(before, &sent.over(&as_typed(before))?).map(Some)
            })?;
            // Rows were brought to 100: what this page typed on it goes by that.
            heard["stored"] = json!(as_typed(&kind));
            let experience = Past::of(bench)?.experience(&kind, None);
            heard["answer"] = json!(answer(&kind, &experience).into_string());
            Ok(Json(heard))
        })
        .await
}

fn kind_of(bench: &Bench, id: &str) -> Result<DeviceKind, Refusal> {
    device_kinds::kind_of(device_kinds::kinds(bench)?, id)
}

/// The fields of the form with what stands in them.
fn as_typed(kind: &DeviceKind) -> BTreeMap<String, String> {
    let mut all = BTreeMap::from([("strength".to_owned(), kind.strength.to_string())]);
    let parts = kinds_of_parts(kind);
    for (i, c) in kind.conditions.iter().enumerate() {
        for (what, text) in [
            ("share", in_percent(c.share)),
            ("repair", in_percent(c.repair.get())),
            ("hours", c.hours.to_string()),
            ("good", in_percent(c.yields.usual.get())),
        ] {
            all.insert(format!("c.{i}.{what}"), text);
        }
        for k in &parts {
            let own = c.yields.kinds.get(k);
            let text = own.map_or_else(String::new, |v| in_percent(v.get()));
            all.insert(format!("y.{i}.{}", word(k)), text);
        }
        for (j, s) in kind.signs.iter().enumerate() {
            let row = s.likelihood.get(&c.id);
            for v in 0..s.values.len() {
                let likely = row.and_then(|r| r.get(v)).copied().unwrap_or(0.0);
                all.insert(format!("s.{j}.{i}.{v}"), in_percent(likely));
            }
        }
    }
    all
}

/// The kind with what was typed. Shares, and what a sign is taken to tell, are brought to 100 % together; what was typed as it
/// stood there stays to the last digit, with its standing.
fn edited(before: &DeviceKind, fields: &Fields) -> Result<DeviceKind, Refusal> {
    let mut kind = before.clone();
    if let Some(strength) = fields.number("strength", 0.1..=1e6)? {
        kind.strength = strength;
    }
    let names = |what: &str| -> Vec<String> {
        (0..before.conditions.len())
            .map(|i| format!("c.{i}.{what}"))
            .collect()
    };
    let shares: Vec<f64> = before.conditions.iter().map(|c| c.share).collect();
    let (shares, moved) = together(fields, &names("share"), &shares)?;
    let kinds = kinds_of_parts(before);
    for (i, c) in kind.conditions.iter_mut().enumerate() {
        c.share = shares[i];
        let was = &before.conditions[i];
        c.repair = chance(fields, &format!("c.{i}.repair"), was.repair)?;
        c.yields.usual = chance(fields, &format!("c.{i}.good"), was.yields.usual)?;
        if let Some(hours) = fields.number(&format!("c.{i}.hours"), 0.01..=1000.0)? {
            c.hours = hours;
        }
        for k in &kinds {
            let name = format!("y.{i}.{}", word(k));
            if !fields.has(&name) {
                continue;
            }
            match (fields.text(&name), was.yields.kinds.get(k)) {
                (None, _) => {
                    c.yields.kinds.remove(k);
                }
                (Some(_), was) => {
                    let was = was.copied().unwrap_or(c.yields.usual);
                    c.yields.kinds.insert(*k, chance(fields, &name, was)?);
                }
            }
        }
        if moved[i]
            || *c
                != (DeviceCondition {
                    share: c.share,
                    ..was.clone()
                })
        {
            c.standing = Some(Standing::Own);
        }
    }
    for (j, sign) in kind.signs.iter_mut().enumerate() {
        for (i, c) in before.conditions.iter().enumerate() {
            let Some(row) = sign.likelihood.get_mut(&c.id) else {
                continue;
            };
            let names: Vec<String> = (0..row.len()).map(|v| format!("s.{j}.{i}.{v}")).collect();
            let (told, moved) = together(fields, &names, row)?;
            *row = told;
            if moved.contains(&true) {
                sign.standing = Some(Standing::Own);
            }
        }
    }
    // What the typed fields make must be what the document's own reader takes.
    DeviceKind::from_json(&bytes_of(&json!(kind))).map_err(|e| told(&e))
}

/// A chance as it is typed; as it was where that is what stood there.
fn chance(fields: &Fields, name: &str, was: Chance) -> Result<Chance, Refusal> {
    if fields.text(name).is_none_or(|t| t == in_percent(was.get())) {
        return Ok(was);
    }
    Ok(fields.chance(name)?.unwrap_or(was))
}

/// Chances that make 1 together, as typed, and which of them were changed. An empty field is 0.
fn together(
    fields: &Fields,
    names: &[String],
    was: &[f64],
) -> Result<(Vec<f64>, Vec<bool>), Refusal> {
    // A page without these fields says nothing about them.
    if names.iter().all(|n| fields.text(n).is_none()) {
        return Ok((was.to_vec(), vec![false; was.len()]));
    }
    let mut typed = Vec::with_capacity(was.len());
    let mut moved = Vec::with_capacity(was.len());
    for (name, &was) in names.iter().zip(was) {
        let same = fields.text(name).unwrap_or("0") == in_percent(was);
        moved.push(!same);
        typed.push(if same {
            was
        } else {
            fields.percent(name, 100.0)?.unwrap_or(0.0)
        });
    }
    if !moved.contains(&true) {
        return Ok((was.to_vec(), moved));
    }
    let sum: f64 = typed.iter().sum();
    if sum <= 0.0 {
        return Err(
            Refusal::bad("All of these are 0.", "Give at least one of them a chance.")
                .of_field(names.first().cloned().unwrap_or_default()),
        );
    }
    // What makes 100 as it was typed stays as it was typed.
    if (sum - 1.0).abs() > 1e-9 {
        typed.iter_mut().for_each(|t| *t /= sum);
    }
    Ok((typed, moved))
}

/// Kinds of part that some condition has a chance of its own for.
fn kinds_of_parts(kind: &DeviceKind) -> BTreeSet<PartKind> {
    let own = kind.conditions.iter().flat_map(|c| c.yields.kinds.keys());
    own.copied().collect()
}

fn room(kind: &DeviceKind, experience: &Experience) -> Markup {
    html! {
        div class="work-bar" { h1 { "Chances: " (kind.title) } }
        div class="two" {
            section class="answer" id="answer" aria-label="Chances as they stand" { (answer(kind, experience)) }
            form class="ledger" id="ledger" data-url={ "/chances/" (kind.id) } autocomplete="off" {
                p class="error" id="form-error" role="alert" hidden {}
                span id="saved" class="soft" role="status" {}
                (form(kind))
            }
        }
    }
}

fn answer(kind: &DeviceKind, experience: &Experience) -> Markup {
    let standing = |own: Option<Standing>| own.unwrap_or(kind.standing).in_words();
    html! {
        div class="card" {
            h2 { "As they stand" }
            p { (crate::say::counted(experience.n() as usize, "device")) " of your own " @if experience.n() == 1 { "is" } @else { "are" } " counted. The numbers that
                were there before weigh as much as " (format!("{:.0}", kind.strength)) "." }
            table {
                thead { tr { th { "What may be wrong" } th class="n" { "Comes in" } th class="n" { "Repair succeeds" } th class="n" { "Own cases" } th { "Standing" } } }
                tbody { @for (i, c) in kind.conditions.iter().enumerate() {
                    @let repair = experience.repair(kind, i);
                    @let [low, high] = repair.interval90();
                    tr {
                        td { (crate::say::capital(&c.title)) }
                        td class="n" { (format!("{:.1} %", 100.0 * c.share)) }
                        td class="n" { (repair.mean()) span class="soft note" { (low) " to " (high) } }
                        td class="n" { (experience.n_of(i)) }
                        td { (standing(c.standing)) }
                    }
                } }
            }
            p class="soft" { "Nine times of ten, the chance of a repair lies between the two small figures. " (crate::say::capital(&kind.source)) "." }
            p class="files" { a class="button" href={ "/chances/" (kind.id) "/kind.json" } download={ (kind.id) ".json" } { "All of it as a file" } }
        }
        details class="card" {
            summary { "What signs are taken to tell" }
            table {
                thead { tr { th { "Sign" } th { "Standing" } } }
                tbody { @for s in &kind.signs { tr { td { (crate::say::capital(&s.title)) } td { (standing(s.standing)) } } } }
            }
        }
    }
}

fn form(kind: &DeviceKind) -> Markup {
    let typed = as_typed(kind);
    let value = |name: &str| typed.get(name).map_or("", String::as_str);
    let number = |name: &str, said: &str| {
        html! { input class="n" type="text" inputmode="decimal" name=(name) value=(value(name)) aria-label=(said); }
    };
    let parts = kinds_of_parts(kind);
    html! {
        fieldset class="card" {
            legend { "What comes in" }
            p class="soft" { "In percent. What comes in is brought to 100 together." }
            table class="numbers" {
                thead { tr { th { "What may be wrong" } th class="n" { "Comes in" } th class="n" { "Repair succeeds" } th class="n" { "Hours" } th class="n" { "Parts are good" } } }
                tbody { @for (i, c) in kind.conditions.iter().enumerate() {
                    tr {
                        th scope="row" { (crate::say::capital(&c.title)) }
                        td { (number(&format!("c.{i}.share"), &format!("{}: share of what comes in, %", c.title))) }
                        td { (number(&format!("c.{i}.repair"), &format!("{}: chance of repair, %", c.title))) }
                        td { (number(&format!("c.{i}.hours"), &format!("{}: hours of a repair", c.title))) }
                        td { (number(&format!("c.{i}.good"), &format!("{}: chance that a part is good, %", c.title))) }
                    }
                } }
            }
            (field("They weigh as much as so many own devices", "strength", value("strength"), ""))
        }
        @if !parts.is_empty() {
            details class="card" {
                summary { "Parts that differ from the rest" }
                p class="soft" { "Chance that they come out good, in percent; empty: as other parts." }
                @for (i, c) in kind.conditions.iter().enumerate() {
                    h3 { (crate::say::capital(&c.title)) }
                    div class="grid" { @for k in &parts {
                        @let name = format!("y.{i}.{}", word(k));
                        (field(&crate::say::capital(&word(k)), &name, value(&name), "as others"))
                    } }
                }
            }
        }
        @for (j, s) in kind.signs.iter().enumerate() { (sign(kind, &typed, j, s)) }
        fieldset class="card" {
            legend { "The numbers that came along" }
            label class="inline" { input type="checkbox" name="as_shipped" value="yes"; "Use them again in place of what was typed here" }
        }
    }
}

fn sign(kind: &DeviceKind, typed: &BTreeMap<String, String>, j: usize, s: &Sign) -> Markup {
    html! {
        details class="card" {
            summary { "Sign: " (s.title) }
            p class="soft" { "Of a hundred devices with that wrong, so many show this. Each row is brought to 100." }
            table class="numbers" {
                thead { tr { th { "What is wrong" } @for v in &s.values { th class="n" { (v.title) } } } }
                tbody { @for (i, c) in kind.conditions.iter().enumerate() {
                    tr {
                        th scope="row" { (crate::say::capital(&c.title)) }
                        @for (v, value) in s.values.iter().enumerate() {
                            @let name = format!("s.{j}.{i}.{v}");
                            td { input class="n" type="text" inputmode="decimal" name=(name) value=(typed.get(&name).map_or("", String::as_str))
                                aria-label={ (c.title) ": " (value.title) ", %" }; }
                        }
                    }
                } }
            }
        }
    }
}
