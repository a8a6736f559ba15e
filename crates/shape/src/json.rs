//! JSON documents from outside.

use serde::de::DeserializeOwned;

/// The first field of a document that is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{path}: {problem}")]
pub struct BadField {
    /// Where it is: `frame.outer_mm[1]`, or `.` for the document itself.
    pub path: String,
    /// What is wrong with it.
    pub problem: String,
}

/// Reads one JSON value; nothing may follow it. How long the text may be is for the caller to say.
///
/// # Errors
/// [`BadField`], the first.
pub fn from_json<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, BadField> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|e| BadField {
        path: e.path().to_string(),
        problem: e.inner().to_string(),
    })?;
    reader.end().map_err(|e| BadField {
        path: ".".into(),
        problem: format!("more follows after the document: {e}"),
    })?;
    Ok(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        type Rows = BTreeMap<String, Vec<f64>>;
        let path = |text: &str| from_json::<Rows>(text.as_bytes()).map_err(|e| e.path);
        assert_eq!(path(r#"{"a": [1, 2]}"#).map(|r| r["a"].len()), Ok(2));
        assert_eq!(path(r#"{"a": [1, true]}"#), Err("a[1]".into()));
        assert_eq!(path(r#"{"a": []} {}"#), Err(".".into()));
        assert!(path("").is_err() && path("[]").is_err());
    }
}
