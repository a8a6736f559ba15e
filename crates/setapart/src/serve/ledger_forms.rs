//! What the rooms of the ledger share: fields as they were typed, made numbers of one by one, and kept with the piece.

use super::bench::{Bench, OnBench};
use super::heard::Heard;
use super::refusal::Refusal;
use super::rooms::{Room, word};
use super::words::KINDS;
use axum::Json;
use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;
use ledger::{Chance, Currency, LedgerError, Minor, Money, Share};
use maud::{Markup, html};
use piece::{PartKind, Piece, ShopRecords};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use workshop::{Edit, PieceId, RevisionId};

/// Most fields of a form: lots with their lines.
const MOST_FIELDS: usize = 20_000;

/// Fields by name, as they were typed.
#[derive(Debug, Default, Deserialize)]
#[serde(transparent)]
pub(crate) struct Fields(BTreeMap<String, String>);

/// A form as a page sends it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Sent {
    /// The revision that the page shows.
    pub(crate) base: RevisionId,
    /// Changes of one gesture are undone as one.
    #[serde(default)]
    pub(crate) gesture: Option<String>,
    pub(crate) fields: Fields,
    /// The fields as the store had them when the page last heard of it. Pages of a piece need none: they have their revision.
    #[serde(default)]
    shown: Option<Fields>,
}

impl FromRequest<Arc<Bench>> for Sent {
    type Rejection = Refusal;

    async fn from_request(request: Request, bench: &Arc<Bench>) -> Result<Self, Refusal> {
        let Heard(sent) = Heard::<Self>::from_request(request, bench).await?;
        if sent.fields.0.len() > MOST_FIELDS {
            return Err(Refusal::bad(
                "The form has more lines than can be taken.",
                "Take some out.",
            ));
        }
        Ok(sent)
    }
}

impl Sent {
    /// Whether something else is typed in a field than what the store had. A page that does not say changes them all.
    fn is_changed(&self, name: &str) -> bool {
        let shown = self.shown.as_ref();
        shown.is_none_or(|s| s.text(name) != self.fields.text(name) || !s.has(name))
    }

    /// The fields with what this page changed over what the store has now, as it would stand in them.
    ///
    /// # Errors
    /// A conflict, where both changed the same field: nothing is to be stored then.
    pub(crate) fn over(&self, now: &BTreeMap<String, String>) -> Result<Fields, Refusal> {
        let mut fields = BTreeMap::new();
        for (name, typed) in &self.fields.0 {
            let stored = now.get(name);
            let text = match stored {
                Some(stored) if !self.is_changed(name) => stored,
                Some(stored) => {
                    let stale = |s: &Fields| {
                        s.has(name) && s.text(name).unwrap_or_default() != stored.trim()
                    };
                    if self.shown.as_ref().is_some_and(stale) {
                        return Err(changed_meanwhile(name));
                    }
                    typed
                }
                None => typed,
            };
            fields.insert(name.clone(), text.clone());
        }
        Ok(Fields(fields))
    }
}

/// Another window stored something else in a field, which this one would have written over.
pub(crate) fn changed_meanwhile(name: &str) -> Refusal {
    Refusal::new(
        StatusCode::CONFLICT,
        "Another window changed this meanwhile.",
        "Nothing was saved. Load the page again to see it as it is now, then type yours again where it still counts.",
    )
    .of_field(name)
}

impl Fields {
    /// What was typed, without blanks round it; `None` where nothing was.
    pub(crate) fn text(&self, name: &str) -> Option<&str> {
        let text = self.0.get(name).map(|t| t.trim());
        text.filter(|t| !t.is_empty())
    }

    /// Whether the page has such a field, empty or not.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    /// What must be there.
    pub(crate) fn needed(&self, name: &str) -> Result<&str, Refusal> {
        self.text(name)
            .ok_or_else(|| bad(name, "This is empty.", "Fill it in."))
    }

    pub(crate) fn is_on(&self, name: &str) -> bool {
        self.text(name).is_some()
    }

