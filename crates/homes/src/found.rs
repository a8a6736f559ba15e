//! What photos, or a drawing, say of the parts' homes.

use crate::sought::Side;
use capture::camera::CameraWarning;
use piece::Home;
use shape::{Outline, Pose};

/// A part's confidence below which its home is to be looked at by somebody.
pub const SURE: f64 = 0.8;

/// Below this, a part counts as not found.
pub const LEAST: f64 = 0.35;

/// Where one part sits.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Its home in the device, seen from the front.
    pub home: Home,
    /// How much speaks for it, 0 to 1. Its weights are set by hand on rendered devices: places above 0.9 were wrong now and then.
    pub confidence: f64,
    /// Which of its faces looks to the device's front; [`Side::Back`] where the part is found the other way round than its
    /// outline was captured. Then the home is that of the outline mirrored about its own vertical centre line.
    pub front_is: Side,
    /// Height of its top over the sheet as it lay there, mm, and one sigma of it.
    pub top_mm: f64,
    /// One sigma of that, mm.
    pub top_sigma_mm: f64,
    /// Stages that show it.
    pub stages: Vec<u32>,
    /// The first stage that shows it whole; `None` where something hides some of it in all.
    pub whole_at: Option<u32>,
    /// Parts (by their number in the list that was looked for) that lie over some of it.
    pub hidden_by: Vec<usize>,
    /// Other homes where it could as well be: places of parts that look the same.
    pub as_well_at: Vec<Home>,
    /// Parts that look the same, so that nobody can say which is which.
    pub alike: Vec<usize>,
    /// Turns, degrees, besides the home's that look the same: the part has no right way up that could be seen.
    pub turns_alike: Vec<f64>,
    /// Only its outline was looked for: there is no picture of the face that the photos show.
    pub by_outline: bool,
}

/// What is known of one part.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// It was found in the device.
    Found(Box<Place>),
    /// It lies on the sheet beside the device at this stage: no home can be told.
    Beside {
        /// The stage.
        stage: u32,
    },
    /// It was found nowhere.
    NotFound,
}

impl Outcome {
    /// The place, where there is one.
    pub fn place(&self) -> Option<&Place> {
        match self {
            Self::Found(place) => Some(place),
            _ => None,
        }
    }
}

/// How one photo was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoSeen {
    /// Its stage.
    pub stage: u32,
    /// Carries the device's frame as seen from above (x mirrored where it is opened from the back) onto the sheet.
    pub sheet_from_device: Pose,
    /// The device's silhouette, mm of the sheet.
    pub silhouette: Outline,
    /// The camera's height over the sheet, mm.
    pub camera_height_mm: f64,
    /// The place straight below it, mm of the sheet.
    pub nadir_mm: [f64; 2],
    /// How many parts are seen in it.
    pub parts_seen: usize,
    /// Common share of its silhouette and the first photo's, 0 to 1.
    pub silhouettes_agree: f64,
    /// It shows next to nothing of the device of the other photos.
    pub stranger: bool,
    /// What is worth knowing of its camera.
    pub warnings: Vec<CameraWarning>,
}

/// All that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The device's outline in its own frame, seen from the front; mm from its lower left.
    pub device: Outline,
    /// Width and height of the device, mm.
    pub size_mm: [f64; 2],
    /// Each photo, by stage.
    pub photos: Vec<PhotoSeen>,
    /// Each part, in the order in which they were given.
    pub parts: Vec<Outcome>,
}
