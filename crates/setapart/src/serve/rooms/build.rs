//! Build: what is decided, and what mounting works out of it: depth, supports, adhesive, steps by when.

use super::build_choices;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::Of;
use crate::serve::jobs::Progress;
use crate::serve::piece_calls::answer;
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Lengths, Room, Shown, catalogue, fact, open, word};
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use mount::{Catalogue, MountError};
use piece::{BillUnit, BuildPlan, Depth, Joint, Pack, PartId, Step};
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{Edit, PieceId, Units};

/// `GET /piece/{id}/build`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Build, |_, on, settings| {
        Ok(Shown {
            title: format!("Build of {}", on.piece.name),
            scripts: &["build.js"],
            body: build(on, settings.units, &catalogue()?),
        })
    })
    .await
}

/// `POST /piece/{id}/build`: a job that works the build out.
pub(crate) async fn work_out(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Json<Value>, Refusal> {
    let at = Arc::clone(&bench);
    let job = bench.jobs.add("Working the build out", move |watch| {
        worked_out(&at, id, watch)
    })?;
    Ok(Json(json!({ "job": job })))
}

fn worked_out(bench: &Bench, id: PieceId, watch: &Progress) -> Result<Value, Refusal> {
    let on = bench.piece(id)?;
    let plan = mount::plan(&on.piece, &catalogue()?, watch).map_err(|e| match e {
        MountError::Cancelled => Refusal::from(arrange::ArrangeError::Cancelled),
        other => Refusal::bad(
            crate::say::sentence(&other.to_string()),
            "Correct it and start again.",
        ),
    })?;
    let mut piece = (*on.piece).clone();
    piece.build = Some(plan);
    let conflict = [
        "Another window worked the build out meanwhile.",
        "Load the page again.",
    ];
    let edit = Edit::new("Work the build out");
    let on = bench.save(id, on.state.revision, piece, &edit, conflict)?;
    Ok(answer(&on, false))
}

fn build(on: &OnBench, units: Units, catalogue: &Catalogue) -> Markup {
    let lengths = Lengths(units);
    html! {
        h1 class="quiet" { "Build" }
        @if on.piece.placements.is_empty() {
            section class="empty" {
                h2 { "Nothing to build yet" }
                p { "How the piece is built follows from where its parts lie. Put them on the board first." }
                p { a class="button primary" href=(Room::Board.href(on.id)) { "To the Board" } }
            }
        } @else {
            @let stale = on.piece.build.is_some() && !on.piece.build_is_current();
            div class="work-bar" {
                button type="button" class="primary" id="work-out" { @if on.piece.build.is_some() { "Work it out again" } @else { "Work the build out" } }
                span id="saved" class="soft" role="status" {}
                div id="job" class="job" hidden {}
            }
            p class="caution" id="stale" hidden[!stale] { "Something was changed since this was worked out: work it out again before you cut or glue." }
            @if on.piece.build.is_none() {
                section class="empty" {
                    h2 { "How is it built?" }
                    p { "Working it out says: depth against the rebate, what goes under each part, which adhesive along which path, whether it stays \
                         up, and the steps with their cautions and times. What is not decided below is done as a rule." }
                }
            }
            details class="decided" open[on.piece.build.is_none()] {
                summary { "What is decided" }
                (build_choices::form(&on.piece, catalogue))
            }
            @if let Some(plan) = &on.piece.build { (shown(on, plan, lengths, catalogue)) }
        }
    }
}

fn shown(on: &OnBench, plan: &BuildPlan, lengths: Lengths, catalogue: &Catalogue) -> Markup {
    let name = |id: &PartId| {
        on.piece
            .part(id)
            .map_or_else(|| id.to_string(), |p| p.name.clone())
    };
    html! {
        div class="facts" {
            (fact("Rebate needed", &lengths.say(plan.depth.needed_mm)))
            @if let Some(spare) = plan.depth.spare_mm { (fact("To spare", &lengths.say(spare))) }
            (fact("Mass", &format!("{:.2} kg", plan.mass_g / 1000.0)))
            (fact("Hands on", &time(plan.hands_on_minutes)))
            (fact("From start to end", &time(plan.elapsed_minutes)))
        }
        section class="card" {
            h2 { "Depth" }
            (section(on, &plan.depth, lengths))
            table {
                thead { tr { th { "Part" } th class="n" { "Foot" } th class="n" { "Top" } th class="n" { "To the glazing" } } }
                tbody {
                    @for p in &plan.depth.parts {
                        tr {
                            td { a href=(part_href(on, &p.part)) { (name(&p.part)) } }
                            td class="n" { (lengths.say(p.foot_mm)) }
                            td class="n" { (lengths.say(p.top_mm)) @if p.height_unknown { " ?" } }
                            td class="n" { (lengths.say(p.clearance_mm)) }
                        }
                    }
                }
            }
        }
        @if !plan.supports.is_empty() {
            section class="card" {
                h2 { "Supports" }
                table {
                    thead { tr { th { "Part" } th { "Kind" } th { "Layers from the board up" } th class="n" { "Height" } } }
                    tbody {
                        @for s in &plan.supports {
                            tr {
                                td { a href=(part_href(on, &s.part)) { (name(&s.part)) } }
                                td { (word(&s.kind).replace('_', " ")) }
                                td {
                                    @for (k, (mm, material)) in s.layers_mm.iter().zip(&s.materials).enumerate() {
                                        @if k > 0 { ", " } (lengths.say(*mm)) " " (foam(material, catalogue))
                                    }
                                }
                                td class="n" { (lengths.say(s.height_mm)) }
                            }
                        }
                    }
                }
            }
        }
        @if !plan.bonds.is_empty() {
            section class="card" {
                h2 { "What holds the parts" }
                p class="soft" { "Used is the share of what each joint may bear for good, worst load first; test on a spare part before you trust it." }
                table {
                    thead { tr { th { "Part" } th { "Adhesive" } th { "Put on as" } th class="n" { "Dose" } th class="n" { "Used" } } }
                    tbody {
                        @for b in &plan.bonds {
                            tr {
                                td { a href=(part_href(on, &b.part)) { (name(&b.part)) } (between(b.joint)) }
                                td {
                                    details {
                                        summary { (adhesive(&b.adhesive, catalogue)) }
                                        ul {
                                            @for r in &b.reasons { li { (r.text) } }
                                            @for r in &b.runners_up { li class="soft" { @if r.would_do { "Second to it: " } @else { "Not " } (runner(r, catalogue)) } }
                                        }
                                    }
                                }
                                td { (word(&b.apply_as).replace('_', " ")) }
                                td class="n" { @if b.dose_ml > 0.0 { (format!("{:.2} ml", b.dose_ml)) } @else { "–" } }
                                td class="n" { (format!("{:.0} %", 100.0 * b.utilisation)) }
                            }
                        }
                    }
                }
            }
        }
        section class="card" {
            h2 { "Steps" }
            (chart(plan))
            ol class="build-steps" {
                @for step in &plan.steps { (one_step(step)) }
            }
        }
        @if !plan.bill.is_empty() {
            section class="card" {
                h2 { "What is needed" }
                table {
                    tbody {
                        @for line in &plan.bill {
                            tr {
                                td { (line.title.text) }
                                td class="n" { (amount(line.amount, line.unit, lengths)) }
                                td { (line.packs.iter().map(|p| pack(p, line.unit, lengths)).collect::<Vec<_>>().join(", ")) }
                            }
                        }
                    }
                }
            }
        }
        @if !plan.figures.is_empty() {
            details class="card" {
                summary { "Handbook figures that this rests on" }
                table {
                    thead { tr { th { "Figure" } th class="n" { "Value" } th { "Standing" } th { "Source" } } }
                    tbody {
                        @for f in &plan.figures {
                            tr {
                                td { (f.name) }
                                td class="n" { (f.value) " " (f.unit) }
                                td { (f.standing.in_words()) }
                                td { (f.source) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What the catalogue calls an adhesive; its id where a catalogue of the maker's own is not at hand.
fn adhesive<'a>(id: &'a str, catalogue: &'a Catalogue) -> &'a str {
    catalogue.adhesives.get(id).map_or(id, |a| a.name.as_str())
}

/// What the catalogue calls a support's material.
fn foam<'a>(id: &'a str, catalogue: &'a Catalogue) -> &'a str {
    catalogue.foams.get(id).map_or(id, |f| f.name.as_str())
}

/// Which joint of a part it is, where there are several.
fn between(joint: Joint) -> &'static str {
    match joint {
        Joint::PartToBoard => "",
        Joint::PartToSupport => ", to its support",
        Joint::SupportToBoard => ", its support to the board",
        Joint::SupportLayers => ", between layers",
    }
}

fn runner(r: &piece::RunnerUp, catalogue: &Catalogue) -> String {
    let why: Vec<&str> = r.why.iter().map(|p| p.text.as_str()).collect();
    format!("{}: {}", adhesive(&r.adhesive, catalogue), why.join("; "))
}

fn part_href(on: &OnBench, id: &PartId) -> String {
    let encoded = crate::serve::page::encoded(id.as_str());
    format!("{}?part={}", Room::Board.href(on.id), encoded.0)
}

fn time(minutes: f64) -> String {
    match minutes {
        m if m < 60.0 => format!("{m:.0} min"),
        m if m < 48.0 * 60.0 => format!("{:.1} h", m / 60.0),
        m => format!("{:.1} days", m / 1440.0),
    }
}

fn amount(amount: f64, unit: BillUnit, lengths: Lengths) -> String {
    match unit {
        BillUnit::Piece => format!("{amount:.0}"),
        // Syringes and tubes are marked in millilitres where inches are at home too.
        BillUnit::Ml => format!("{amount:.1} ml"),
        BillUnit::Mm => lengths.say(amount),
        BillUnit::Mm2 => lengths.area(amount),
        BillUnit::G => lengths.mass(amount),
    }
}

/// What has to be bought: how many, of what, and how much one holds. A form that tells its sides tells its size too.
fn pack(p: &Pack, unit: BillUnit, lengths: Lengths) -> String {
    let holds = match unit {
        BillUnit::Piece if p.size == 1.0 => String::new(),
        BillUnit::Ml => format!("{} ml", p.size),
        // Rolls and bars are sold by the metre.
        BillUnit::Mm if lengths.0 == Units::Millimetres && p.size >= 1000.0 => {
            format!("{} m", p.size / 1000.0)
        }
        _ => amount(p.size, unit, lengths),
    };
    let what = match (p.form.is_empty(), holds.is_empty()) {
        (true, true) => return p.count.to_string(),
        (true, false) => holds,
        (false, true) => p.form.clone(),
        (false, false) if p.form.ends_with("mm") => format!("sheet of {}", p.form),
        (false, false) => format!("{} of {holds}", p.form),
    };
    format!("{} x {what}", p.count)
}

/// The stack behind the glazing, seen from below, true to scale along both axes.
fn section(on: &OnBench, depth: &Depth, lengths: Lengths) -> Markup {
    let window = on.piece.frame.window();
    let (w, inside) = (window.width_mm(), depth.inside_mm);
    let behind: f64 = depth
        .layers
        .iter()
        .filter(|l| {
            matches!(
                l.kind,
                piece::DepthLayerKind::Board | piece::DepthLayerKind::Backing
            )
        })
        .map(|l| l.thickness_mm)
        .sum();
    let glazing: f64 = depth
        .layers
        .iter()
        .filter(|l| l.kind == piece::DepthLayerKind::Glazing)
        .map(|l| l.thickness_mm)
        .sum();
    let view = format!(
        "-2 {:.1} {:.1} {:.1}",
        -inside - glazing - 2.0,
        w + 4.0,
        inside + glazing + behind + 4.0
    );
    let outlines = on.piece.outlines_on_board();
    html! {
        svg class="depth" viewBox=(view) role="img" aria-label={
            "Section seen from below; inside " (lengths.say(inside)) ", the tallest part and its distance to the glazing are in the table" } {
            rect class="glass" x="0" y=(-inside - glazing) width=(w) height=(glazing) {}
            rect class="back" x="0" y="0" width=(w) height=(behind) {}
            @for p in &depth.parts {
                @if let Some((_, outline)) = outlines.iter().find(|(part, _)| part.id == p.part) {
                    @let b = outline.bounds();
                    rect class="foot" x=(b.min.x) y=(-p.foot_mm) width=(b.width_mm()) height=(p.foot_mm) {}
                    rect class="stand" x=(b.min.x) y=(-p.top_mm) width=(b.width_mm()) height=((p.top_mm - p.foot_mm).max(0.0)) {}
                }
            }
        }
    }
}

/// When each step is done: one bar each, hands on in full colour, waiting in outline.
fn chart(plan: &BuildPlan) -> Markup {
    let end = plan.steps.iter().map(|s| s.end_minute).fold(1.0, f64::max);
    let row = 6.0;
    let x = |minute: f64| 100.0 * minute / end;
    html! {
        svg class="chart" viewBox={ "0 0 100 " (row * plan.steps.len() as f64 / 3.0) } preserveAspectRatio="none" role="img"
            aria-label={ "Schedule of " (plan.steps.len()) " steps over " (time(end)) } {
            @for (k, s) in plan.steps.iter().enumerate() {
                rect class={ "wait" @if s.slack_minutes == 0.0 { " critical" } } x=(x(s.start_minute)) y=(row * k as f64 / 3.0 + 0.3)
                    width=((x(s.end_minute) - x(s.start_minute)).max(0.3)) height=(row / 3.0 - 0.6) {}
            }
        }
    }
}

fn one_step(step: &Step) -> Markup {
    html! {
        li {
            div class="row" {
                strong { (step.title) }
                span class="soft" { "from " (time(step.start_minute)) ", " (time(step.minutes)) }
            }
            @for sentence in &step.how { p { (sentence.text) } }
            @for c in &step.cautions {
                p class="caution" {
                    strong { (c.text) } " " (c.rule.text)
                    @if !c.protection.is_empty() {
                        " Wear or use: " @for (k, p) in c.protection.iter().enumerate() { @if k > 0 { " " } (p.text) }
                    }
                }
            }
        }
    }
}
