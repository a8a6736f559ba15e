//! What people send, read under limits: so many bytes in one request, so many in all requests at once, and not slower
//! than a bad line.

use super::refusal::Refusal;
use axum::body::Body;
use axum::http::{HeaderMap, StatusCode, header};
use http_body_util::BodyExt;
use serde::de::DeserializeOwned;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Bytes of all requests that are being read or worked on at once.
pub(crate) const MOST_BYTES_AT_ONCE: u64 = 256 << 20;

/// Largest request that is no upload, bytes.
pub(crate) const MOST_WORDS: u64 = 1 << 20;

/// Silence within a request that ends it.
const PATIENCE: Duration = Duration::from_secs(15);

/// After this time, a request must have come at the least rate.
const GRACE: Duration = Duration::from_secs(30);

/// How long a refused sender is listened to.
const FAREWELL: Duration = Duration::from_secs(3);

/// Least rate, bytes a second: a 5 MB photo over it takes five minutes.
const LEAST_RATE: u64 = 16 << 10;

/// The room that all requests share.
#[derive(Debug, Default)]
pub(crate) struct Room {
    taken: AtomicU64,
}

impl Room {
    fn take(&self, bytes: u64) -> bool {
        let free = |taken: u64| (taken + bytes <= MOST_BYTES_AT_ONCE).then_some(taken + bytes);
        self.taken
            .fetch_update(Ordering::AcqRel, Ordering::Acquire, free)
            .is_ok()
    }
}

/// Bytes that were received. While it lives, they count in the room.
pub(crate) struct Received {
    pub(crate) bytes: Vec<u8>,
    room: Arc<Room>,
    counted: u64,
}

impl Drop for Received {
    fn drop(&mut self) {
        self.room.taken.fetch_sub(self.counted, Ordering::AcqRel);
    }
}

/// Reads a request's body.
///
/// # Errors
/// A [`Refusal`]: too large (before a byte is read, where it states its length), too slow, broken off, or no room.
pub(crate) async fn receive(
    headers: &HeaderMap,
    mut body: Body,
    limit: u64,
    room: &Arc<Room>,
) -> Result<Received, Refusal> {
    let received = read(headers, &mut body, limit, room).await;
    if received.is_err() {
        // Whoever is still sending hears why only if we go on listening for a moment.
        tokio::spawn(tokio::time::timeout(FAREWELL, pour_away(body)));
    }
    received
}

/// Takes what still comes, and keeps none of it.
async fn pour_away(mut body: Body) {
    while let Some(Ok(_)) = body.frame().await {}
}

async fn read(
    headers: &HeaderMap,
    body: &mut Body,
    limit: u64,
    room: &Arc<Room>,
) -> Result<Received, Refusal> {
    let stated = headers
        .get(header::CONTENT_LENGTH)
        .and_then(|v| v.to_str().ok())
        .and_then(|v| v.parse::<u64>().ok());
    if stated.is_some_and(|n| n > limit) {
        return Err(too_large(limit));
    }
    let mut received = Received {
        bytes: Vec::new(),
        room: Arc::clone(room),
        counted: 0,
    };
    let start = Instant::now();
    loop {
        let frame = match tokio::time::timeout(PATIENCE, body.frame()).await {
            Err(_) => return Err(too_slow()),
            Ok(None) => break,
            Ok(Some(Err(_))) => {
                return Err(Refusal::new(
                    StatusCode::BAD_REQUEST,
                    "The upload broke off before its end.",
                    "Send it again.",
                ));
            }
            Ok(Some(Ok(frame))) => frame,
        };
        let Ok(data) = frame.into_data() else {
            continue;
        };
        let more = data.len() as u64;
        if received.bytes.len() as u64 + more > limit {
            return Err(too_large(limit));
        }
        if !room.take(more) {
            return Err(Refusal::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "Too much is being sent at once.",
                "Wait a moment and send it again.",
            ));
        }
        received.counted += more;
        received.bytes.extend_from_slice(&data);
        let since = start.elapsed();
        if since > GRACE && (received.bytes.len() as u64) < since.as_secs() * LEAST_RATE {
            return Err(too_slow());
        }
    }
    if stated.is_some_and(|n| n != received.bytes.len() as u64) {
        return Err(Refusal::new(
            StatusCode::BAD_REQUEST,
            "Less came than was said.",
            "Send it again.",
        ));
    }
    Ok(received)
}

/// Reads a body of JSON words.
pub(crate) async fn receive_json<T: DeserializeOwned>(
    headers: &HeaderMap,
    body: Body,
    room: &Arc<Room>,
) -> Result<T, Refusal> {
    let is_json = headers
        .get(header::CONTENT_TYPE)
        .and_then(|v| v.to_str().ok())
        .is_some_and(|v| v.split(';').next().unwrap_or_default().trim() == "application/json");
    if !is_json {
        return Err(Refusal::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "Only JSON is taken here.",
            "Send it with the content type application/json.",
        ));
    }
    let received = receive(headers, body, MOST_WORDS, room).await?;
    shape::from_json(&received.bytes).map_err(|e| {
        Refusal::bad(format!("{e}."), "Correct this field and send it again.").of_field(e.path)
    })
}

fn too_large(limit: u64) -> Refusal {
    let said = match limit {
        n if n >= 1 << 20 => format!("{} MB", n >> 20),
        n => format!("{} KB", n >> 10),
    };
    Refusal::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        format!("This is larger than {said}, the limit here."),
        "Send a smaller one.",
    )
}

fn too_slow() -> Refusal {
    Refusal::new(
        StatusCode::REQUEST_TIMEOUT,
        "The upload came too slowly and was given up.",
        "Move nearer to the router, or send it by cable, and try again.",
    )
}
