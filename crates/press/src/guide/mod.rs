//! The guide: how to build the piece, written once as content and told twice, as a page for the bench and as a
//! typeset document.

mod board_picture;
mod content;
mod html;
mod kit;
mod schedule;
mod typeset;

pub use crate::speech::Units;
pub use crate::words::Language;
pub use content::{guide_of, is_current};
pub use html::to_html;
pub use typeset::{Typeset, typeset};

use crate::plaque::Plaque;
use piece::{PartId, Stage};

/// For whom the guide is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Edition {
    /// The maker, who has the device.
    #[default]
    Maker,
    /// Somebody who gets the parts in a box.
    KitWithParts,
    /// Somebody who has to find the parts.
    KitToFind,
}

/// How the guide is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    /// In which language.
    pub language: Language,
    /// In which units.
    pub units: Units,
    /// For whom.
    pub edition: Edition,
}

impl Options {
    /// In which language and units.
    pub fn speech(self) -> crate::Speech {
        crate::Speech {
            language: self.language,
            units: self.units,
        }
    }
}

/// The whole guide as content.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    /// In which language it is written.
    pub language: Language,
    /// What stands on the cover.
    pub plaque: Plaque,
    /// Under the title: what the document is.
    pub kind: String,
    /// A mark of the piece and its plan, for whoever keeps ticks beside it.
    pub mark: String,
    /// On the cover: label and value.
    pub facts: Vec<[String; 2]>,
    /// Its chapters.
    pub chapters: Vec<Chapter>,
}

/// A chapter.
#[derive(Debug, Clone, PartialEq)]
pub struct Chapter {
    /// Stable name, for links: `steps-bond`.
    pub id: String,
    /// Its title.
    pub title: String,
    /// What it holds.
    pub blocks: Vec<Block>,
}

/// Something in a chapter.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A title within the chapter.
    Heading(String),
    /// Running words.
    Paragraph(String),
    /// Points in any order.
    List(Vec<String>),
    /// Things to tick off.
    Checks(Vec<String>),
    /// A table.
    Table(Table),
    /// What can hurt someone.
    Caution(Warning),
    /// A step.
    Step(GuideStep),
    /// The schedule as a chart.
    Schedule(Vec<Bar>),
    /// The board with all parts and their numbers.
    Map,
}

impl Block {
    /// The step that it is, if it is one.
    pub(crate) fn as_step(&self) -> Option<&GuideStep> {
        match self {
            Self::Step(step) => Some(step),
            _ => None,
        }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Heads of the columns.
    pub head: Vec<String>,
    /// Shares of the width.
    pub shares: Vec<f64>,
    /// Columns whose values stand flush right.
    pub right: Vec<bool>,
    /// Rows of as many cells as there are heads.
    pub rows: Vec<Vec<String>>,
    /// Rows have a box to tick.
    pub ticks: bool,
}

/// What can hurt someone, and what to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// What can happen.
    pub text: String,
    /// What must or must not be done.
    pub rule: String,
    /// What protects.
    pub protection: Vec<String>,
}

impl Warning {
    /// What protects, in one sentence: phrases without their own full stops.
    fn protection_in_words(&self) -> String {
        let bare: Vec<&str> = self
            .protection
            .iter()
            .map(|p| p.trim_end_matches('.'))
            .collect();
        format!("{}.", bare.join("; "))
    }
}

/// One step of the work.
#[derive(Debug, Clone, PartialEq)]
pub struct GuideStep {
    /// Its number, from 1 through all chapters.
    pub number: usize,
    /// Its id in the plan.
    pub id: String,
    /// What is done.
    pub title: String,
    /// How long it takes, in words.
    pub time: String,
    /// How it is done, sentence by sentence.
    pub how: Vec<String>,
    /// What can hurt someone here.
    pub cautions: Vec<Warning>,
    /// The parts that it handles: its picture shows them in place.
    pub parts: Vec<PartId>,
    /// Minutes of waiting for which a timer is offered.
    pub wait_minutes: Option<f64>,
}

/// A bar of the schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it says.
    pub label: String,
    /// Its stage.
    pub stage: Stage,
    /// From when to when, minutes.
    pub from_minute: f64,
    /// From when to when, minutes.
    pub to_minute: f64,
    /// How long somebody works at it, minutes.
    pub hands_on_minutes: f64,
    /// It must not slip.
    pub critical: bool,
}
