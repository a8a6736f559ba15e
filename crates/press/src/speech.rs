//! In which language and units something is told: lengths, masses, volumes and times as people read them.

use crate::words::{Language, SheetWords, Words, filled};

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

/// A mass in ounces, from a pound on in pounds, and the unit.
fn in_ounces(g: f64) -> (f64, &'static str) {
    let g_per_pound = 16.0 * G_PER_OUNCE;
    if g >= g_per_pound {
        (g / g_per_pound, "lb")
    } else {
        (g / G_PER_OUNCE, "oz")
    }
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
        self.pointed(if text == "-0" { "0".to_owned() } else { text })
    }

    /// A number's text with the language's decimal sign.
    fn pointed(self, text: String) -> String {
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

    /// A length of what comes off a roll or is sold by length: metres or feet where it is long.
    pub(crate) fn stock_length(self, mm: f64) -> String {
        const MM_PER_FOOT: f64 = 12.0 * MM_PER_INCH;
        match self.units {
            Units::Metric if mm >= 1000.0 => format!("{}\u{a0}m", self.number(mm / 1000.0, 2)),
            Units::Inch if mm >= 3.0 * MM_PER_FOOT => {
                format!("{}\u{a0}ft", self.number(mm / MM_PER_FOOT, 1))
            }
            _ => self.length(mm),
        }
    }

    /// Hundredths of an inch; thousandths where that is less than two figures.
    fn inches(self, mm: f64) -> String {
        let inches = mm / MM_PER_INCH;
        self.number(inches, if inches.abs() < 0.1 { 3 } else { 2 })
    }

    /// Two lengths or three with one unit, all with as many decimals as one of them needs.
    pub(crate) fn size(self, mm: &[f64]) -> String {
        let (told, unit) = self.alike(mm);
        format!("{}\u{a0}{unit}", told.join("\u{a0}×\u{a0}"))
    }

    /// Lengths that stand below each other, all with as many decimals as one of them needs.
    pub(crate) fn column(self, mm: &[f64]) -> Vec<String> {
        let (told, unit) = self.alike(mm);
        told.iter().map(|v| format!("{v}\u{a0}{unit}")).collect()
    }

    /// Lengths with as many decimals as one of them needs, and their unit.
    fn alike(self, mm: &[f64]) -> (Vec<String>, &'static str) {
        let (per_unit, most, unit) = match self.units {
            Units::Metric => (1.0, 1, "mm"),
            Units::Inch if mm.iter().any(|v| v.abs() < 0.1 * MM_PER_INCH) => (MM_PER_INCH, 3, "in"),
            Units::Inch => (MM_PER_INCH, 2, "in"),
        };
        let lengths = || mm.iter().map(|v| v / per_unit);
        let needed = lengths().map(|v| {
            let text = self.number(v, most);
            text.find(['.', ',']).map_or(0, |at| text.len() - at - 1)
        });
        let decimals = needed.max().unwrap_or(0);
        let told = lengths().map(|v| self.pointed(format!("{v:.decimals$}")));
        (told.collect(), unit)
    }

    pub(crate) fn mass(self, g: f64) -> String {
        match self.units {
            Units::Metric if g >= 1000.0 => format!("{}\u{a0}kg", self.number(g / 1000.0, 2)),
            Units::Metric => format!("{}\u{a0}g", self.number(g, if g < 10.0 { 1 } else { 0 })),
            Units::Inch => {
                let (value, unit) = in_ounces(g);
                format!("{}\u{a0}{unit}", self.number(value, 2))
            }
        }
    }

    /// A mass that stands below others: in ounces and pounds all with two decimals.
    pub(crate) fn mass_in_column(self, g: f64) -> String {
        if self.units == Units::Metric {
            return self.mass(g);
        }
        let (value, unit) = in_ounces(g);
        format!("{}\u{a0}{unit}", self.pointed(format!("{value:.2}")))
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

    /// Rewrites "12.5 mm", "50 to 75 mm", "3 ml", "40 g" and "12 degrees Celsius" in a text that was written in metric units.
    pub(crate) fn rewrite(self, text: &str) -> String {
        if self.units == Units::Metric {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
            let (before, from) = rest.split_at(start);
            out.push_str(before);
            let (amounts, after) = self.amounts(from);
            match self.in_inches(&amounts, after) {
                Some((said, tail)) => {
                    out.push_str(&said);
                    rest = tail;
                }
                None => {
                    let digits = amounts.first().map_or(1, |a| a.digits.len());
                    out.push_str(&from[..digits]);
                    rest = &from[digits..];
                }
            }
        }
        out.push_str(rest);
        out
    }

    /// Numbers at the start of a text that share one unit, as in "50 to 75" and "300 x 400", and what comes after them.
    fn amounts(self, text: &str) -> (Vec<Amount<'_>>, &str) {
        const JOINTS: [&str; 6] = [" to ", " bis ", " x ", " × ", "\u{a0}×\u{a0}", " and "];
        let point = match self.language {
            Language::English => '.',
            Language::German => ',',
        };
        let mut found = Vec::new();
        let (mut rest, mut joint) = (text, "");
        loop {
            let end = rest
                .find(|c: char| !c.is_ascii_digit() && c != point)
                .unwrap_or(rest.len());
            let digits = rest[..end].trim_end_matches(point);
            let Ok(value) = digits.replace(',', ".").parse() else {
                break;
            };
            found.push(Amount {
                joint,
                digits,
                value,
            });
            let after = &rest[digits.len()..];
            let next = JOINTS.iter().find_map(|j| {
                let more = after.strip_prefix(j)?;
                more.starts_with(|c: char| c.is_ascii_digit())
                    .then_some((*j, more))
            });
            match next {
                Some((j, more)) => (joint, rest) = (j, more),
                None => return (found, after),
            }
        }
        (found, rest)
    }

    /// Amounts with the unit that a text begins with, in this edition's units, and what comes after the unit; `None` where
    /// there is no such unit.
    fn in_inches<'t>(self, amounts: &[Amount<'_>], text: &'t str) -> Option<(String, &'t str)> {
        let unit_on = text.strip_prefix([' ', '\u{a0}'])?;
        for celsius in ["degrees Celsius", "Grad Celsius"] {
            if let Some(tail) = unit_on.strip_prefix(celsius) {
                let said = joined(amounts, |c| self.number(fahrenheit(c), 0));
                return Some((format!("{said}\u{a0}°F"), tail));
            }
        }
        let end = unit_on
            .find(|c: char| !c.is_alphabetic())
            .unwrap_or(unit_on.len());
        let (unit, tail) = unit_on.split_at(end);
        // Not squared or cubed, as in "10 cm²".
        if tail.starts_with(['²', '³']) {
            return None;
        }
        let said = match unit {
            "mm" => format!("{}\u{a0}in", joined(amounts, |mm| self.inches(mm))),
            "ml" => joined(amounts, |ml| self.volume(ml)),
            "g" => joined(amounts, |g| self.mass(g)),
            "kg" => joined(amounts, |kg| self.mass(1000.0 * kg)),
            _ => return None,
        };
        Some((said, tail))
    }

    /// A handbook figure with its unit.
    pub(crate) fn figure(self, code: &str, value: f64, unit: &str, words: &Words) -> String {
        let inch = self.units == Units::Inch;
        // What the catalogue says with the figure's name alone.
        let unit = match unit {
            "" if code.ends_with("_g_cm3") => "g/cm³",
            "" if code.ends_with("_m_s2") => "m/s²",
            unit => unit,
        };
        let (value, unit) = match unit {
            "mm" => return self.length(value),
            "g" => return self.mass(value),
            "min" => return self.time(value, words),
            "times gravity" => return filled(words.times_gravity, &[&self.number(value, 1)]),
            "degrees" => return format!("{}°", self.number(value, 1)),
            "degrees Celsius" if inch => (fahrenheit(value), "°F"),
            "degrees Celsius" => (value, "°C"),
            "MPa" if inch => (value * PSI_PER_MPA, "psi"),
            "mm2/g" if inch => (value * G_PER_OUNCE / (MM_PER_INCH * MM_PER_INCH), "in²/oz"),
            "mm2/g" => (value, "mm²/g"),
            unit => (value, unit),
        };
        let decimals = match value.abs() {
            v if v < 0.1 => 4,
            v if v < 1000.0 => 2,
            _ => 0,
        };
        format!("{}\u{a0}{unit}", self.number(value, decimals))
            .trim_end()
            .to_owned()
    }
}

