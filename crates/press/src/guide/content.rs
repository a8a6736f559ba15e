//! The guide's content, from the piece and its build plan.

use super::kit;
use super::schedule::bars;
use super::{Block, Chapter, Edition, Guide, GuideStep, Options, Table, Warning};
use crate::PressError;
use crate::Speech;
use crate::plaque::Plaque;
use crate::words::{Language, Words, filled};
use piece::{
    BillLine, BillUnit, BuildPlan, Caution, Finding, Level, Pack, Part, Piece, Stage, StandInForm,
    Standing, Step, Stream,
};
use std::collections::BTreeMap;

/// Waits shorter than this need no timer, minutes.
const LEAST_WAIT: f64 = 3.0;

/// Stages in the order of the work.
const STAGES: [Stage; 6] = [
    Stage::Prepare,
    Stage::DryFit,
    Stage::Transfer,
    Stage::Bond,
    Stage::Close,
    Stage::Hang,
];

/// The piece has a build plan that still belongs to it.
pub fn is_current(piece: &Piece) -> bool {
    piece.build_is_current()
}

/// Writes the guide; `None` where the piece has no build plan.
///
/// # Errors
/// Those of the plaque's words.
pub fn guide_of(
    piece: &Piece,
    edition_number: Option<&str>,
    options: Options,
) -> Result<Option<Guide>, PressError> {
    let Some(whole) = &piece.build else {
        return Ok(None);
    };
    let from_the_box = (options.edition == Edition::KitWithParts).then(|| kit::from_the_box(whole));
    let plan = from_the_box.as_ref().unwrap_or(whole);
    let writer = Writer {
        piece,
        plan,
        words: options.language.words(),
        language: options.language,
        numbers: options.speech(),
        edition: options.edition,
    };
    let mut chapters = vec![writer.before(), writer.needs(), writer.parts()];
    chapters.extend(writer.stages());
    chapters.push(writer.closing());
    chapters.push(writer.schedule());
    chapters.push(writer.packing());
    chapters.push(writer.recycling());
    chapters.extend(writer.later());
    chapters.push(writer.figures());
    Ok(Some(Guide {
        language: options.language,
        plaque: Plaque::of(piece, edition_number)?,
        kind: match options.edition {
            Edition::Maker => writer.words.guide.to_owned(),
            Edition::KitWithParts | Edition::KitToFind => writer.words.kit_guide.to_owned(),
        },
        mark: plan.made_from.clone(),
        facts: writer.facts(edition_number),
        chapters,
    }))
}

struct Writer<'a> {
    piece: &'a Piece,
    plan: &'a BuildPlan,
    words: &'static Words,
    language: Language,
    numbers: Speech,
    edition: Edition,
}

