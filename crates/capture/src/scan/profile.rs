//! A measured scanner: its two axes, and how well they are known.

use super::axis::ScannerAxis;
use crate::capture::print_sigma;
use serde::{Deserialize, Serialize};
use shape::{BadField, Point};

const VERSION: u32 = 1;

/// Most that a scanner's axes lean from a right angle, as a slope.
const MOST_SKEW: f64 = 0.05;

/// What one scan of a capture sheet tells of a scanner.
#[derive(Debug, Clone, PartialEq)]
pub struct ScannerProfile {
    pub(super) x: ScannerAxis,
    pub(super) y: ScannerAxis,
    /// How much x grows with y downwards, true mm over true mm.
    pub(super) skew: f64,
    pub(super) residual_rms_mm: f64,
    pub(super) residual_worst_mm: f64,
    pub(super) tags: usize,
    pub(super) print_measured: bool,
}

/// Why a text is no scanner's profile, or a scan gave none.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// Not JSON, or a field of the wrong form.
    #[error("{path}: {problem}")]
    Malformed {
        /// Where.
        path: String,
        /// What is wrong there.
        problem: String,
    },
    /// Another document, or one of a later version.
    #[error(
        "it is {format:?}, version {version}; give a profile that scanner-profile wrote ({:?}, version {VERSION})",
        ScannerProfile::FORMAT
    )]
    OtherForm {
        /// Its `format`.
        format: String,
        /// Its `version`.
        version: u32,
    },
    /// The scan itself.
    #[error(transparent)]
    Scan(#[from] super::ScanError),
    /// The sheet was not found in the scan.
    #[error(transparent)]
    Sheet(#[from] crate::camera::CameraError),
    /// Too little of the sheet is seen.
    #[error(
        "only {tags} of the sheet's tags are seen, eight or more are needed all round; lay the sheet face down flat on the \
         glass, all of it"
    )]
    FewTags {
        /// How many.
        tags: usize,
    },
    /// The tags are not where any scanner would see them.
    #[error(
        "the tags are off by {rms_mm:.2} mm from what any scanner makes of a flat sheet; press the sheet flat, scan it \
         without cropping or straightening, and give the resolution it was scanned with"
    )]
    DoesNotFit {
        /// Root mean square of the misses, mm.
        rms_mm: f64,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Described {
    format: String,
    version: u32,
    x: DescribedAxis,
    y: DescribedAxis,
    skew: f64,
    residual_rms_mm: f64,
    residual_worst_mm: f64,
    tags: usize,
    print_measured: bool,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DescribedAxis {
    nominal_mm: Vec<f64>,
    true_mm: Vec<f64>,
}

/// What every document of ours says first.
#[derive(Deserialize)]
struct Form {
    #[serde(default)]
    format: String,
    #[serde(default)]
    version: u32,
}

impl ScannerProfile {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-scanner-profile";

    /// Along the sensor: mm right of the picture's left edge.
    pub fn x(&self) -> &ScannerAxis {
        &self.x
    }

    /// Along the way of the carriage: mm down from the picture's upper edge.
    pub fn y(&self) -> &ScannerAxis {
        &self.y
    }

    /// How much x grows with y downwards, as a slope.
    pub fn skew(&self) -> f64 {
        self.skew
    }

    /// Root mean square of the corners' misses after the correction, mm.
    pub fn residual_rms_mm(&self) -> f64 {
        self.residual_rms_mm
    }

    /// The worst of them, mm.
    pub fn residual_worst_mm(&self) -> f64 {
        self.residual_worst_mm
    }

    /// How many tags it was measured by.
    pub fn tags(&self) -> usize {
        self.tags
    }

    /// How well its scale is known, one sigma as a share: the printed sheet's.
    pub fn scale_sigma(&self) -> f64 {
        print_sigma(self.print_measured)
    }

    /// Where a place by the resolution (mm right and down from the picture's upper-left corner) truly is: mm, y up.
    pub(super) fn on_glass(&self, nominal: [f64; 2]) -> Point {
        let y = self.y.true_of(nominal[1]);
        Point::new(self.x.true_of(nominal[0]) + self.skew * y, -y)
    }

    /// The inverse of [`Self::on_glass`].
    pub(super) fn nominal(&self, on_glass: Point) -> [f64; 2] {
        let y = -on_glass.y;
        [
            self.x.nominal_of(on_glass.x - self.skew * y),
            self.y.nominal_of(y),
        ]
    }

    /// Reads a profile.
    ///
    /// # Errors
    /// [`ProfileError::OtherForm`] for another document, [`ProfileError::Malformed`] with the path of the bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, ProfileError> {
        let bad = |path: &str, problem: &str| ProfileError::Malformed {
            path: path.into(),
            problem: problem.into(),
        };
        let form: Form = serde_json::from_slice(bytes).map_err(|e| ProfileError::Malformed {
            path: ".".into(),
            problem: e.to_string(),
        })?;
        if form.format != ScannerProfile::FORMAT || form.version != VERSION {
            return Err(ProfileError::OtherForm {
                format: form.format,
                version: form.version,
            });
        }
        let d: Described = shape::from_json(bytes)
            .map_err(|BadField { path, problem }| ProfileError::Malformed { path, problem })?;
        let axis = |path: &str, a: DescribedAxis| {
            let problem = "must be two lists of two to 500 rising lengths, mm, each piece of true_mm 0.8 to 1.25 times \
                           that of nominal_mm";
            ScannerAxis::try_new(a.nominal_mm, a.true_mm).ok_or_else(|| bad(path, problem))
        };
        if d.skew.is_nan() || d.skew.abs() > MOST_SKEW {
            return Err(bad("skew", "must be a slope of 0.05 at most"));
        }
        for (path, mm) in [
            ("residual_rms_mm", d.residual_rms_mm),
            ("residual_worst_mm", d.residual_worst_mm),
        ] {
            if !(0.0..10.0).contains(&mm) {
                return Err(bad(path, "must be 0 to 10 mm"));
            }
        }
        Ok(Self {
            x: axis("x", d.x)?,
            y: axis("y", d.y)?,
            skew: d.skew,
            residual_rms_mm: d.residual_rms_mm,
            residual_worst_mm: d.residual_worst_mm,
            tags: d.tags,
            print_measured: d.print_measured,
        })
    }

    /// The profile in the form that [`Self::from_json`] reads.
    pub fn to_json(&self) -> String {
        let axis = |a: &ScannerAxis| DescribedAxis {
            nominal_mm: a.nominal_mm().to_vec(),
            true_mm: a.true_mm().to_vec(),
        };
        let described = Described {
            format: ScannerProfile::FORMAT.into(),
            version: VERSION,
            x: axis(&self.x),
            y: axis(&self.y),
            skew: self.skew,
            residual_rms_mm: self.residual_rms_mm,
            residual_worst_mm: self.residual_worst_mm,
            tags: self.tags,
            print_measured: self.print_measured,
        };
        serde_json::to_string_pretty(&described).unwrap_or_default()
    }
}
