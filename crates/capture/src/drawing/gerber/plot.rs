//! The plotter: what a Gerber file's commands draw.

use super::super::curve::EllipseArc;
use super::super::trace::{Affine, Traces};
use super::super::{DrawingError, DrawingUnit, DrawingWarning, Scale};
use super::words::words_of;
use shape::{Point, Vector};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Radii of an arc's two ends may differ by this before it is said, mm: two steps of the coarsest common
/// coordinates (four decimals of an inch).
const LOOSE_ARC_MM: f64 = 0.006;

const EDGE_ALONE: &str = "give the profile layer alone";

/// How coordinates are written.
#[derive(Clone, Copy)]
struct Digits {
    whole: usize,
    decimals: usize,
    /// Zeros are left off at the end, not at the start.
    no_trailing: bool,
}

#[derive(Clone, Copy, PartialEq)]
enum Interpolation {
    Linear,
    Clockwise,
    CounterClockwise,
}

pub(super) struct Plot<'s> {
    sink: &'s mut Traces,
    unit: Option<DrawingUnit>,
    stated_mm: Option<f64>,
    digits: Option<Digits>,
    incremental: bool,
    interpolation: Interpolation,
    single_quadrant: bool,
    in_region: bool,
    in_block: usize,
    last_operation: u32,
    /// Where the pen is, mm.
    at: Point,
    /// What is drawn since the last move, mm, and where that started in the file.
    contour: Vec<Point>,
    line: usize,
    /// From which trace on, how often, and how far apart the image repeats.
    repeat: Option<(usize, [u32; 2], Vector)>,
    loose: (usize, f64),
    function_told: bool,
}

impl<'s> Plot<'s> {
    pub(super) fn new(unit: Option<DrawingUnit>, sink: &'s mut Traces) -> Self {
        Self {
            sink,
            unit,
            stated_mm: None,
            digits: None,
            incremental: false,
            interpolation: Interpolation::Linear,
            single_quadrant: false,
            in_region: false,
            in_block: 0,
            last_operation: 0,
            at: Point::default(),
            contour: Vec::new(),
            line: 1,
            repeat: None,
            loose: (0, 0.0),
            function_told: false,
        }
    }

    fn unit_mm(&self) -> f64 {
        let assumed = || self.unit.map_or(1.0, DrawingUnit::mm);
        self.stated_mm.unwrap_or_else(assumed)
    }

    /// A command between percent signs. None ends the file.
    pub(super) fn extended(&mut self, text: &str, line: usize) -> Result<bool, DrawingError> {
        let text: String = text.chars().filter(|c| !matches!(c, '\n' | '\r')).collect();
        let (code, rest) = text.split_at_checked(2).unwrap_or((&text, ""));
        match code {
            "FS" => self.format(rest, line)?,
            "MO" => {
                self.stated_mm = Some(match rest {
                    "MM" => 1.0,
                    "IN" => 25.4,
                    _ => {
                        return Err(self
                            .sink
                            .broken(line, "the unit is neither MM nor IN; export it again"));
                    }
                });
            }
            "SR" => self.step_and_repeat(rest, line)?,
            "AB" => {
                self.flush()?;
                if rest.is_empty() {
                    self.in_block = self.in_block.saturating_sub(1);
                } else {
                    self.in_block += 1;
                }
            }
            "TF" => self.file_attribute(rest),
            // Apertures, names, object attributes and what only turns flashes: nothing for a middle line.
            "AD" | "AM" | "LP" | "LM" | "LR" | "LS" | "LN" | "IN" | "TA" | "TO" | "TD" => {}
            "IP" if rest == "POS" => {}
            "OF" | "MI" | "AS" | "SF" | "IR" | "IP" => {
                let idle = matches!(
                    (code, rest),
                    ("AS", "AXBY")
                        | ("MI", "A0B0")
                        | ("IR", "0")
                        | ("OF", "A0B0" | "A0.0B0.0")
                        | ("SF", "A1B1" | "A1.0B1.0")
                );
                if !idle {
                    self.sink.leave_out("old image command", "export with a current program: shifts, mirrors and scales of the whole image are not followed");
                }
            }
            _ => self.sink.leave_out("unknown command", EDGE_ALONE),
        }
        Ok(false)
    }

