//! The rooms: each a page with its own address.

pub(super) mod board;
pub(super) mod build;
mod build_choices;
pub(super) mod capture;
pub(super) mod chances;
pub(super) mod costing;
pub(super) mod donors;
pub(super) mod drawer;
pub(super) mod history;
pub(super) mod homes;
pub(super) mod intake;
mod sheet_choices;
pub(super) mod sheets;
pub(super) mod shelf;
pub(super) mod stock;

use super::bench::{Bench, OnBench};
use super::page::Page;
use super::refusal::Refusal;
use super::{html_page, icons, scene};
use axum::response::Response;
use maud::{Markup, html};
use mount::Catalogue;
use std::sync::Arc;
use workshop::{PieceId, Settings, Units};

const MM_PER_INCH: f64 = 25.4;

/// Lengths in the shop's units.
#[derive(Clone, Copy)]
pub(super) struct Lengths(pub(super) Units);

impl Lengths {
    pub(super) fn say(self, mm: f64) -> String {
        match self.0 {
            Units::Millimetres => format!("{mm:.1} mm"),
            Units::Inches => format!("{:.3} in", mm / MM_PER_INCH),
        }
    }

    /// An area of sheet stock.
    pub(super) fn area(self, mm2: f64) -> String {
        match self.0 {
            Units::Millimetres => format!("{:.0} cm²", mm2 / 100.0),
            Units::Inches => format!("{:.1} in²", mm2 / MM_PER_INCH.powi(2)),
        }
    }

    /// A mass: 1 oz = 28.349523125 g (international pound, 1959).
    pub(super) fn mass(self, g: f64) -> String {
        match self.0 {
            Units::Millimetres => format!("{g:.0} g"),
            Units::Inches => format!("{:.2} oz", g / 28.349_523_125),
        }
    }

    /// Without its unit, as large things are measured.
    pub(super) fn bare(self, mm: f64) -> String {
        match self.0 {
            Units::Millimetres => format!("{mm:.0}"),
            Units::Inches => format!("{:.1}", mm / MM_PER_INCH),
        }
    }

    pub(super) fn unit(self) -> &'static str {
        match self.0 {
            Units::Millimetres => "mm",
            Units::Inches => "in",
        }
    }
}

/// The rooms of a piece that are open, in the order in which a piece comes to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Room {
    Intake,
    Donors,
    Capture,
    Homes,
    Drawer,
    Board,
    Build,
    Sheets,
    Costing,
}

impl Room {
    pub(crate) const ALL: [Self; 9] = [
        Self::Intake,
        Self::Donors,
        Self::Capture,
        Self::Homes,
        Self::Drawer,
        Self::Board,
        Self::Build,
        Self::Sheets,
        Self::Costing,
    ];

    /// Its word in addresses.
    pub(crate) fn slug(self) -> &'static str {
        match self {
            Self::Intake => "intake",
            Self::Donors => "donors",
            Self::Capture => "capture",
            Self::Homes => "homes",
            Self::Drawer => "drawer",
            Self::Board => "board",
            Self::Build => "build",
            Self::Sheets => "sheets",
            Self::Costing => "costing",
        }
    }

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Intake => "Intake",
            Self::Donors => "Donors",
            Self::Capture => "Capture",
            Self::Homes => "Homes",
            Self::Drawer => "Drawer",
            Self::Board => "Board",
            Self::Build => "Build",
            Self::Sheets => "Sheets",
            Self::Costing => "Costing",
        }
    }

    pub(crate) fn icon(self) -> Markup {
        match self {
            Self::Intake => icons::intake(),
            Self::Donors => icons::donors(),
            Self::Capture => icons::capture(),
            Self::Homes => icons::homes(),
            Self::Drawer => icons::drawer(),
            Self::Board => icons::board(),
            Self::Build => icons::build(),
            Self::Sheets => icons::sheets(),
            Self::Costing => icons::costing(),
        }
    }

    /// Its style sheet.
    fn style(self) -> &'static str {
        match self {
            Self::Intake | Self::Donors | Self::Costing => "ledger.css",
            Self::Capture => "capture.css",
            Self::Homes => "homes.css",
            Self::Drawer => "drawer.css",
            Self::Board => "board.css",
            Self::Build => "build.css",
            Self::Sheets => "sheets.css",
        }
    }

    pub(crate) fn href(self, piece: PieceId) -> String {
        format!("/piece/{piece}/{}", self.slug())
    }
}

/// A number with its name, large.
pub(super) fn fact(what: &str, value: &str) -> Markup {
    html! { div class="fact" { span class="soft" { (what) } strong { (value) } } }
}

/// A variant's word, as documents write it.
pub(super) fn word(of: &impl serde::Serialize) -> String {
    serde_json::to_value(of)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

/// What a room shows besides what all rooms have.
pub(super) struct Shown {
    /// The page's title.
    pub(super) title: String,
    /// Modules besides the ones that every page has.
    pub(super) scripts: &'static [&'static str],
    pub(super) body: Markup,
}

/// Answers with a page that belongs to no piece: a script and a style sheet of its own, and what `show` makes of the store.
pub(super) async fn open_beside(
    bench: Arc<Bench>,
    title: &'static str,
    scripts: &'static [&'static str],
    styles: &'static [&'static str],
    show: impl FnOnce(&Bench) -> Result<Markup, Refusal> + Send + 'static,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let settings = bench.workshop.settings()?;
            let page = Page {
                title,
                settings: &settings,
                on_bench: None,
                room: None,
                scripts,
                styles,
                findings: None,
                body: show(bench)?,
            };
            Ok(html_page(page.render()))
        })
        .await
}

/// What mounting builds with.
fn catalogue() -> Result<Catalogue, Refusal> {
    Catalogue::built_in().map_err(|e| Refusal::inside(e.to_string()))
}

/// Answers with a room of a piece: its rail, its docket, and what `show` makes of the piece.
pub(super) async fn open(
    bench: Arc<Bench>,
    id: PieceId,
    room: Room,
    show: impl FnOnce(&Bench, &OnBench, &Settings) -> Result<Shown, Refusal> + Send + 'static,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let settings = bench.workshop.settings()?;
            let findings = scene::findings(&on.piece);
            let shown = show(bench, &on, &settings)?;
            let page = Page {
                title: &shown.title,
                settings: &settings,
                on_bench: Some(&on),
                room: Some(room),
                scripts: shown.scripts,
                styles: &[room.style()],
                findings: Some(&findings),
                body: shown.body,
            };
            Ok(html_page(page.render()))
        })
        .await
}
