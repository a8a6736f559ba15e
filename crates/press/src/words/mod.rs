//! Everything that sheets and guide say that is not the piece's own, once for each language.
//!
//! A language is one [`Words`] and one table of phrases; the compiler sees to it that no word is missing, and a test
//! that every phrase of the build plan has its translation.

mod de;
mod de_phrases;
mod en;
mod en_names;
mod sheets;

pub use de::GERMAN;
pub use en::ENGLISH;
pub use sheets::SheetWords;

use crate::Speech;
use piece::{Param, Phrase, Stream};
use std::collections::BTreeMap;

/// Languages of sheets and guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// German.
    German,
}

impl Language {
    /// Its tag of BCP 47.
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// Its words.
    pub fn words(self) -> &'static Words {
        match self {
            Self::English => &ENGLISH,
            Self::German => &GERMAN,
        }
    }

    /// The phrase in this language; in English where there is no translation.
    pub(crate) fn phrase(self, phrase: &Phrase, numbers: Speech) -> String {
        self.coded(&phrase.code, &phrase.params, &phrase.text, numbers)
    }

    /// A text by its code and parameters, or the English text as it is.
    pub(crate) fn coded(
        self,
        code: &str,
        params: &BTreeMap<String, Param>,
        english: &str,
        numbers: Speech,
    ) -> String {
        let template = self.template(code);
        let text = match template {
            Some(template) => fill(template, params, numbers),
            None => english.to_owned(),
        };
        numbers.rewrite(&text)
    }

    /// The text for a code as it is before it is filled; `None` in English, which the phrases bring themselves.
    pub fn template(self, code: &str) -> Option<&'static str> {
        match self {
            Self::English => None,
            Self::German => de_phrases::template(code),
        }
    }

    /// What a handbook figure of the build plan is called.
    pub(crate) fn figure(self, code: &str, english: &str) -> String {
        let known = match self {
            Self::English => en_names::figure(code, english),
            Self::German => de_phrases::figure(code, english),
        };
        known.unwrap_or_else(|| english.to_owned())
    }

    /// Where a handbook figure is from, in this language; as the catalogue has it where there is no translation.
    pub fn source(self, english: &str) -> &str {
        match self {
            Self::English => english,
            Self::German => de_phrases::source(english).unwrap_or(english),
        }
    }

    /// What an entry of the catalogue, a material or a form is called; its own name where it has none here.
    pub(crate) fn item(self, name: &str) -> String {
        let known = match self {
            Self::English => en_names::item(name),
            Self::German => de_phrases::item(name),
        };
        known.map_or_else(|| name.replace(['-', '_'], " "), str::to_owned)
    }
}