    fn format(&mut self, rest: &str, line: usize) -> Result<(), DrawingError> {
        let words = words_of(rest);
        let has = |c: char| words.iter().any(|(w, _)| *w == c);
        let digits = |c: char| {
            let number = &words.iter().find(|(w, _)| *w == c)?.1;
            let (a, b) = (
                number.chars().next()?.to_digit(10)?,
                number.chars().nth(1)?.to_digit(10)?,
            );
            (number.len() == 2).then_some((a as usize, b as usize))
        };
        let (x, y) = (digits('X'), digits('Y'));
        let sound = x.filter(|_| x == y);
        let (whole, decimals) = sound.ok_or_else(|| {
            let shown: String = rest.chars().take(20).collect();
            self.sink.broken(
                line,
                format!("the coordinate format {shown:?} cannot be read; export it again"),
            )
        })?;
        self.digits = Some(Digits {
            whole,
            decimals,
            no_trailing: has('T'),
        });
        self.incremental = has('I');
        Ok(())
    }

    fn file_attribute(&mut self, rest: &str) {
        if let Some(function) = rest.strip_prefix(".FileFunction,") {
            let is_profile = function.split(',').next() == Some("Profile");
            if !is_profile && !self.function_told {
                self.function_told = true;
                self.sink.warn(DrawingWarning::NotAProfile {
                    said: function.chars().take(60).collect(),
                });
            }
        }
    }

    /// Ends a repeated part, and starts one where more than one copy is asked for.
    fn step_and_repeat(&mut self, rest: &str, line: usize) -> Result<(), DrawingError> {
        self.flush()?;
        self.end_repeat(line)?;
        let words = words_of(rest);
        let number = |c: char, or: f64| -> Result<f64, DrawingError> {
            match words.iter().find(|(w, _)| *w == c) {
                None => Ok(or),
                Some((_, n)) => n
                    .parse::<f64>()
                    .ok()
                    .filter(|v| v.is_finite() && v.abs() < 1e6)
                    .ok_or_else(|| {
                        self.sink.broken(
                            line,
                            "a number of the repetition cannot be read; export it again",
                        )
                    }),
            }
        };
        let counts = [
            number('X', 1.0)?.max(1.0) as u32,
            number('Y', 1.0)?.max(1.0) as u32,
        ];
        let by = Vector::new(number('I', 0.0)?, number('J', 0.0)?) * self.unit_mm();
        if counts != [1, 1] {
            self.repeat = Some((self.sink.len(), counts, by));
        }
        Ok(())
    }

    fn end_repeat(&mut self, line: usize) -> Result<(), DrawingError> {
        let Some((from, [columns, rows], by)) = self.repeat.take() else {
            return Ok(());
        };
        let to = self.sink.len();
        for row in 0..rows {
            for column in 0..columns {
                if (row, column) != (0, 0) {
                    // Counted even where nothing repeats.
                    self.sink.count_entity()?;
                    let shift = Vector::new(by.x * f64::from(column), by.y * f64::from(row));
                    self.sink.repeat(from, to, shift, line)?;
                }
            }
        }
        Ok(())
    }