    /// An amount in major units, with a point or a comma.
    pub(crate) fn money(&self, name: &str, currency: Currency) -> Result<Option<Minor>, Refusal> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        Minor::from_decimal(&with_point(text), currency)
            .map(Some)
            .map_err(|e| {
                let like = Money::new(1250, currency);
                let problem = crate::say::sentence(&e);
                bad(name, &problem, &format!("Type an amount, such as {like}."))
            })
    }

    /// A number within limits, with a point or a comma.
    pub(crate) fn number(
        &self,
        name: &str,
        limits: std::ops::RangeInclusive<f64>,
    ) -> Result<Option<f64>, Refusal> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        let value = with_point(text).parse::<f64>().ok();
        match value.filter(|v| limits.contains(v)) {
            Some(v) => Ok(Some(v)),
            None => Err(bad(
                name,
                &format!("{text:?} is no number that can stand here."),
                &format!("Type a number, {} to {}.", limits.start(), limits.end()),
            )),
        }
    }

    /// A whole number within limits.
    pub(crate) fn count(
        &self,
        name: &str,
        limits: std::ops::RangeInclusive<u32>,
    ) -> Result<Option<u32>, Refusal> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        match text.parse::<u32>().ok().filter(|v| limits.contains(v)) {
            Some(v) => Ok(Some(v)),
            None => Err(bad(
                name,
                &format!("{text:?} is no number that can stand here."),
                &format!(
                    "Type a whole number, {} to {}.",
                    limits.start(),
                    limits.end()
                ),
            )),
        }
    }

    /// A share that is typed in percent, as 0 to 1.
    pub(crate) fn percent(&self, name: &str, most: f64) -> Result<Option<f64>, Refusal> {
        let Some(text) = self.text(name) else {
            return Ok(None);
        };
        let bare = with_point(text.trim_end_matches('%').trim_end());
        match bare
            .parse::<f64>()
            .ok()
            .filter(|v| (0.0..=most).contains(v))
        {
            // Twelve digits: 9 % is 0.09, not the double beside it.
            Some(v) => Ok(Some((v * 1e10).round() / 1e12)),
            None => Err(bad(
                name,
                &format!("{text:?} is no share that can stand here."),
                &format!("Type percent, 0 to {most}."),
            )),
        }
    }

    /// A chance that is typed in percent.
    pub(crate) fn chance(&self, name: &str) -> Result<Option<Chance>, Refusal> {
        let value = self.percent(name, 100.0)?;
        let made = value.map(|v| Chance::try_new(v).map_err(|e| told(&e).of_field(name)));
        made.transpose()
    }

    /// A kind of part.
    pub(crate) fn kind(&self, name: &str) -> Result<PartKind, Refusal> {
        let kind = self.needed(name)?;
        let unknown = || {
            bad(
                name,
                "There is no such kind of part.",
                "Choose one of the list.",
            )
        };
        KINDS
            .into_iter()
            .find(|k| word(k) == kind)
            .ok_or_else(unknown)
    }

    /// The form's currency.
    pub(crate) fn currency(&self) -> Result<Currency, Refusal> {
        Currency::try_new(self.needed("currency")?).map_err(|e| told(&e).of_field("currency"))
    }

    pub(crate) fn share(&self, name: &str, most: f64) -> Result<Option<Share>, Refusal> {
        let value = self.percent(name, most)?;
        let made = value.map(|v| Share::try_new(v).map_err(|e| told(&e).of_field(name)));
        made.transpose()
    }

    /// The numbers of a list's lines: fields `list.N.…`.
    pub(crate) fn lines(&self, list: &str) -> Vec<u32> {
        let start = format!("{list}.");
        let number = |name: &String| {
            let rest = name.strip_prefix(&start)?;
            rest.split_once('.')?.0.parse().ok()
        };
        let mut lines: Vec<u32> = self.0.keys().filter_map(number).collect();
        lines.sort_unstable();
        lines.dedup();
        lines
    }
}

/// A comma as people of many countries type it; where both stand there, which one is meant cannot be told.
fn with_point(text: &str) -> String {
    match text.matches(',').count() {
        1 if !text.contains('.') => text.replace(',', "."),
        _ => text.to_owned(),
    }
}

fn bad(name: &str, problem: &str, remedy: &str) -> Refusal {
    Refusal::bad(problem, remedy).of_field(name)
}

/// The ledger's own words, which say what is wrong before and what to do behind a semicolon.
pub(crate) fn told(e: &LedgerError) -> Refusal {
    Refusal::told(e, "Correct it here.")
}

/// A record as the ledger's reader wants it.
pub(crate) fn bytes_of(record: &Value) -> Vec<u8> {
    serde_json::to_vec(record).unwrap_or_default()
}

/// Stores a changed record with the piece, where it is another one than before.
pub(crate) fn keep(
    bench: &Bench,
    id: PieceId,
    sent: &Sent,
    label: &str,
    change: impl Fn(&mut ShopRecords),
) -> Result<OnBench, Refusal> {
    let base = sent.base;
    let before = bench.piece_at(id, base)?;
    let mut piece: Piece = (*before).clone();
    change(&mut piece.shop);
    if piece.shop == before.shop {
        return bench.piece(id);
    }
    let mut edit = Edit::new(label);
    if let Some(gesture) = &sent.gesture {
        edit = edit.of_gesture(gesture);
    }
    let conflict = [
        "Another window changed this form meanwhile.",
        "What you typed is still here but not saved: load the page again to see the other, or close the other window and change \
         a field here.",
    ];
    bench.save(id, base, piece, &edit, conflict)
}

