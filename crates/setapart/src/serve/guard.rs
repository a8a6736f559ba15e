//! What every request must be before a room sees it, and what every answer carries.
//!
//! A browser sends whatever page it shows to any address, ours too. What it cannot hide is where that page came from:
//! `Host` names the address that the page believes to speak to (a name that was re-bound to this machine is none of
//! ours), `Origin` and `Sec-Fetch-Site` name the page. Requests from other programs carry neither of the two, and may
//! read but not change anything.

use super::refusal::{Refusal, wants_page};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::SocketAddr;
use std::sync::Arc;

/// The names under which the app is reached.
#[derive(Debug, Clone)]
pub(crate) struct Names(Arc<[String]>);

impl Names {
    /// This machine's own names at a port.
    pub(crate) fn of_this_machine(port: u16) -> Self {
        let names = ["127.0.0.1", "localhost", "[::1]"];
        Self(names.map(|name| with_port(name, port)).into())
    }

    /// One address on the local network.
    pub(crate) fn of_address(address: SocketAddr) -> Self {
        let ip = match address {
            SocketAddr::V4(a) => a.ip().to_string(),
            SocketAddr::V6(a) => format!("[{}]", a.ip()),
        };
        Self([with_port(&ip, address.port())].into())
    }

    fn holds(&self, host: &str) -> bool {
        self.0.iter().any(|n| n.eq_ignore_ascii_case(host))
    }
}

/// Browsers leave the usual port out.
fn with_port(name: &str, port: u16) -> String {
    match port {
        80 => name.to_owned(),
        _ => format!("{name}:{port}"),
    }
}

/// Everything from ourselves, nothing from anywhere else, no inline script or style, never in a frame.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
     img-src 'self' blob:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
     frame-ancestors 'none'";

/// The middleware: refuses what must not come in, and marks what goes out.
pub(crate) async fn check(State(names): State<Names>, request: Request, next: Next) -> Response {
    let page = wants_page(request.headers());
    let mut response = match admit(&names, &request) {
        Ok(()) => next.run(request).await,
        Err(refusal) if page => refusal.page(),
        Err(refusal) => refusal.into_response(),
    };
    mark(response.headers_mut());
    response
}

fn admit(names: &Names, request: &Request) -> Result<(), Refusal> {
    let headers = request.headers();
    let host = only(headers, header::HOST.as_str())?.unwrap_or_default();
    let authority = request.uri().authority().map(|a| a.as_str());
    if !names.holds(host) || authority.is_some_and(|a| !names.holds(a)) {
        return Err(forbidden(
            "This request names an address that is not this app's.",
        ));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let origin = only(headers, header::ORIGIN.as_str())?;
    if let Some(origin) = origin {
        let ours = origin
            .strip_prefix("http://")
            .is_some_and(|o| o.eq_ignore_ascii_case(host));
        if !ours {
            return Err(forbidden("This request comes from another site's page."));
        }
    }
    let site = only(headers, "sec-fetch-site")?;
    let mode = only(headers, "sec-fetch-mode")?;
    match site {
        // Typed in or a bookmark; or one of our own pages.
        Some("none" | "same-origin") => {}
        // A link on another page may lead here, but nothing may be fetched or sent from there.
        Some(_) if reads && mode == Some("navigate") => {}
        Some(_) => return Err(forbidden("This request comes from another site's page.")),
        None if reads || origin.is_some() => {}
        None => {
            return Err(forbidden(
                "A request that changes something must say which page it comes from.",
            ));
        }
    }
    Ok(())
}

/// A header that may be there once.
fn only<'a>(headers: &'a HeaderMap, name: &str) -> Result<Option<&'a str>, Refusal> {
    let mut all = headers.get_all(name).iter();
    let first = all.next();
    if all.next().is_some() {
        return Err(forbidden("A header is there twice."));
    }
    match first.map(HeaderValue::to_str) {
        None => Ok(None),
        Some(Ok(text)) => Ok(Some(text)),
        Some(Err(_)) => Err(forbidden("A header cannot be read.")),
    }
}

fn forbidden(problem: &str) -> Refusal {
    Refusal::new(
        StatusCode::FORBIDDEN,
        problem,
        "Open the app at the address that it prints when it starts.",
    )
}

fn mark(headers: &mut HeaderMap) {
    let mut set = |name: &'static str, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set("content-security-policy", CONTENT_SECURITY_POLICY);
    set("x-content-type-options", "nosniff");
    set("x-frame-options", "DENY");
    set("referrer-policy", "no-referrer");
    set("cross-origin-opener-policy", "same-origin");
    set("cross-origin-resource-policy", "same-origin");
    set(
        "permissions-policy",
        "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    );
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
}