fn in_table(table: &[(&str, &'static str)], key: &str) -> Option<&'static str> {
    table.iter().find(|(k, _)| *k == key).map(|(_, text)| *text)
}

/// Puts a value where `{}` stands, one after the other.
pub(crate) fn filled(template: &str, values: &[&str]) -> String {
    let mut parts = template.split("{}");
    let mut text = parts.next().unwrap_or_default().to_owned();
    for (n, part) in parts.enumerate() {
        text.push_str(values.get(n).copied().unwrap_or_default());
        text.push_str(part);
    }
    text
}

/// Fills `{name}` in a template. A parameter that is not there stays as it stands, so that it is seen.
fn fill(template: &str, params: &BTreeMap<String, Param>, numbers: Speech) -> String {
    let mut text = template.to_owned();
    for (name, value) in params {
        let said = match value {
            Param::Text(text) => numbers.language.item_or_text(text),
            Param::Number(n) => numbers.number(*n, 2),
        };
        text = text.replace(&format!("{{{name}}}"), &said);
    }
    text
}

impl Language {
    /// A parameter that is a catalogue's entry gets its name; a part's name stays as its maker wrote it.
    fn item_or_text(self, text: &str) -> String {
        match self {
            Self::English => text.to_owned(),
            Self::German => de_phrases::item(text).map_or_else(|| text.to_owned(), str::to_owned),
        }
    }
}

/// The words of one language. `{}` stands for what is filled in.
#[allow(missing_docs, reason = "the English words say what each is")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    pub guide: &'static str,
    pub kit_guide: &'static str,
    pub contents: &'static str,
    pub page_of: &'static str,
    pub edition: &'static str,

    pub frame: &'static str,
    pub parts: &'static str,
    pub mass: &'static str,
    pub hands_on: &'static str,
    pub elapsed: &'static str,

    pub minutes: &'static str,
    pub hours: &'static str,
    pub days: &'static str,
    pub of_work: &'static str,
    pub waiting: &'static str,

    pub before: &'static str,
    pub before_text: &'static str,
    pub local_rules: &'static str,
    pub no_cautions: &'static str,
    pub protection: &'static str,
    pub rule: &'static str,
    pub caution: &'static str,

    pub needs: &'static str,
    pub needs_text: &'static str,
    pub materials: &'static str,
    pub material: &'static str,
    pub amount: &'static str,
    pub buy: &'static str,
    pub as_used: &'static str,
    pub part: &'static str,
    pub number: &'static str,
    pub size: &'static str,
    pub thickness: &'static str,
    pub shown_as: &'static str,
    pub itself: &'static str,
    pub stand_in: &'static str,
    pub parts_in_box: &'static str,
    pub parts_in_box_text: &'static str,
    pub parts_to_find: &'static str,
    pub parts_to_find_text: &'static str,
    pub look_for: &'static str,
    pub not_known: &'static str,
    pub sheets: &'static str,
    pub sheets_text: &'static str,
    pub sheet_lines: [&'static str; 6],
    pub map: &'static str,

    pub stages: [&'static str; 7],
    pub step: &'static str,
    pub start_timer: &'static str,
    pub timer_done: &'static str,
    pub progress: &'static str,
    pub forget_ticks: &'static str,
    pub handles: &'static str,

    pub schedule: &'static str,
    pub schedule_text: &'static str,
    pub working: &'static str,
    pub no_slack: &'static str,

    pub closing: &'static str,
    pub closing_text: &'static str,
    pub closing_checks: [&'static str; 9],
    pub open_findings: &'static str,

    pub packing: &'static str,
    pub packing_text: &'static str,
    pub packing_lines: [&'static str; 6],

    pub recycling: &'static str,
    pub recycling_text: &'static str,
    pub stream_cells: &'static str,
    pub stream_boards: &'static str,
    pub stream_screens: &'static str,
    pub stream_lamps: &'static str,
    pub stream_tubes: &'static str,
    pub stream_capacitors: &'static str,
    pub stream_cables: &'static str,
    pub stream_hazardous: &'static str,
    pub stream_plastics: &'static str,
    pub stream_metals: &'static str,
    pub stream_glass: &'static str,
    pub stream_mixed: &'static str,
    pub stream_chemicals: &'static str,
    pub goes_to: &'static str,
    pub what: &'static str,

    pub later: &'static str,
    pub later_text: &'static str,

    pub numbers: &'static str,
    pub numbers_text: &'static str,
    pub figure: &'static str,
    pub value: &'static str,
    pub source: &'static str,
    pub standing: &'static str,
    pub standings: [&'static str; 4],
    pub times_gravity: &'static str,

    pub sheet: SheetWords,
}

impl Words {
    /// Where what belongs to a stream goes, and how.
    pub fn stream(&self, stream: Stream) -> &'static str {
        match stream {
            Stream::Cells => self.stream_cells,
            Stream::Boards => self.stream_boards,
            Stream::Screens => self.stream_screens,
            Stream::MercuryLamps => self.stream_lamps,
            Stream::Tubes => self.stream_tubes,
            Stream::Capacitors => self.stream_capacitors,
            Stream::Cables => self.stream_cables,
            Stream::Hazardous => self.stream_hazardous,
            Stream::Plastics => self.stream_plastics,
            Stream::Metals => self.stream_metals,
            Stream::Glass => self.stream_glass,
            Stream::Mixed => self.stream_mixed,
        }
    }
}