/// What a page hears after a form was kept.
pub(crate) fn heard(on: &OnBench, answer: Markup) -> Value {
    json!({
        "revision": on.state.revision,
        "undo": on.state.undo,
        "redo": on.state.redo,
        "answer": answer.into_string(),
    })
}

/// An amount for a field: major units without the currency.
pub(crate) fn amount(minor: Option<Minor>, currency: Currency) -> String {
    let Some(minor) = minor else {
        return String::new();
    };
    let scale = 10_i64.pow(currency.exponent());
    let (whole, rest) = (minor.get() / scale, minor.get() % scale);
    match currency.exponent() as usize {
        0 => whole.to_string(),
        digits => format!("{whole}.{rest:0digits$}"),
    }
}

/// A share for a field, in percent.
pub(crate) fn in_percent(share: f64) -> String {
    format!("{}", (share * 1e8).round() / 1e6)
}

/// A field with its name above.
pub(crate) fn field(title: &str, name: &str, value: &str, hint: &str) -> Markup {
    html! {
        label class="block" {
            span { (title) }
            input type="text" name=(name) value=(value) placeholder=(hint) autocomplete="off";
        }
    }
}

/// A choice with its name above.
pub(crate) fn choice<'a>(
    title: &str,
    name: &str,
    now: &str,
    choices: impl Iterator<Item = (&'a str, &'a str)>,
) -> Markup {
    html! {
        label class="block" {
            span { (title) }
            select name=(name) {
                @for (value, word) in choices {
                    option value=(value) selected[value == now] { (word) }
                }
            }
        }
    }
}

/// Bars from a zero line, the longest over the whole width; amounts below zero go to the left.
pub(crate) fn bars(said: &str, values: &[(String, i64, String, bool)]) -> Markup {
    let least = values.iter().map(|v| v.1.min(0)).min().unwrap_or(0) as f64;
    let most = values.iter().map(|v| v.1.max(0)).max().unwrap_or(0) as f64;
    let width = (most - least).max(1.0);
    let x = |v: f64| 100.0 * (v - least) / width;
    html! {
        table class="bars" {
            caption class="quiet" { (said) }
            tbody {
                @for (name, value, amount, marked) in values {
                    @let v = *value as f64;
                    tr class=[marked.then_some("marked")] {
                        th scope="row" { (name) }
                        td class="bar" {
                            svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" {
                                rect x=(format!("{:.2}", x(v.min(0.0)))) y="1" height="8"
                                    width=(format!("{:.2}", (x(v.max(0.0)) - x(v.min(0.0))).max(0.4))) {}
                                @if least < 0.0 { path d={ "M" (format!("{:.2}", x(0.0))) " 0v10" } {} }
                            }
                        }
                        td class="n" { (amount) }
                    }
                }
            }
        }
    }
}

/// A refusal in place of an answer.
pub(crate) fn in_place(e: &Refusal) -> Markup {
    html! { p class="caution" { strong { (e.problem) } " " (e.remedy) } }
}

/// Takes a line out of a list.
pub(crate) fn take_out(title: &str) -> Markup {
    let said = format!("Take out {title}");
    html! { button type="button" class="plain" data-drop="" aria-label=(said) title=(said) { "×" } }
}

/// A room whose answer stands beside its form; `answer_is` names it for people who listen.
pub(crate) fn answer_and_form(
    on: &OnBench,
    room: Room,
    answer_is: &str,
    answer: &Markup,
    form: &Markup,
) -> Markup {
    html! {
        h1 class="quiet" { (room.name()) }
        div class="two" {
            section class="answer" id="answer" aria-label=(answer_is) { (answer) }
            form class="ledger" id="ledger" data-url=(room.href(on.id)) autocomplete="off" {
                p class="error" id="form-error" role="alert" hidden {}
                span id="saved" class="soft" role="status" {}
                (form)
            }
        }
    }
}

/// Takes a form in and answers with what `work` makes of it, off the threads that serve.
pub(crate) async fn taken(
    bench: Arc<Bench>,
    id: PieceId,
    sent: Sent,
    work: impl FnOnce(&Bench, PieceId, &Sent) -> Result<Value, Refusal> + Send + 'static,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| work(bench, id, &sent).map(Json))
        .await
}
