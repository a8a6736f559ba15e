//! What a request says: the piece or photo in its address, and what it sends along.

use super::bench::Bench;
use super::body;
use super::refusal::Refusal;
use axum::extract::{FromRequest, FromRequestParts, Path, Request};
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::str::FromStr;
use std::sync::Arc;
use workshop::{PhotoId, PieceId};

/// What stands in an address by its number.
pub(crate) trait InAddress: FromStr {
    /// What people call it.
    const WHAT: &'static str;
}

impl InAddress for PieceId {
    const WHAT: &'static str = "piece";
}

impl InAddress for PhotoId {
    const WHAT: &'static str = "photo";
}

/// A number as an address has it.
///
/// # Errors
/// A [`Refusal`]: where it is none, nothing is there.
pub(crate) fn id_of<Id: InAddress>(text: &str) -> Result<Id, Refusal> {
    text.parse()
        .map_err(|_| Refusal::not_there(format!("{} {text:?}", Id::WHAT)))
}

/// The piece or photo whose number is the `{id}` of the address.
pub(crate) struct Of<Id>(pub(crate) Id);

#[derive(Deserialize)]
struct Address {
    id: String,
}

impl<Id: InAddress> FromRequestParts<Arc<Bench>> for Of<Id> {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, bench: &Arc<Bench>) -> Result<Self, Response> {
        let Path(Address { id }) = Path::from_request_parts(parts, bench)
            .await
            .map_err(IntoResponse::into_response)?;
        id_of(&id).map(Self).map_err(IntoResponse::into_response)
    }
}

/// What the page sends, as JSON.
pub(crate) struct Heard<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest<Arc<Bench>> for Heard<T> {
    type Rejection = Refusal;

    async fn from_request(request: Request, bench: &Arc<Bench>) -> Result<Self, Refusal> {
        let (parts, body) = request.into_parts();
        body::receive_json(&parts.headers, body, &bench.room)
            .await
            .map(Self)
    }
}
