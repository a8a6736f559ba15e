//! Two edits of the same piece put together, where they touch different things.

use piece::Piece;
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// Two sides put together.
#[derive(Debug, Clone, PartialEq)]
pub enum Merge {
    /// They touched different things; this has both.
    Clean(Box<Piece>),
    /// They touched the same things, here.
    Conflicts(Vec<Conflict>),
}

/// A thing that both sides changed, each in its own way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conflict {
    /// Where in the document, such as `parts[p3].thickness_mm`.
    pub path: String,
    /// What both began with; `None` where it was not there.
    pub base: Option<Value>,
    /// What the side that saves now makes of it; `None` where it takes it away.
    pub yours: Option<Value>,
    /// What the side that saved first made of it.
    pub theirs: Option<Value>,
}

/// Whose change counts where both changed the same thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Prefer {
    /// That of the side that saves now.
    Yours,
    /// That of the side that saved first.
    Theirs,
}

/// Puts two edits of `base` together. What is one thing: a field of the piece, of its frame, its layout, the shop's records or a
/// part; a placement; a caption; an outline. The order of parts is one thing too.
pub fn merge(base: &Piece, yours: &Piece, theirs: &Piece) -> Merge {
    let mut conflicts = Vec::new();
    match put_together(base, yours, theirs, None, &mut conflicts) {
        Some(piece) if conflicts.is_empty() => Merge::Clean(Box::new(piece)),
        _ => Merge::Conflicts(conflicts),
    }
}

/// Puts two edits of `base` together; where both changed the same thing, one side counts.
///
/// `None` where even so no sound piece comes of it, such as a part that one side took away and the other placed: then one
/// side as a whole is all that can be offered.
pub fn merge_preferring(
    base: &Piece,
    yours: &Piece,
    theirs: &Piece,
    prefer: Prefer,
) -> Option<Piece> {
    put_together(base, yours, theirs, Some(prefer), &mut Vec::new())
}

fn put_together(
    base: &Piece,
    yours: &Piece,
    theirs: &Piece,
    prefer: Option<Prefer>,
    conflicts: &mut Vec<Conflict>,
) -> Option<Piece> {
    let value = |p: &Piece| serde_json::to_value(p).ok();
    let (b, y, t) = (value(base)?, value(yours)?, value(theirs)?);
    let mut merging = Merging { prefer, conflicts };
    let merged = merging.any("", Depth::Document, Some(&b), Some(&y), Some(&t))?;
    let text = serde_json::to_vec(&merged).ok()?;
    match Piece::from_json(&text) {
        Ok(piece) => Some(piece),
        Err(e) => {
            // Each side is sound, together they are not: one took away what the other builds on.
            if conflicts.is_empty() {
                conflicts.push(Conflict {
                    path: e.to_string(),
                    base: None,
                    yours: None,
                    theirs: None,
                });
            }
            None
        }
    }
}

/// How far a value is taken apart.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Depth {
    /// The document: its fields are merged each by its own rule.
    Document,
    /// A list of things with ids, whose fields are merged one by one.
    Parts,
    /// A list of things with ids, each merged as a whole.
    Things,
    /// An object whose fields are merged one by one, each as a whole.
    Fields,
    /// One thing.
    Whole,
}

impl Depth {
    fn below(self, field: &str) -> Self {
        match (self, field) {
            (Self::Document, "parts") => Self::Parts,
            (Self::Document, "placements" | "captions") => Self::Things,
            (Self::Document, "frame" | "layout" | "device" | "shop") => Self::Fields,
            _ => Self::Whole,
        }
    }
}

struct Merging<'a> {
    prefer: Option<Prefer>,
    conflicts: &'a mut Vec<Conflict>,
}