/// 1 psi = 1 lbf/in2, 1 lbf = 4.4482216152605 N.
const PSI_PER_MPA: f64 = MM_PER_INCH * MM_PER_INCH / 4.448_221_615_260_5;

fn fahrenheit(celsius: f64) -> f64 {
    1.8 * celsius + 32.0
}

/// A number in a text.
#[derive(Debug, Clone, Copy)]
struct Amount<'t> {
    /// What stands between it and the one before.
    joint: &'t str,
    digits: &'t str,
    value: f64,
}

fn joined(amounts: &[Amount<'_>], say: impl Fn(f64) -> String) -> String {
    let one = |a: &Amount<'_>| format!("{}{}", a.joint, say(a.value));
    amounts.iter().map(one).collect()
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
            ("Leave 50 to 75 mm.", "Leave 1.97 to 2.95\u{a0}in."),
            ("11 x 75 mm", "0.43 x 2.95\u{a0}in"),
            ("weighs 1.5 kg", "weighs 3.31\u{a0}lb"),
            (
                "more than 10 cm²; 40 mm² is less",
                "more than 10 cm²; 40 mm² is less",
            ),
            ("at 160 to 200 degrees Celsius", "at 320 to 392\u{a0}°F"),
            ("1 to 3 of 4 parts", "1 to 3 of 4 parts"),
        ] {
            assert_eq!(INCH.rewrite(said), wanted);
        }
    }

    #[test]
    fn lengths_of_one_size_have_as_many_decimals() {
        let metric = Speech::default();
        assert_eq!(metric.size(&[300.0, 400.04]), "300\u{a0}×\u{a0}400\u{a0}mm");
        assert_eq!(
            metric.size(&[118.2, 66.0]),
            "118.2\u{a0}×\u{a0}66.0\u{a0}mm"
        );
        assert_eq!(INCH.size(&[200.0, 149.86]), "7.87\u{a0}×\u{a0}5.90\u{a0}in");
        let german = Speech {
            units: Units::Metric,
            language: Language::German,
        };
        assert_eq!(german.size(&[5.0, 3.5]), "5,0\u{a0}×\u{a0}3,5\u{a0}mm");
        assert_eq!(INCH.column(&[5.08, 5.6]), ["0.20\u{a0}in", "0.22\u{a0}in"]);
        assert_eq!(metric.column(&[8.0, 12.0]), ["8\u{a0}mm", "12\u{a0}mm"]);
        assert!(metric.column(&[]).is_empty());
        // Half an ounce, and a pound and a half.
        let masses = [14.174_761_562_5, 680.388_555];
        let told = masses.map(|g| INCH.mass_in_column(g));
        assert_eq!(told, ["0.50\u{a0}oz", "1.50\u{a0}lb"]);
        assert_eq!(metric.mass_in_column(680.4), metric.mass(680.4));
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

    /// 1 MPa = 145.038 psi, 40 degrees Celsius = 104 Fahrenheit, 1 oz = 28.35 g: handbook tables.
    #[test]
    fn handbook_figures_have_units_that_people_use() {
        let metric = Speech::default();
        let words = Language::English.words();
        for (speech, value, unit, code, wanted) in [
            (metric, 1440.0, "min", "", "24\u{a0}h"),
            (metric, 40.0, "degrees Celsius", "", "40\u{a0}°C"),
            (INCH, 40.0, "degrees Celsius", "", "104\u{a0}°F"),
            (INCH, 1.0, "MPa", "", "145.04\u{a0}psi"),
            (
                metric,
                2.0,
                "",
                "rules.unknown_density_g_cm3",
                "2\u{a0}g/cm³",
            ),
            (metric, 0.005, "", "rules.bow_span_share", "0.005"),
            (metric, 40.0, "times gravity", "", "40 times gravity"),
        ] {
            assert_eq!(speech.figure(code, value, unit, words), wanted);
        }
    }
}
