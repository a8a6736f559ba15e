//! Why a request was not done, told in place and with what to do.

use super::page;
use crate::say::{sentence, told_apart};
use axum::Json;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;

/// A request that was not done: status, what is wrong, what to do about it, and the field it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Refusal {
    pub(crate) status: StatusCode,
    pub(crate) problem: String,
    pub(crate) remedy: String,
    /// The field that is to blame, by its name in the request.
    pub(crate) field: Option<String>,
}

impl Refusal {
    pub(crate) fn new(
        status: StatusCode,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            status,
            problem: problem.into(),
            remedy: remedy.into(),
            field: None,
        }
    }

    /// Something that was asked for is not there.
    pub(crate) fn not_there(what: impl std::fmt::Display) -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            format!("There is no {what}."),
            "Go back to the shelf and choose again; it may have been removed.",
        )
    }

    /// What was sent cannot be taken as it is.
    pub(crate) fn bad(problem: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, problem, remedy)
    }

    /// A text of the form "what is wrong; what to do"; `otherwise`: what to do where it does not say.
    pub(crate) fn told(text: impl std::fmt::Display, otherwise: &str) -> Self {
        let text = text.to_string();
        let (problem, remedy) = told_apart(&text);
        Self::bad(
            sentence(problem),
            remedy.map_or_else(|| otherwise.to_owned(), sentence),
        )
    }

    /// The same about one field.
    pub(crate) fn of_field(mut self, field: impl Into<String>) -> Self {
        self.field = Some(field.into());
        self
    }

    /// Something inside went wrong: nothing that the user did.
    pub(crate) fn inside(problem: impl std::fmt::Display) -> Self {
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            format!("Something went wrong inside: {problem}."),
            "Nothing that was saved is lost. Try again; if it comes back, please report it.",
        )
    }

    /// As a page for people, in the app's own form.
    pub(crate) fn page(&self) -> Response {
        let title = match self.status {
            StatusCode::NOT_FOUND => "Not here",
            _ => "That did not work",
        };
        let markup = page::plain(title, &self.problem, &self.remedy);
        (
            self.status,
            [(header::CONTENT_TYPE, "text/html; charset=utf-8")],
            markup.into_string(),
        )
            .into_response()
    }
}

/// Whether whoever asks wants a page rather than data.
pub(crate) fn wants_page(headers: &HeaderMap) -> bool {
    headers
        .get(header::ACCEPT)
        .and_then(|v| v.to_str().ok())
        .is_some_and(|v| v.contains("text/html"))
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let body = Json(json!({
            "problem": self.problem,
            "remedy": self.remedy,
            "field": self.field,
        }));
        let mut response = (self.status, body).into_response();
        response.extensions_mut().insert(self);
        response
    }
}
