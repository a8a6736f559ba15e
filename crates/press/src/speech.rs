//! In which language and units something is told: lengths, masses, volumes and times as people read them.

use crate::words::{Language, SheetWords, Words};

/// Units of sheets and guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres, grams, millilitres.
    #[default]
    Metric,
    /// Inches, ounces, fluid ounces of the United States.
    Inch,
}

/// 1 in = 25.4 mm, 1 oz = 28.349523125 g (international yard and pound, 1959); 1 US fl oz = 231/128 in3.
const MM_PER_INCH: f64 = 25.4;
const G_PER_OUNCE: f64 = 28.349_523_125;
const ML_PER_FLUID_OUNCE: f64 = 231.0 / 128.0 * 16.387_064;

/// In which language and units something is told. The default is English and metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Speech {
    /// The language.
    pub language: Language,
    /// The units.
    pub units: Units,
}

impl Speech {
    /// What sheets say in this language.
    pub(crate) fn sheets(self) -> &'static SheetWords {
        &self.language.words().sheet
    }

    /// A number with at most so many decimals, none that say nothing.
    pub(crate) fn number(self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        };
        let text = if text == "-0" { "0".to_owned() } else { text };
        match self.language {
            Language::English => text,
            Language::German => text.replace('.', ","),
        }
    }

    pub(crate) fn length(self, mm: f64) -> String {
        match self.units {
            Units::Metric => format!("{}\u{a0}mm", self.number(mm, 1)),
            Units::Inch => format!("{}\u{a0}in", self.inches(mm)),
        }
    }

    /// A length along something, in whole millimetres or tenths of an inch.
    pub(crate) fn run(self, mm: f64) -> String {
        match self.units {
            Units::Metric => format!("{}\u{a0}mm", self.number(mm, 0)),
            Units::Inch => format!("{}\u{a0}in", self.number(mm / MM_PER_INCH, 1)),
        }
    }

    /// Hundredths of an inch; thousandths where that is less than two figures.
    fn inches(self, mm: f64) -> String {
        let inches = mm / MM_PER_INCH;
        self.number(inches, if inches.abs() < 0.1 { 3 } else { 2 })
    }

    /// Two lengths or three with one unit.
    pub(crate) fn size(self, mm: &[f64]) -> String {
        let one = |&v: &f64| match self.units {
            Units::Metric => self.number(v, 1),
            Units::Inch => self.inches(v),
        };
        let unit = match self.units {
            Units::Metric => "mm",
            Units::Inch => "in",
        };
        format!(
            "{}\u{a0}{unit}",
            mm.iter().map(one).collect::<Vec<_>>().join("\u{a0}×\u{a0}")
        )
    }

    pub(crate) fn mass(self, g: f64) -> String {
        match self.units {
            Units::Metric if g >= 1000.0 => format!("{}\u{a0}kg", self.number(g / 1000.0, 2)),
            Units::Metric => format!("{}\u{a0}g", self.number(g, if g < 10.0 { 1 } else { 0 })),
            Units::Inch if g >= 16.0 * G_PER_OUNCE => {
                format!("{}\u{a0}lb", self.number(g / (16.0 * G_PER_OUNCE), 2))
            }
            Units::Inch => format!("{}\u{a0}oz", self.number(g / G_PER_OUNCE, 2)),
        }
    }

    pub(crate) fn volume(self, ml: f64) -> String {
        let ounces = ml / ML_PER_FLUID_OUNCE;
        // Syringes are marked in millilitres where ounces are at home too.
        if self.units == Units::Inch && ounces >= 0.1 {
            return format!("{}\u{a0}fl\u{a0}oz", self.number(ounces, 2));
        }
        let decimals = match ml {
            ml if ml < 1.0 => 2,
            ml if ml < 10.0 => 1,
            _ => 0,
        };
        format!("{}\u{a0}ml", self.number(ml, decimals))
    }

    pub(crate) fn area(self, mm2: f64) -> String {
        match self.units {
            Units::Metric => format!("{}\u{a0}cm²", self.number(mm2 / 100.0, 0)),
            Units::Inch => format!(
                "{}\u{a0}in²",
                self.number(mm2 / (MM_PER_INCH * MM_PER_INCH), 1)
            ),
        }
    }

    /// Minutes below two hours, hours below two days, days above.
    pub(crate) fn time(self, minutes: f64, words: &Words) -> String {
        let (value, unit, decimals) = if minutes < 120.0 {
            (
                minutes.max(if minutes > 0.0 { 1.0 } else { 0.0 }).round(),
                words.minutes,
                0,
            )
        } else if minutes < 2880.0 {
            ((minutes / 6.0).round() / 10.0, words.hours, 1)
        } else {
            ((minutes / 144.0).round() / 10.0, words.days, 1)
        };
        format!("{}\u{a0}{unit}", self.number(value, decimals))
    }

    /// Rewrites "12.5 mm", "3 ml" and "40 g" in a text that was written in metric units.
    pub(crate) fn rewrite(self, text: &str) -> String {
        if self.units == Units::Metric {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
            let (before, from) = rest.split_at(start);
            out.push_str(before);
            let point = match self.language {
                Language::English => '.',
                Language::German => ',',
            };
            let end = from
                .find(|c: char| !c.is_ascii_digit() && c != point)
                .unwrap_or(from.len());
            let digits = from[..end].trim_end_matches(point);
            let after = &from[digits.len()..];
            let value: Option<f64> = digits.replace(',', ".").parse().ok();
            let unit = after.strip_prefix([' ', '\u{a0}']).map(|u| {
                let end = u.find(|c: char| !c.is_alphabetic()).unwrap_or(u.len());
                (&u[..end], &u[end..])
            });
            let spaced = |(unit, tail)| match unit {
                "mm" => Some((self.length(value?), tail)),
                "ml" => Some((self.volume(value?), tail)),
                "g" => Some((self.mass(value?), tail)),
                _ => None,
            };
            match unit.and_then(spaced) {
                Some((said, tail)) => {
                    out.push_str(&said);
                    rest = tail;
                }
                None => {
                    out.push_str(digits);
                    rest = after;
                }
            }
        }
        out.push_str(rest);
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCH: Speech = Speech {
        units: Units::Inch,
        language: Language::English,
    };

    /// 25.4 mm to the inch, 28.35 g to the ounce, 29.57 ml to the fluid ounce: handbook tables.
    #[test]
    fn metric_words_become_inches_and_nothing_else_changes() {
        for (said, wanted) in [
            ("Cut 25.4 mm off.", "Cut 1\u{a0}in off."),
            ("Wait 12 min; 3 of 4.", "Wait 12 min; 3 of 4."),
            ("a bead of 3\u{a0}mm", "a bead of 0.12\u{a0}in"),
            ("take 29.57 ml", "take 1\u{a0}fl\u{a0}oz"),
            ("28.35 g.", "1\u{a0}oz."),
            ("ISO 3098, part 1.", "ISO 3098, part 1."),
        ] {
            assert_eq!(INCH.rewrite(said), wanted);
        }
    }

    #[test]
    fn german_numbers_have_a_comma() {
        let numbers = Speech {
            units: Units::Metric,
            language: Language::German,
        };
        assert_eq!(numbers.length(12.5), "12,5\u{a0}mm");
        assert_eq!(numbers.mass(1500.0), "1,5\u{a0}kg");
    }
}