impl Writer<'_> {
    fn time(&self, minutes: f64) -> String {
        self.numbers.time(minutes, self.words)
    }

    fn facts(&self, edition_number: Option<&str>) -> Vec<[String; 2]> {
        let w = self.words;
        let mut facts = vec![
            [
                w.frame.to_owned(),
                self.numbers.size(&self.piece.frame.size_mm),
            ],
            [w.parts.to_owned(), self.piece.placements.len().to_string()],
            [w.mass.to_owned(), self.numbers.mass(self.plan.mass_g)],
            [w.hands_on.to_owned(), self.time(self.plan.hands_on_minutes)],
            [w.elapsed.to_owned(), self.time(self.plan.elapsed_minutes)],
        ];
        if let Some(number) = edition_number {
            facts.push([w.edition.to_owned(), number.to_owned()]);
        }
        facts
    }

    fn warning(&self, caution: &Caution) -> Warning {
        let say = |p| self.language.phrase(p, self.numbers);
        // Cautions have short codes of their own; among the texts they stand with others.
        let code = format!("caution.{}", caution.code);
        Warning {
            text: self
                .language
                .coded(&code, &caution.params, &caution.text, self.numbers),
            rule: say(&caution.rule),
            protection: caution.protection.iter().map(say).collect(),
        }
    }

    /// Every caution once, in the order in which they are met.
    fn before(&self) -> Chapter {
        let mut seen: Vec<&str> = Vec::new();
        let mut blocks = vec![Block::Paragraph(self.words.local_rules.to_owned())];
        let mut cautions = Vec::new();
        for caution in self.plan.steps.iter().flat_map(|s| &s.cautions) {
            if seen.contains(&caution.code.as_str()) {
                continue;
            }
            seen.push(&caution.code);
            cautions.push(Block::Caution(self.warning(caution)));
        }
        let said = if cautions.is_empty() {
            self.words.no_cautions
        } else {
            self.words.before_text
        };
        blocks.push(Block::Paragraph(said.to_owned()));
        blocks.extend(cautions);
        self.chapter("before", self.words.before, blocks)
    }

    fn chapter(&self, id: &str, title: &str, blocks: Vec<Block>) -> Chapter {
        Chapter {
            id: id.to_owned(),
            title: title.to_owned(),
            blocks,
        }
    }

    fn needs(&self) -> Chapter {
        let w = self.words;
        let rows = self.plan.bill.iter().map(|line| {
            vec![
                self.language.phrase(&line.title, self.numbers),
                self.amount(line.amount, line.unit),
                self.packs(line),
            ]
        });
        let table = Table {
            head: [w.material, w.amount, w.buy].map(str::to_owned).to_vec(),
            shares: vec![0.50, 0.18, 0.32],
            right: vec![false, true, false],
            rows: rows.collect(),
            ticks: true,
        };
        let blocks = vec![
            Block::Paragraph(w.needs_text.to_owned()),
            Block::Table(table),
            Block::Heading(w.sheets.to_owned()),
            Block::Paragraph(filled(w.sheets_text, &[&self.numbers.bar()])),
            Block::List(w.sheet_lines.map(str::to_owned).to_vec()),
        ];
        self.chapter("needs", w.needs, blocks)
    }

    fn amount(&self, amount: f64, unit: BillUnit) -> String {
        match unit {
            BillUnit::Piece => self.numbers.number(amount, 0),
            BillUnit::Ml => self.numbers.volume(amount),
            BillUnit::Mm => self.numbers.stock_length(amount),
            BillUnit::Mm2 => self.numbers.area(amount),
            BillUnit::G => self.numbers.mass(amount),
        }
    }

    fn packs(&self, line: &BillLine) -> String {
        if line.packs.is_empty() {
            return self.words.as_used.to_owned();
        }
        let one = |p: &Pack| {
            let size = match line.unit {
                BillUnit::Piece if p.size == 1.0 => String::new(),
                unit => self.amount(p.size, unit),
            };
            let form = self.numbers.rewrite(&self.language.item(&p.form));
            let what = match (form.is_empty(), size.is_empty()) {
                (true, _) => size,
                (false, true) => form,
                (false, false) if form.contains(['×', 'x']) && form.contains("mm") => form,
                (false, false) => format!("{form} {size}"),
            };
            if what.is_empty() {
                p.count.to_string()
            } else {
                format!("{} × {what}", p.count)
            }
        };
        line.packs.iter().map(one).collect::<Vec<_>>().join(", ")
    }

    fn parts(&self) -> Chapter {
        let w = self.words;
        let (title, text, ticks) = match self.edition {
            Edition::Maker => (w.parts, None, false),
            Edition::KitWithParts => (w.parts_in_box, Some(w.parts_in_box_text), true),
            Edition::KitToFind => (w.parts_to_find, Some(w.parts_to_find_text), true),
        };
        let known_mm: Vec<f64> = self
            .piece
            .parts
            .iter()
            .filter_map(|p| p.thickness_mm)
            .collect();
        let mut thicknesses = self.numbers.column(&known_mm).into_iter();
        let rows = self.piece.parts.iter().enumerate().map(|(n, part)| {
            let b = part.shown_outline().bounds();
            let not_known = || w.not_known.to_owned();
            let thickness = part.thickness_mm.and_then(|_| thicknesses.next());
            let mass = part.mass_g.map(|g| self.numbers.mass_in_column(g));
            vec![
                (n + 1).to_string(),
                part.name.clone(),
                self.numbers.size(&[b.width_mm(), b.height_mm()]),
                thickness.unwrap_or_else(not_known),
                mass.unwrap_or_else(not_known),
                self.shown_as(part),
            ]
        });
        let name = match self.edition {
            Edition::KitToFind => w.look_for,
            _ => w.part,
        };
        let head = [
            w.number,
            name,
            w.size,
            w.thickness,
            w.mass_short(),
            w.shown_as,
        ];
        let table = Table {
            head: head.map(str::to_owned).to_vec(),
            shares: vec![0.06, 0.30, 0.22, 0.13, 0.12, 0.17],
            right: vec![true, false, true, true, true, false],
            rows: rows.collect(),
            ticks,
        };
        let mut blocks: Vec<Block> = text
            .map(|t| Block::Paragraph(t.to_owned()))
            .into_iter()
            .collect();
        blocks.push(Block::Table(table));
        blocks.push(Block::Heading(w.map.to_owned()));
        blocks.push(Block::Map);
        self.chapter("parts", title, blocks)
    }

    fn shown_as(&self, part: &Part) -> String {
        match part.stand_in.as_ref().map(|s| s.form) {
            None => self.words.itself.to_owned(),
            Some(StandInForm::Print | StandInForm::Card | StandInForm::InertCopy) => {
                self.words.stand_in.to_owned()
            }
        }
    }

    /// One chapter for each stage that has steps; numbers run through.
    fn stages(&self) -> Vec<Chapter> {
        let mut number = 0;
        let mut chapters = Vec::new();
        for (n, stage) in STAGES.into_iter().enumerate() {
            let steps = self.plan.steps.iter().filter(|s| s.stage == stage);
            let blocks: Vec<Block> = steps
                .map(|step| {
                    number += 1;
                    Block::Step(self.step(step, number))
                })
                .collect();
            if !blocks.is_empty() {
                let id = format!("steps-{}", n + 1);
                chapters.push(self.chapter(&id, self.words.stages[n], blocks));
            }
        }
        chapters
    }

    fn step(&self, step: &Step, number: usize) -> GuideStep {
        let w = self.words;
        let waits = step.minutes - step.hands_on_minutes;
        let mut time = Vec::new();
        if step.hands_on_minutes > 0.0 {
            time.push(filled(w.of_work, &[&self.time(step.hands_on_minutes)]));
        }
        if waits >= LEAST_WAIT {
            time.push(filled(w.waiting, &[&self.time(waits)]));
        }
        GuideStep {
            number,
            id: step.id.clone(),
            title: self
                .language
                .coded(&step.code, &step.params, &step.title, self.numbers),
            time: time.join(", "),
            how: step
                .how
                .iter()
                .map(|p| self.language.phrase(p, self.numbers))
                .collect(),
            cautions: step.cautions.iter().map(|c| self.warning(c)).collect(),
            parts: step.parts.clone(),
            wait_minutes: (waits >= LEAST_WAIT).then_some(waits),
        }
    }

    fn schedule(&self) -> Chapter {
        let title = |s: &Step| {
            self.language
                .coded(&s.code, &s.params, &s.title, self.numbers)
        };
        let facts = format!(
            "{}: {}. {}: {}.",
            self.words.hands_on,
            self.time(self.plan.hands_on_minutes),
            self.words.elapsed,
            self.time(self.plan.elapsed_minutes),
        );
        let blocks = vec![
            Block::Paragraph(format!("{facts} {}", self.words.schedule_text)),
            Block::Schedule(bars(self.plan, title)),
        ];
        self.chapter("schedule", self.words.schedule, blocks)
    }

    fn closing(&self) -> Chapter {
        let w = self.words;
        let mut blocks = vec![
            Block::Paragraph(w.closing_text.to_owned()),
            Block::Checks(w.closing_checks.map(str::to_owned).to_vec()),
        ];
        let open: Vec<String> = self
            .plan
            .findings
            .iter()
            .filter(|f| f.level != Level::Note)
            .map(|f| self.finding(f))
            .collect();
        if !open.is_empty() {
            blocks.push(Block::Heading(w.open_findings.to_owned()));
            blocks.push(Block::Checks(open));
        }
        self.chapter("closing", w.closing, blocks)
    }

    /// What a finding says and what to do, in the guide's language where it has phrases.
    fn finding(&self, finding: &Finding) -> String {
        if finding.phrases.is_empty() {
            let said = format!("{} {}", finding.text, finding.remedy);
            return self.numbers.rewrite(&said);
        }
        let said = finding.phrases.iter();
        let said: Vec<String> = said
            .map(|p| self.language.phrase(p, self.numbers))
            .collect();
        said.join(" ")
    }

    fn packing(&self) -> Chapter {
        let w = self.words;
        let lines = w.packing_lines.map(|l| self.numbers.rewrite(l));
        let blocks = vec![
            Block::Paragraph(w.packing_text.to_owned()),
            Block::List(lines.to_vec()),
        ];
        self.chapter("packing", w.packing, blocks)
    }

    /// Streams by what the device has: each with the parts that it takes, should they be left over.
    fn recycling(&self) -> Chapter {
        let w = self.words;
        let mut streams: BTreeMap<Stream, Vec<String>> = BTreeMap::new();
        for part in &self.piece.parts {
            streams
                .entry(Stream::of_part(part))
                .or_default()
                .push(part.name.clone());
        }
        let mut rows: Vec<Vec<String>> = streams
            .into_iter()
            .map(|(stream, parts)| vec![parts.join(", "), w.stream(stream).to_owned()])
            .collect();
        rows.push(vec!["–".to_owned(), w.stream_chemicals.to_owned()]);
        let table = Table {
            head: [w.what, w.goes_to].map(str::to_owned).to_vec(),
            shares: vec![0.45, 0.55],
            right: vec![false, false],
            rows,
            ticks: false,
        };
        let blocks = vec![
            Block::Paragraph(w.recycling_text.to_owned()),
            Block::Table(table),
        ];
        self.chapter("recycling", w.recycling, blocks)
    }

    fn later(&self) -> Option<Chapter> {
        if self.plan.later.is_empty() {
            return None;
        }
        let w = self.words;
        let mut blocks = vec![Block::Paragraph(w.later_text.to_owned())];
        for (n, step) in self.plan.later.iter().enumerate() {
            blocks.push(Block::Step(self.step(step, n + 1)));
        }
        Some(self.chapter("later", w.later, blocks))
    }

    fn figures(&self) -> Chapter {
        let w = self.words;
        let rows = self.plan.figures.iter().map(|f| {
            let standing = match f.standing {
                Standing::Published => 0,
                Standing::CommonPractice => 1,
                Standing::Recalled => 2,
                Standing::Own => 3,
            };
            vec![
                self.numbers
                    .rewrite(&self.language.figure(&f.code, &f.name)),
                self.numbers.figure(&f.code, f.value, &f.unit, w),
                self.numbers.rewrite(self.language.source(&f.source)),
                w.standings[standing].to_owned(),
            ]
        });
        let table = Table {
            head: [w.figure, w.value, w.source, w.standing]
                .map(str::to_owned)
                .to_vec(),
            shares: vec![0.33, 0.15, 0.35, 0.17],
            right: vec![false, true, false, false],
            rows: rows.collect(),
            ticks: false,
        };
        let blocks = vec![
            Block::Paragraph(w.numbers_text.to_owned()),
            Block::Table(table),
        ];
        self.chapter("numbers", w.numbers, blocks)
    }
}

impl Words {
    /// The head of a column of masses: the word up to a comma.
    fn mass_short(&self) -> &'static str {
        self.mass.split(',').next().unwrap_or(self.mass)
    }
}
