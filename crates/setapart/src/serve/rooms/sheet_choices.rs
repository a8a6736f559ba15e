//! What the shop has chosen about its sheets, as a form and as what is drawn.

use crate::cli::{
    ArtName, GuideFor, LanguageName, PaperName, Printed, SheetLook, SilhouettesName, UnitsName,
};
use crate::serve::refusal::Refusal;
use crate::serve::studies::told;
use clap::ValueEnum;
use maud::{Markup, html};
use press::PrinterCorrection;
use press::guide::Units as SheetUnits;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use workshop::{Settings, Units};

/// Where the settings keep it.
const KEPT_AS: &str = "sheets";

/// What is chosen beside paper and printer, by the names of `setapart sheets`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Choices {
    art: String,
    /// Empty: what suits the style.
    silhouettes: String,
    /// Empty: the shop's language.
    language: String,
    guide_for: String,
    tool_mm: f64,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            art: name_of(&ArtName::default()),
            silhouettes: String::new(),
            language: String::new(),
            guide_for: name_of(&GuideFor::default()),
            tool_mm: 0.0,
        }
    }
}

fn name_of(value: &impl ValueEnum) -> String {
    value
        .to_possible_value()
        .map_or_else(String::new, |v| v.get_name().to_owned())
}

/// A set of sheets that was, or would be, asked for. The number in an edition is a piece's own and kept with what was drawn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Asked {
    paper: String,
    printed_mm: Option<[f64; 2]>,
    units: Units,
    choices: Choices,
}

impl Asked {
    /// By the settings; what they say and nobody knows is as usual.
    pub(crate) fn of(settings: &Settings) -> Self {
        let kept = settings.others.get(KEPT_AS).cloned();
        let mut choices: Choices = kept
            .and_then(|v| serde_json::from_value(v).ok())
            .unwrap_or_default();
        if choices.language.is_empty() {
            choices.language = match LanguageName::from_str(&settings.language, true) {
                Ok(language) => name_of(&language),
                Err(_) => name_of(&LanguageName::default()),
            };
        }
        Self {
            paper: settings.paper.clone(),
            printed_mm: settings.printed_mm,
            units: settings.units,
            choices,
        }
    }

    /// Keeps it in the settings.
    pub(crate) fn keep_in(&self, settings: &mut Settings) {
        settings.paper.clone_from(&self.paper);
        settings.printed_mm = self.printed_mm;
        let choices = serde_json::to_value(&self.choices).unwrap_or(Value::Null);
        settings.others.insert(KEPT_AS.into(), choices);
    }

    /// What the bars of these sheets measure, mm: each is 100 mm or 4 in long where the printer is right.
    fn bars_mm(&self) -> [f64; 2] {
        let share = press::bar_mm(self.sheet_units()) / 100.0;
        self.printed_mm.unwrap_or([100.0; 2]).map(|v| v * share)
    }

    fn sheet_units(&self) -> SheetUnits {
        match self.units {
            Units::Millimetres => SheetUnits::Metric,
            Units::Inches => SheetUnits::Inch,
        }
    }

    /// The same as `setapart sheets` takes it.
    ///
    /// # Errors
    /// Where a name is not one of those there are, told at its field.
    pub(crate) fn as_words(
        &self,
        edition: Option<&str>,
    ) -> Result<(PaperName, Printed, SheetLook), Refusal> {
        let c = &self.choices;
        let look = SheetLook {
            art: known(&c.art, "art")?,
            silhouettes: match c.silhouettes.as_str() {
                "" => None,
                word => Some(known::<SilhouettesName>(word, "silhouettes")?),
            },
            edition: edition.map(str::to_owned),
            tool: c.tool_mm,
            guide_for: known(&c.guide_for, "guide_for")?,
            language: known(&c.language, "language")?,
            units: match self.units {
                Units::Millimetres => UnitsName::Metric,
                Units::Inches => UnitsName::Inch,
            },
            ..SheetLook::default()
        };
        let bars = self.printed_mm.map(|_| match self.units {
            Units::Millimetres => self.bars_mm(),
            Units::Inches => self.bars_mm().map(|v| v / 25.4),
        });
        let printed = Printed {
            printed_x: bars.map(|b| b[0]),
            printed_y: bars.map(|b| b[1]),
        };
        Ok((known(&self.paper, "paper")?, printed, look))
    }
}