    /// Function codes and coordinates. True where the file ends.
    pub(super) fn words(&mut self, text: &str, line: usize) -> Result<bool, DrawingError> {
        let bare = text.trim_start();
        if let Some(comment) = bare
            .strip_prefix("G04")
            .or_else(|| bare.strip_prefix("G4 "))
        {
            // Attributes of X2 in a comment, for readers that do not know them.
            let attribute = comment
                .trim_start()
                .strip_prefix("#@!")
                .map(str::trim_start);
            if let Some(rest) = attribute.and_then(|a| a.strip_prefix("TF")) {
                self.file_attribute(rest);
            }
            return Ok(false);
        }
        let (mut x, mut y, mut i, mut j) = (None, None, None, None);
        let mut operation = None;
        let mut ended = false;
        for (letter, number) in words_of(text) {
            let code = || {
                number.parse::<u32>().map_err(|_| {
                    let shown: String = number.chars().take(20).collect();
                    self.sink
                        .broken(line, format!("{letter}{shown} is no code; export it again"))
                })
            };
            match letter {
                'N' => {}
                'X' => x = Some(self.coordinate(&number, line)?),
                'Y' => y = Some(self.coordinate(&number, line)?),
                'I' => i = Some(self.coordinate(&number, line)?),
                'J' => j = Some(self.coordinate(&number, line)?),
                'G' => {
                    let code = code()?;
                    self.function(code, line)?;
                }
                'D' => operation = Some(code()?),
                'M' => ended |= matches!(code()?, 0 | 2 | 30),
                _ => {
                    let problem =
                        format!("{letter:?} stands where a code belongs; is this a Gerber file?");
                    return Err(self.sink.broken(line, problem));
                }
            }
        }
        let coordinates = x.or(y).or(i).or(j).is_some();
        match operation {
            // Another aperture; the middle line stays.
            Some(10..) => return Ok(ended),
            Some(d) => self.last_operation = d,
            None if !coordinates => return Ok(ended),
            None => {}
        }
        let target = if self.incremental {
            self.at + Vector::new(x.unwrap_or(0.0), y.unwrap_or(0.0))
        } else {
            Point::new(x.unwrap_or(self.at.x), y.unwrap_or(self.at.y))
        };
        let centre = Vector::new(i.unwrap_or(0.0), j.unwrap_or(0.0));
        self.operate(target, centre, line)?;
        Ok(ended)
    }

    fn function(&mut self, code: u32, line: usize) -> Result<(), DrawingError> {
        match code {
            1 => self.interpolation = Interpolation::Linear,
            2 => self.interpolation = Interpolation::Clockwise,
            3 => self.interpolation = Interpolation::CounterClockwise,
            36 => {
                self.flush()?;
                self.in_region = true;
            }
            37 => {
                self.flush()?;
                self.in_region = false;
            }
            70 => self.stated_mm = self.stated_mm.or(Some(25.4)),
            71 => self.stated_mm = self.stated_mm.or(Some(1.0)),
            74 => self.single_quadrant = true,
            75 => self.single_quadrant = false,
            90 => self.incremental = false,
            91 => self.incremental = true,
            54 | 55 => {}
            10..=12 => {
                return Err(self.sink.broken(
                    line,
                    "old scaled coordinates (G10 to G12) are not read; export it again",
                ));
            }
            _ => self.sink.leave_out("unknown command", EDGE_ALONE),
        }
        Ok(())
    }