impl Merging<'_> {
    fn any(
        &mut self,
        path: &str,
        depth: Depth,
        base: Option<&Value>,
        yours: Option<&Value>,
        theirs: Option<&Value>,
    ) -> Option<Value> {
        if yours == theirs || theirs == base {
            return yours.cloned();
        }
        if yours == base {
            return theirs.cloned();
        }
        match (depth, yours, theirs) {
            (Depth::Document | Depth::Fields, Some(Value::Object(y)), Some(Value::Object(t))) => {
                let nothing = Map::new();
                let b = base.and_then(Value::as_object).unwrap_or(&nothing);
                Some(Value::Object(self.fields(path, depth, b, y, t)))
            }
            (Depth::Parts | Depth::Things, Some(Value::Array(y)), Some(Value::Array(t))) => {
                let nothing = Vec::new();
                let b = base.and_then(Value::as_array).unwrap_or(&nothing);
                match (Keyed::of(b), Keyed::of(y), Keyed::of(t)) {
                    (Some(b), Some(y), Some(t)) => Some(self.list(path, depth, &b, &y, &t)),
                    _ => self.conflict(path, base, yours, theirs),
                }
            }
            _ => self.conflict(path, base, yours, theirs),
        }
    }

    fn conflict(
        &mut self,
        path: &str,
        base: Option<&Value>,
        yours: Option<&Value>,
        theirs: Option<&Value>,
    ) -> Option<Value> {
        self.conflicts.push(Conflict {
            path: path.into(),
            base: base.cloned(),
            yours: yours.cloned(),
            theirs: theirs.cloned(),
        });
        match self.prefer {
            Some(Prefer::Theirs) => theirs.cloned(),
            _ => yours.cloned(),
        }
    }

    fn fields(
        &mut self,
        path: &str,
        depth: Depth,
        base: &Map<String, Value>,
        yours: &Map<String, Value>,
        theirs: &Map<String, Value>,
    ) -> Map<String, Value> {
        let names: BTreeSet<&String> = yours.keys().chain(theirs.keys()).collect();
        let mut merged = Map::new();
        for name in names {
            let path = if path.is_empty() {
                name.clone()
            } else {
                format!("{path}.{name}")
            };
            let below = depth.below(name);
            let value = self.any(
                &path,
                below,
                base.get(name),
                yours.get(name),
                theirs.get(name),
            );
            if let Some(value) = value {
                merged.insert(name.clone(), value);
            }
        }
        merged
    }

    fn list(
        &mut self,
        path: &str,
        depth: Depth,
        base: &Keyed<'_>,
        yours: &Keyed<'_>,
        theirs: &Keyed<'_>,
    ) -> Value {
        let inner = match depth {
            Depth::Parts => Depth::Fields,
            _ => Depth::Whole,
        };
        let mut merged = Vec::new();
        for key in self.order(path, base, yours, theirs) {
            let path = format!("{path}[{key}]");
            let value = self.any(&path, inner, base.get(key), yours.get(key), theirs.get(key));
            merged.extend(value);
        }
        Value::Array(merged)
    }

    /// The order of what both lists hold. Where only one side changed the order, that side's counts; what the other side
    /// added comes after what it follows there.
    fn order<'k>(
        &mut self,
        path: &str,
        base: &Keyed<'k>,
        yours: &Keyed<'k>,
        theirs: &Keyed<'k>,
    ) -> Vec<&'k str> {
        let shared = |of: &Keyed<'k>| -> Vec<&'k str> {
            let everywhere = |k: &&str| {
                base.get(k).is_some() && yours.get(k).is_some() && theirs.get(k).is_some()
            };
            of.keys().filter(everywhere).collect()
        };
        let (b, y, t) = (shared(base), shared(yours), shared(theirs));
        let (first, second) = if y == b {
            (theirs, yours)
        } else {
            if t != b && t != y {
                let listed = |keys: &[&str]| Some(Value::from(keys.to_vec()));
                self.conflict(
                    &format!("{path} (order)"),
                    listed(&b).as_ref(),
                    listed(&y).as_ref(),
                    listed(&t).as_ref(),
                );
            }
            match self.prefer {
                Some(Prefer::Theirs) if t != b => (theirs, yours),
                _ => (yours, theirs),
            }
        };
        let mut order: Vec<&str> = first.keys().collect();
        let mut before: Option<&str> = None;
        for key in second.keys() {
            if !order.contains(&key) {
                let at = before
                    .and_then(|k| order.iter().position(|o| *o == k))
                    .map_or(0, |i| i + 1);
                order.insert(at, key);
            }
            before = Some(key);
        }
        order
    }
}

/// A list whose entries name themselves, each once.
struct Keyed<'a>(Vec<(&'a str, &'a Value)>);

impl<'a> Keyed<'a> {
    fn of(list: &'a [Value]) -> Option<Self> {
        let key = |v: &'a Value| v.get("id").or_else(|| v.get("part"))?.as_str();
        let entries: Vec<_> = list
            .iter()
            .map(|v| Some((key(v)?, v)))
            .collect::<Option<_>>()?;
        let distinct: BTreeSet<&str> = entries.iter().map(|(k, _)| *k).collect();
        (distinct.len() == entries.len()).then_some(Self(entries))
    }

    fn get(&self, key: &str) -> Option<&'a Value> {
        self.0.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
    }

    fn keys(&self) -> impl Iterator<Item = &'a str> + '_ {
        self.0.iter().map(|(k, _)| *k)
    }
}
