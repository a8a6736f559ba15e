//! A phone in the same network: one page that takes photos for one piece, behind a code that is good once and not for
//! long. It has a router and a socket of its own; nothing else of the app can be reached through them.

use super::bench::Bench;
use super::body;
use super::capture_calls::{MOST_PHOTO_BYTES, Named, take_in};
use super::guard::{self, Names};
use super::heard::Of;
use super::jobs::locked;
use super::refusal::Refusal;
use super::{assets, html_page, page};
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use qrcode::{EcLevel, QrCode};
use serde_json::{Value, json};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use workshop::PieceId;

/// How long a code may be opened, and how long the phone that opened it may send.
const GOOD_FOR: Duration = Duration::from_secs(15 * 60);

/// Photos that one code takes.
const MOST_PHOTOS: u32 = 60;

/// Codes at once; a further one ends the oldest.
const MOST_CODES: usize = 8;

/// The cookie by which a phone that opened a code is known.
const COOKIE: &str = "setapart-phone";

/// One code and the phone that opened it.
struct Code {
    token: String,
    piece: PieceId,
    made: Instant,
    /// What the phone that opened it says; nobody else can open it then.
    session: Option<String>,
    photos: u32,
}

/// Codes that are out, where phones are let in at all.
#[derive(Default)]
pub(crate) struct Phones {
    address: Mutex<Option<SocketAddr>>,
    codes: Mutex<Vec<Code>>,
}

impl Phones {
    /// Phones reach the app at this address.
    pub(crate) fn open_at(&self, address: SocketAddr) {
        *locked(&self.address) = Some(address);
    }

    /// Whether phones are let in.
    pub(crate) fn is_open(&self) -> bool {
        locked(&self.address).is_some()
    }

    fn new_code(&self, piece: PieceId) -> Result<String, Refusal> {
        let Some(address) = *locked(&self.address) else {
            return Err(Refusal::bad(
                "Phones are not let in.",
                "End the app and start it as `setapart serve --lan`.",
            ));
        };
        let token = secret()?;
        let mut codes = locked(&self.codes);
        codes.retain(|c| c.made.elapsed() < GOOD_FOR);
        if codes.len() >= MOST_CODES {
            codes.remove(0);
        }
        codes.push(Code {
            token: token.clone(),
            piece,
            made: Instant::now(),
            session: None,
            photos: 0,
        });
        Ok(format!("http://{address}/p/{token}"))
    }

    /// Opens a code, once.
    fn enter(&self, token: &str) -> Result<String, Refusal> {
        let mut codes = locked(&self.codes);
        codes.retain(|c| c.made.elapsed() < GOOD_FOR);
        let code = codes.iter_mut().find(|c| same(&c.token, token));
        match code {
            Some(code) if code.session.is_none() => {
                let session = secret()?;
                code.session = Some(session.clone());
                code.made = Instant::now();
                Ok(session)
            }
            _ => Err(gone()),
        }
    }

    /// The piece that a phone sends to; with `send`, one photo more is counted.
    fn piece_of(&self, headers: &HeaderMap, send: bool) -> Result<PieceId, Refusal> {
        let session = cookie(headers).ok_or_else(gone)?;
        let mut codes = locked(&self.codes);
        codes.retain(|c| c.made.elapsed() < GOOD_FOR);
        let code = codes
            .iter_mut()
            .find(|c| c.session.as_deref().is_some_and(|s| same(s, session)))
            .ok_or_else(gone)?;
        if send {
            if code.photos >= MOST_PHOTOS {
                return Err(Refusal::new(
                    StatusCode::TOO_MANY_REQUESTS,
                    format!("This code took {MOST_PHOTOS} photos, which is all it takes."),
                    "Show a new code on the bench and open that.",
                ));
            }
            code.photos += 1;
        }
        Ok(code.piece)
    }
}

fn gone() -> Refusal {
    Refusal::new(
        StatusCode::FORBIDDEN,
        "This code was used already, or its time is over.",
        "Show a new code on the bench (Capture, “Photograph with a phone”) and open that.",
    )
}

/// 128 bits that nobody can guess, as hexadecimal digits.
fn secret() -> Result<String, Refusal> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(Refusal::inside)?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Whether two secrets are the same, in a time that does not tell how far they agree.
fn same(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    a.len() == b.len() && a.iter().zip(b).fold(0, |all, (x, y)| all | (x ^ y)) == 0
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    let all = headers.get(header::COOKIE)?.to_str().ok()?;
    all.split(';').find_map(|c| {
        let (name, value) = c.trim().split_once('=')?;
        (name == COOKIE).then_some(value)
    })
}

/// `POST /piece/{id}/phone`, from the bench: a new code.
pub(crate) async fn new_code(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            bench.workshop.piece(id)?;
            let url = bench.phones.new_code(id)?;
            let code = QrCode::with_error_correction_level(url.as_bytes(), EcLevel::M)
                .map_err(Refusal::inside)?;
            let width = code.width();
            let modules: Vec<String> = code
                .to_colors()
                .chunks(width)
                .map(|row| row.iter().map(|c| c.select('#', '.')).collect())
                .collect();
            let minutes = GOOD_FOR.as_secs() / 60;
            Ok(Json(
                json!({ "url": url, "modules": modules, "minutes": minutes }),
            ))
        })
        .await
}

/// The phone's rooms, behind the same guard at their own address.
pub(crate) fn phone_app(bench: Arc<Bench>, address: SocketAddr) -> Router {
    Router::new()
        .route("/p/{token}", get(enter))
        .route("/phone", get(phone_page))
        .route("/phone/photos", post(photo))
        .route("/assets/{version}/{name}", get(assets::get))
        .fallback(async || Refusal::not_there("such page").page())
        .layer(axum::middleware::from_fn(super::as_page))
        .layer(from_fn_with_state(Names::of_address(address), guard::check))
        .with_state(bench)
}

async fn enter(
    State(bench): State<Arc<Bench>>,
    Path(token): Path<String>,
) -> Result<Response, Refusal> {
    let session = bench.phones.enter(&token)?;
    let cookie = format!("{COOKIE}={session}; HttpOnly; SameSite=Strict; Path=/phone");
    // A page of our own leads on: a redirect would still count as coming from wherever the code was read.
    let mut response = html_page(page::phone_door());
    if let Ok(value) = cookie.parse() {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    Ok(response)
}

async fn phone_page(
    State(bench): State<Arc<Bench>>,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let id = bench.phones.piece_of(&headers, false)?;
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            Ok(html_page(page::phone(&on.piece.name)).into_response())
        })
        .await
}

async fn photo(
    State(bench): State<Arc<Bench>>,
    Query(named): Query<Named>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let piece = bench.phones.piece_of(&headers, true)?;
    let received = body::receive(&headers, body, MOST_PHOTO_BYTES, &bench.room).await?;
    let at = Arc::clone(&bench);
    bench
        .work(move |bench| {
            let _for_the_bench = take_in(bench, at, piece, named.name(), &received.bytes)?;
            // A phone hears that its photo is there, and nothing else of the workshop.
            Ok(Json(json!({ "taken": true })))
        })
        .await
}

/// This machine's address in the local network: the one from which the system would send outwards. Nothing is sent.
pub(crate) fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // A documentation address (RFC 5737): connecting a datagram socket only chooses a route.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_loopback() && !ip.is_unspecified()).then_some(ip)
}