fn known<T: ValueEnum>(word: &str, field: &'static str) -> Result<T, Refusal> {
    T::from_str(word, false).map_err(|_| Refusal::not_there("such a choice").of_field(field))
}

/// What the page sends.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wish {
    paper: String,
    /// What both bars measure, mm.
    bars_mm: [f64; 2],
    choices: Choices,
    edition: String,
}

impl Wish {
    /// What is asked for with these settings, and the number in an edition.
    ///
    /// # Errors
    /// Where bars, tool or a name cannot be, told at its field.
    pub(crate) fn checked(self, settings: &Settings) -> Result<(Asked, Option<String>), Refusal> {
        let mut asked = Asked {
            paper: self.paper,
            printed_mm: None,
            units: settings.units,
            choices: self.choices,
        };
        let right = press::bar_mm(asked.sheet_units());
        let as_shown = match asked.units {
            Units::Millimetres => self.bars_mm,
            // To a thousandth, as people read it.
            Units::Inches => self.bars_mm.map(|v| (v / 0.0254).round() / 1000.0),
        };
        PrinterCorrection::measured(as_shown, asked.sheet_units())
            .map_err(|e| told(&e.to_string()).of_field("printed_mm"))?;
        press::cut::ToolWidth::try_new(asked.choices.tool_mm)
            .map_err(|e| told(&e.to_string()).of_field("tool_mm"))?;
        let measured = self.bars_mm.map(|v| 100.0 * v / right);
        asked.printed_mm = measured
            .iter()
            .any(|v| (v - 100.0).abs() > 1e-6)
            .then_some(measured);
        let edition = self.edition.trim();
        let edition = (!edition.is_empty()).then(|| edition.to_owned());
        asked.as_words(edition.as_deref())?;
        Ok((asked, edition))
    }
}

/// The form; `edition` is what was drawn last.
pub(super) fn form(asked: &Asked, edition: &str, drawn: bool) -> Markup {
    let c = &asked.choices;
    let [bar_x, bar_y] = asked.bars_mm();
    html! {
        form id="print" autocomplete="off" {
            (choice("Paper", "paper", &asked.paper, &[("a4", "A4"), ("letter", "Letter"), ("a3", "A3"), ("tabloid", "Tabloid")]))
            (choice("Board's art", "art", &c.art, &[("quiet", "Quiet"), ("terraces", "Terraces"), ("draught", "Draught"), ("night", "Night")]))
            label class="inline" { "Bar along x" input class="length" name="x" type="text" inputmode="decimal" data-mm=(bar_x); }
            label class="inline" { "Bar along y" input class="length" name="y" type="text" inputmode="decimal" data-mm=(bar_y); }
            details {
                summary { "Language, guide, edition, cutting" }
                div class="more" {
                    (choice("Language", "language", &c.language, &[("en", "English"), ("de", "German")]))
                    (choice("The guide is for", "guide_for", &c.guide_for, &[
                        ("maker", "the maker, who has the device"), ("kit", "somebody who gets the parts"), ("kit-to-find", "somebody who has to find the parts"),
                    ]))
                    (choice("Parts show on the art as", "silhouettes", &c.silhouettes, &[
                        ("", "what suits it"), ("shadow", "a soft shadow"), ("hairline", "a thin line"), ("fill", "an even tone"), ("none", "nothing"),
                    ]))
                    label class="inline" { "Number in an edition" input name="edition" type="text" maxlength="24" placeholder="3/25" value=(edition); }
                    label class="inline" { "Cutting tool's width" input class="length" name="tool" type="text" inputmode="decimal" data-mm=(c.tool_mm); }
                }
            }
            button class="primary" id="draw" {
                @if drawn { "Draw them again" } @else { "Draw the sheets" }
            }
            p class="error" hidden {}
        }
    }
}

