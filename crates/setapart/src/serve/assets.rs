//! The files that pages bring along: all in the binary, each at an address that changes with their content.

use super::refusal::Refusal;
use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use lettering::{Face, web_font_bytes};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::LazyLock;

const JS: &str = "text/javascript; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SVG: &str = "image/svg+xml";
const WOFF2: &str = "font/woff2";

macro_rules! assets {
    ($($name:literal: $kind:expr),* $(,)?) => {
        [$(($name, $kind, include_bytes!(concat!("assets/", $name)) as &[u8])),*]
    };
}

const ASSETS: &[(&str, &str, &[u8])] = &assets![
    "tokens.css": CSS,
    "bench.css": CSS,
    "board.css": CSS,
    "build.css": CSS,
    "capture.css": CSS,
    "drawer.css": CSS,
    "homes.css": CSS,
    "ledger.css": CSS,
    "phone.css": CSS,
    "sheets.css": CSS,
    "bench.js": JS,
    "build.js": JS,
    "capture.js": JS,
    "drawer.js": JS,
    "homes.js": JS,
    "ledger.js": JS,
    "phone.js": JS,
    "sheets.js": JS,
    "page.js": JS,
    "send.js": JS,
    "docket.js": JS,
    "drafts.js": JS,
    "history.js": JS,
    "jobs.js": JS,
    "lengths.js": JS,
    "geometry.js": JS,
    "board.js": JS,
    "board-about.js": JS,
    "board-frames.js": JS,
    "board-label.js": JS,
    "board-view.js": JS,
    "saver.js": JS,
    "shelf.js": JS,
    "shelf.css": CSS,
    "mark.svg": SVG,
];

/// The fonts, which guides bring along too.
const FONTS: &[(&str, &str, &[u8])] = &[
    (
        "setapart-text-regular.woff2",
        WOFF2,
        web_font_bytes(Face::Regular),
    ),
    (
        "setapart-text-semibold.woff2",
        WOFF2,
        web_font_bytes(Face::SemiBold),
    ),
];

/// Changes with any of the files: browsers may keep what they got for good.
static VERSION: LazyLock<String> = LazyLock::new(|| {
    let mut hasher = DefaultHasher::new();
    (ASSETS, FONTS).hash(&mut hasher);
    format!("{:016x}", hasher.finish())
});

/// Where a file is.
pub(crate) fn href(name: &str) -> String {
    format!("/assets/{}/{name}", *VERSION)
}

/// `GET /assets/{version}/{name}`.
pub(crate) async fn get(Path((version, name)): Path<(String, String)>) -> Response {
    match ASSETS
        .iter()
        .chain(FONTS)
        .find(|(known, ..)| *known == name)
    {
        Some((_, kind, bytes)) => {
            let keep = if version == *VERSION {
                "public, max-age=31536000, immutable"
            } else {
                "no-store"
            };
            let headers = [(header::CONTENT_TYPE, *kind), (header::CACHE_CONTROL, keep)];
            (headers, *bytes).into_response()
        }
        None => Refusal::not_there("such file").into_response(),
    }
}