    /// A coordinate, mm.
    fn coordinate(&self, number: &str, line: usize) -> Result<f64, DrawingError> {
        let bad = || {
            let shown: String = number.chars().take(20).collect();
            self.sink
                .broken(line, format!("{shown:?} is no coordinate; export it again"))
        };
        let Some(digits) = self.digits else {
            return Err(self.sink.broken(
                line,
                "a coordinate comes before the coordinate format (FS); export it again",
            ));
        };
        if number.contains('.') {
            let value = number.parse::<f64>().ok().filter(|v| v.is_finite());
            return value.map(|v| v * self.unit_mm()).ok_or_else(bad);
        }
        let (negative, figures) = match number.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, number.strip_prefix('+').unwrap_or(number)),
        };
        let sound =
            (1..=15).contains(&figures.len()) && figures.bytes().all(|b| b.is_ascii_digit());
        let mut whole: f64 = figures
            .parse::<u64>()
            .ok()
            .filter(|_| sound)
            .ok_or_else(bad)? as f64;
        if digits.no_trailing {
            let missing = (digits.whole + digits.decimals).saturating_sub(figures.len());
            whole *= 10_f64.powi(missing as i32);
        }
        let value = whole / 10_f64.powi(digits.decimals as i32) * self.unit_mm();
        Ok(if negative { -value } else { value })
    }

    fn operate(&mut self, target: Point, centre: Vector, line: usize) -> Result<(), DrawingError> {
        self.sink.count_entity()?;
        match self.last_operation {
            1 => {
                if self.contour.is_empty() {
                    self.contour.push(self.at);
                    self.line = line;
                }
                match self.interpolation {
                    Interpolation::Linear => self.contour.push(target),
                    Interpolation::Clockwise => self.arc(target, centre, false)?,
                    Interpolation::CounterClockwise => self.arc(target, centre, true)?,
                }
                if self.contour.len() > self.sink.points_left() {
                    return Err(self.sink.too_many_points());
                }
            }
            2 => self.flush()?,
            3 => self.sink.leave_out("pad", EDGE_ALONE),
            _ => {
                return Err(self.sink.broken(
                    line,
                    "a coordinate without D01, D02 or D03; export it again",
                ));
            }
        }
        self.at = target;
        Ok(())
    }

    fn arc(
        &mut self,
        target: Point,
        offset: Vector,
        counter_clockwise: bool,
    ) -> Result<(), DrawingError> {
        let from = self.at;
        let turn_about = |centre: Point| {
            let angle = |p: Point| (p.y - centre.y).atan2(p.x - centre.x);
            let turn = (angle(target) - angle(from)).rem_euclid(TAU);
            if counter_clockwise {
                turn
            } else {
                (TAU - turn) % TAU
            }
        };
        let miss = |centre: Point| (centre.distance_mm(from) - centre.distance_mm(target)).abs();
        let (centre, turn) = if self.single_quadrant {
            if from == target {
                return Ok(());
            }
            // Offsets without a sign: the centre is the one of four that fits best with a quarter turn at most.
            let signs = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)];
            let centres =
                signs.map(|(sx, sy)| from + Vector::new(sx * offset.x.abs(), sy * offset.y.abs()));
            let within = centres
                .into_iter()
                .filter(|&c| turn_about(c) <= FRAC_PI_2 + 1e-3);
            let best = within.min_by(|&a, &b| miss(a).total_cmp(&miss(b)));
            let Some(centre) = best else {
                self.loose = (self.loose.0 + 1, self.loose.1.max(from.distance_mm(target)));
                self.contour.push(target);
                return Ok(());
            };
            (centre, turn_about(centre))
        } else {
            let centre = from + offset;
            // The same end as start is a whole turn.
            let turn = if from == target {
                TAU
            } else {
                turn_about(centre)
            };
            (centre, turn)
        };
        if miss(centre) > LOOSE_ARC_MM {
            self.loose = (self.loose.0 + 1, self.loose.1.max(miss(centre)));
        }
        let start = (from.y - centre.y).atan2(from.x - centre.x);
        let radius = 0.5 * (centre.distance_mm(from) + centre.distance_mm(target));
        let sweep = if counter_clockwise { turn } else { -turn };
        let arc = EllipseArc::circle([centre.x, centre.y], radius, start, sweep, Affine::IDENTITY);
        let left = self.sink.points_left().saturating_sub(self.contour.len());
        let mut chords = arc
            .chords(left)
            .ok_or_else(|| self.sink.too_many_points())?;
        // The end itself, exactly.
        chords.pop();
        self.contour.extend(chords);
        self.contour.push(target);
        Ok(())
    }

    /// Hands over what was drawn since the last move.
    fn flush(&mut self) -> Result<(), DrawingError> {
        let contour = std::mem::take(&mut self.contour);
        if contour.len() < 2 {
            return Ok(());
        }
        if self.in_block > 0 {
            self.sink.leave_out("draw in a block aperture", EDGE_ALONE);
            return Ok(());
        }
        self.sink.add(contour, self.in_region, None, self.line)
    }

    /// The end of the file.
    pub(super) fn finish(mut self) -> Result<Scale, DrawingError> {
        self.flush()?;
        self.end_repeat(self.line)?;
        if self.loose.0 > 0 {
            self.sink.warn(DrawingWarning::LooseArcs {
                count: self.loose.0,
                worst_mm: self.loose.1,
            });
        }
        Ok(Scale {
            unit_mm: self.unit_mm(),
            stated: self.stated_mm.is_some(),
        })
    }
}
