//! The page round every room: rail, route, docket, and what a browser needs to show them.

use super::assets::href;
use super::bench::OnBench;
use super::icons;
use super::rooms::Room;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use piece::{Finding, Level, Piece};
use workshop::{PieceId, Settings, Theme, Units};

/// A page of the app.
pub(crate) struct Page<'a> {
    pub(crate) title: &'a str,
    pub(crate) settings: &'a Settings,
    /// The piece that it is about.
    pub(crate) on_bench: Option<&'a OnBench>,
    pub(crate) room: Option<Room>,
    /// Modules besides the ones that every page has.
    pub(crate) scripts: &'a [&'a str],
    pub(crate) styles: &'a [&'a str],
    pub(crate) findings: Option<&'a [Finding]>,
    pub(crate) body: Markup,
}

impl Page<'_> {
    pub(crate) fn render(&self) -> Markup {
        let theme = match self.settings.theme {
            Theme::System => "system",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        html! {
            (DOCTYPE)
            html lang="en" data-theme=(theme) data-units=(units_word(self.settings.units)) {
                (head(self.title, self.styles, self.scripts))
                body class=[self.room.map(Room::slug)]
                    data-piece=[self.on_bench.map(|p| p.id)]
                    data-revision=[self.on_bench.map(|p| p.state.revision)] {
                    a class="skip" href="#room" { "To the room" }
                    (self.rail(theme))
                    div class={ "floor" @if self.findings.is_some() { " with-docket" } } {
                        main id="room" tabindex="-1" { (self.body) }
                        @if let (Some(findings), Some(on)) = (self.findings, self.on_bench) {
                            aside class="docket" aria-label="Docket" {
                                (docket(on.id, &on.piece, findings))
                            }
                        }
                    }
                    div id="trouble" role="alert" hidden {}
                    div id="news" class="quiet" role="status" aria-live="polite" {}
                }
            }
        }
    }

    fn rail(&self, theme: &str) -> Markup {
        html! {
            header class="rail" {
                a class="mark" href="/" title="All pieces" {
                    img src=(href("mark.svg")) alt="" width="28" height="28";
                    span { "Setapart" }
                }
                @if let Some(on) = self.on_bench {
                    span class="piece-name" title=(on.piece.name) { (on.piece.name) }
                    nav class="route" aria-label="Rooms of this piece" {
                        ol {
                            @for room in Room::ALL {
                                li {
                                    a href=(room.href(on.id))
                                        aria-current=[(self.room == Some(room)).then_some("page")] {
                                        (room.icon()) span { (room.name()) }
                                    }
                                }
                            }
                        }
                    }
                    div class="steps" {
                        (step_button("undo", icons::undo(), "Undo", on.state.undo.as_deref()))
                        (step_button("redo", icons::redo(), "Redo", on.state.redo.as_deref()))
                    }
                } @else {
                    span class="piece-name" {}
                }
                details class="settings" {
                    summary { (icons::settings()) span class="quiet" { "Light and units" } }
                    form id="settings" {
                        fieldset {
                            legend { "Light" }
                            @for (value, name) in [("system", "As the machine"), ("light", "Day"), ("dark", "Lamp")] {
                                label { input type="radio" name="theme" value=(value) checked[theme == value]; (name) }
                            }
                        }
                        fieldset {
                            legend { "Lengths in" }
                            @for (value, name) in [("millimetres", "Millimetres"), ("inches", "Inches")] {
                                label {
                                    input type="radio" name="units" value=(value)
                                        checked[units_word(self.settings.units) == value];
                                    (name)
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn step_button(id: &str, icon: Markup, word: &str, what: Option<&str>) -> Markup {
    let said = what.map_or_else(|| format!("{word}: nothing"), |w| format!("{word}: {w}"));
    html! {
        button type="button" id=(id) class="plain" title=(said) aria-label=(said) disabled[what.is_none()] { (icon) }
    }
}

/// The word for units in pages and requests.
pub(crate) fn units_word(units: Units) -> &'static str {
    match units {
        Units::Millimetres => "millimetres",
        Units::Inches => "inches",
    }
}

fn head(title: &str, styles: &[&str], scripts: &[&str]) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (title) " · Setapart" }
            link rel="icon" type="image/svg+xml" href=(href("mark.svg"));
            link rel="preload" as="font" type="font/woff2" crossorigin="anonymous"
                href=(href("setapart-text-regular.woff2"));
            @for style in ["tokens.css", "bench.css"].iter().chain(styles) {
                link rel="stylesheet" href=(href(style));
            }
            @for script in std::iter::once(&"bench.js").chain(scripts) {
                script type="module" src=(href(script)) {}
            }
        }
    }
}

/// A page with a message and nothing else: it needs neither store nor settings.
pub(crate) fn plain(title: &str, problem: &str, remedy: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme="system" {
            (head(title, &[], &[]))
            body {
                main id="room" class="plain-page" {
                    h1 { (title) }
                    p { (problem) }
                    p { (remedy) }
                    p { a class="button" href="/" { "To the shelf" } }
                }
            }
        }
    }
}

/// The page that a code opens: it leads on to the phone's page, by the phone's own doing.
pub(crate) fn phone_door() -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme="system" {
            (head("Phone", &["phone.css"], &[]))
            body class="phone" {
                main id="room" class="plain-page" {
                    h1 { "Photos for the bench" }
                    p { "This phone may now send photos." }
                    p { a class="button primary" id="go" href="/phone" { "Take photos" } }
                }
            }
        }
    }
}

/// The page on a phone: how to lay the parts, and one large button.
pub(crate) fn phone(piece: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme="system" {
            (head("Phone", &["phone.css"], &["phone.js"]))
            body class="phone" {
                main id="room" tabindex="-1" {
                    h1 { "Photos for " (piece) }
                    ol class="how" {
                        li { "Parts flat and apart, inside the sheet's corner marks." }
                        li { "From straight above, 30 to 40 cm up; all square tags in view." }
                        li { "Even light, no flash." }
                    }
                    label class="button primary shutter" for="shot" { (icons::capture()) "Take a photo" }
                    input id="shot" class="quiet" type="file" accept="image/*" capture="environment";
                    label class="button" for="chosen" { "Choose photos" }
                    input id="chosen" class="quiet" type="file" accept="image/*,.heic,.heif" multiple;
                    ul id="sent" aria-live="polite" aria-label="Photos sent" {}
                    div id="trouble" role="alert" hidden {}
                }
            }
        }
    }
}