fn choice(title: &str, name: &str, chosen: &str, all: &[(&str, &str)]) -> Markup {
    html! {
        label class="inline" { (title)
            select name=(name) {
                @for (value, words) in all { option value=(value) selected[*value == chosen] { (words) } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn wish(bars_mm: [f64; 2], more: Value) -> Wish {
        let mut all = json!({ "paper": "a4", "bars_mm": bars_mm, "edition": " 3/25 ",
            "choices": { "art": "night", "language": "de", "guide_for": "kit" } });
        if let (Some(all), Some(more)) = (all["choices"].as_object_mut(), more.as_object()) {
            all.extend(more.clone());
        }
        serde_json::from_value(all).unwrap()
    }

    fn settings(units: Units) -> Settings {
        Settings {
            units,
            ..Settings::default()
        }
    }

    #[test]
    fn what_was_asked_is_kept_and_asked_again() {
        for (units, bars) in [
            (Units::Millimetres, [99.6, 100.2]),
            (Units::Inches, [101.2, 101.6]),
        ] {
            let mut settings = settings(units);
            let (asked, edition) = wish(bars, json!({ "tool_mm": 0.2 }))
                .checked(&settings)
                .unwrap();
            asked.keep_in(&mut settings);
            let again = Asked::of(&settings);
            assert_eq!(again, asked);
            let shown = again.bars_mm();
            assert!(
                (0..2).all(|k| (shown[k] - bars[k]).abs() < 1e-9),
                "{shown:?}"
            );
            let (paper, printed, look) = again.as_words(edition.as_deref()).unwrap();
            let unit = if units == Units::Inches { 25.4 } else { 1.0 };
            assert_eq!(paper, PaperName::A4);
            assert!((printed.printed_x.unwrap() * unit - bars[0]).abs() < 1e-9);
            assert_eq!(
                (look.art, look.language),
                (ArtName::Night, LanguageName::De)
            );
            assert_eq!((look.guide_for, look.tool), (GuideFor::Kit, 0.2));
            assert_eq!(look.edition.as_deref(), Some("3/25"));
        }
    }

    #[test]
    fn bars_that_are_right_correct_nothing() {
        for (units, bar) in [(Units::Millimetres, 100.0), (Units::Inches, 101.6)] {
            let (asked, _) = wish([bar; 2], json!({})).checked(&settings(units)).unwrap();
            assert_eq!(asked.printed_mm, None);
            assert_eq!(asked.as_words(None).unwrap().1.printed_x, None);
        }
    }

    #[test]
    fn what_cannot_be_is_told_at_its_field() {
        let metric = settings(Units::Millimetres);
        let field = |w: Wish| w.checked(&metric).unwrap_err().field.unwrap_or_default();
        assert_eq!(field(wish([97.0, 100.0], json!({}))), "printed_mm");
        assert_eq!(
            field(wish([100.0; 2], json!({ "tool_mm": -1.0 }))),
            "tool_mm"
        );
        assert_eq!(field(wish([100.0; 2], json!({ "art": "neon" }))), "art");
        assert_eq!(
            field(wish([100.0; 2], json!({ "language": "xx" }))),
            "language"
        );
        let inches = settings(Units::Inches);
        assert!(wish([100.0; 2], json!({})).checked(&inches).is_err());
    }

    #[test]
    fn the_shops_language_is_the_sheets_until_another_is_chosen() {
        let mut settings = Settings {
            language: "de".into(),
            ..Settings::default()
        };
        assert_eq!(Asked::of(&settings).choices.language, "de");
        settings.language = "pt-BR".into();
        assert_eq!(Asked::of(&settings).choices.language, "en");
    }
}