/// The slip with what is to be seen to. Choosing an entry goes to its part.
pub(crate) fn docket(id: PieceId, piece: &Piece, findings: &[Finding]) -> Markup {
    let count = |level| findings.iter().filter(|f| f.level == level).count();
    html! {
        div class="slip" data-docket="" {
            h2 { (icons::docket()) "Docket" }
            @if findings.is_empty() {
                p class="clean" {
                    @if piece.parts.is_empty() { "Nothing to check yet: the piece has no parts." }
                    @else { "Nothing is wrong with it." }
                }
            } @else {
                p class="tally" {
                    @for level in [Level::Stop, Level::Fix, Level::Note] {
                        @let n = count(level);
                        @if n > 0 { span class=(level_word(level)) { (icons::level(level)) (n) " " (level_word(level)) } }
                    }
                }
                ol {
                    @for finding in findings {
                        li class=(level_word(finding.level)) { (entry(id, finding)) }
                    }
                }
            }
        }
    }
}

fn entry(id: PieceId, finding: &Finding) -> Markup {
    let words = html! {
        span class="level" { (icons::level(finding.level)) (level_word(finding.level)) }
        span class="what" { (finding.text) }
        span class="remedy" { (finding.remedy) }
    };
    match finding.parts.first() {
        Some(part) => html! {
            a href={ (Room::Board.href(id)) "?part=" (encoded(part.as_str())) }
                data-parts=(serde_json::to_string(&finding.parts).unwrap_or_default()) data-code=(finding.code) { (words) }
        },
        None => html! { div data-code=(finding.code) { (words) } },
    }
}

pub(crate) fn level_word(level: Level) -> &'static str {
    match level {
        Level::Stop => "stop",
        Level::Fix => "fix",
        Level::Note => "note",
    }
}

/// A text as part of an address (RFC 3986: unreserved characters stay).
pub(crate) fn encoded(text: &str) -> PreEscaped<String> {
    let mut out = String::new();
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                out.push(char::from(byte));
            }
            _ => out += &format!("%{byte:02X}"),
        }
    }
    PreEscaped(out)
}
