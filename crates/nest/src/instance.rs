//! Instances of the packing literature: a strip's height and the items that go on it, as JSON.
//!
//! They come in any unit, and the search works in lengths of hand-sized parts. So an instance is scaled as it is read, and
//! placements are carried back to its own unit.

use crate::NestError;
use crate::item::{Item, Placement, Spacing, Strip, Turns};
use crate::kinds::MOST_PIECES;
use file::File;
use serde::Serialize;
use serde_json::Number;
use shape::{
    BadField, Outline, OutlineError, Point, Pose, RingError, RingOverlay, Vector, overlay_rings,
};
use std::fmt;
use std::ops::RangeInclusive;

mod file;

/// The largest instance that is read, bytes.
pub const MAX_INSTANCE_BYTES: usize = 16 << 20;

/// Most items: as many as there may be pieces.
const MOST_ITEMS: usize = MOST_PIECES;

/// Most points of all items: to check a shape of very many holes takes seconds.
const MOST_POINTS: usize = 100_000;

/// Heights that a strip may have, in the file's unit.
const HEIGHTS: RangeInclusive<f64> = 1e-6..=1e12;

/// The scaled strip is this high at most, and higher than half of it, mm.
const SCALED_HEIGHT_MM: f64 = 1024.0;

/// Items that reach farther than this once they are scaled are moved, to lie where outlines may, mm.
const FAR_MM: f64 = 5e4;

/// A strip's height and what goes on it, scaled for the search.
#[derive(Debug, Clone, PartialEq)]
pub struct Instance {
    name: Option<String>,
    strip_height: f64,
    scale: f64,
    items: Vec<Item>,
    origins: Vec<Origin>,
}

/// Why a text is no instance. Items are named by their place in the list as given, from 0.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum InstanceError {
    /// More bytes than an instance can have.
    #[error("has {found} bytes, the limit is {MAX_INSTANCE_BYTES}")]
    TooLarge {
        /// Bytes found.
        found: usize,
    },
    /// A field that is not of the form that is asked.
    #[error("{path}: {problem}")]
    Malformed {
        /// Where, such as `items[2].demand`; `.` is the instance itself.
        path: String,
        /// What is wrong there.
        problem: String,
    },
    /// A height that no strip can have.
    #[error("strip_height is {found}; give a length of 0.000001 to 1000000000000")]
    BadHeight {
        /// What it is.
        found: f64,
    },
    /// More items or points than the limit.
    #[error("has more than {limit} {what}; make several instances of it")]
    TooMany {
        /// What there are too many of.
        what: &'static str,
        /// How many may be.
        limit: usize,
    },
    /// An item with a coordinate that is no number.
    #[error("{}: holds a coordinate that is no number", label(*.item, .id.as_ref()))]
    NoNumber {
        /// Which item.
        item: usize,
        /// What the file calls it.
        id: Option<ItemId>,
    },
    /// An item whose rings make no outline; places are told in scaled coordinates.
    #[error("{}: {source}", label(*.item, .id.as_ref()))]
    BadShape {
        /// Which item.
        item: usize,
        /// What the file calls it.
        id: Option<ItemId>,
        /// What is wrong with them.
        source: OutlineError,
    },
}

/// Where an item is from.
#[derive(Debug, Clone, PartialEq)]
struct Origin {
    id: Option<ItemId>,
    /// Taken off its coordinates before they were scaled; in the file's unit.
    taken_off: Vector,
}

/// What a file calls an item.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum ItemId {
    /// A number.
    Number(Number),
    /// A text.
    Text(String),
}

impl fmt::Display for ItemId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => fmt::Display::fmt(number, f),
            Self::Text(text) => fmt::Debug::fmt(text, f),
        }
    }
}

/// The rings of a shape, in the file's unit, not checked.
struct Rings {
    outer: Vec<Point>,
    holes: Vec<Vec<Point>>,
}

impl Rings {
    fn all(&self) -> impl Iterator<Item = &Vec<Point>> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    fn scaled(mut self, taken_off: Vector, scale: f64) -> Self {
        for p in std::iter::once(&mut self.outer)
            .chain(&mut self.holes)
            .flatten()
        {
            let near = *p - taken_off;
            *p = Point::new(near.x * scale, near.y * scale);
        }
        self
    }
}

impl Instance {
    /// Reads an instance: `{"name": …, "strip_height": …, "items": [{"id": …, "demand": …, "allowed_orientations": […],
    /// "shape": {"type": …, "data": …}}, …]}`. Name, ids and orientations (degrees) may be left out; without orientations
    /// any turn is allowed. Fields that are not used here may be there.
    ///
    /// A shape is a `simple_polygon`, its data `[[x, y], …]`; a `polygon`, its data `{"outer": [[x, y], …], "inner":
    /// [[[x, y], …], …]}`; or a `rectangle`, its data `{"x_min": …, "y_min": …, "width": …, "height": …}`. An outer ring
    /// that touches itself without crossing is taken as what it encloses.
    ///
    /// ```
    /// let text = br#"{"strip_height": 40, "items": [{"demand": 3, "shape": {
    ///     "type": "rectangle", "data": {"x_min": 0, "y_min": 0, "width": 30, "height": 20}}}]}"#;
    /// let instance = nest::Instance::from_json(text)?;
    /// assert_eq!(instance.scale(), 16.0);
    /// assert_eq!(instance.items()[0].outline.area_mm2(), 30.0 * 16.0 * 20.0 * 16.0);
    /// # Ok::<(), nest::InstanceError>(())
    /// ```
    ///
    /// # Errors
    /// [`InstanceError`], with the path of the first field or the first item that cannot be.
    pub fn from_json(bytes: &[u8]) -> Result<Self, InstanceError> {
        if bytes.len() > MAX_INSTANCE_BYTES {
            return Err(InstanceError::TooLarge { found: bytes.len() });
        }
        let file: File = shape::from_json(bytes)
            .map_err(|BadField { path, problem }| InstanceError::Malformed { path, problem })?;
        at_most(MOST_ITEMS, "items", file.items.len())?;
        let mut instance = Self {
            name: file.name,
            strip_height: file.strip_height,
            scale: scale_of(file.strip_height)?,
            items: Vec::with_capacity(file.items.len()),
            origins: Vec::with_capacity(file.items.len()),
        };
        let mut n_points = 0;
        for (at, item) in file.items.into_iter().enumerate() {
            let rings = item.shape.into_rings(at)?;
            n_points += rings.all().map(Vec::len).sum::<usize>();
            at_most(MOST_POINTS, "points", n_points)?;
            if !rings.all().flatten().all(|p| p.is_finite()) {
                return Err(InstanceError::NoNumber {
                    item: at,
                    id: item.id,
                });
            }
            let taken_off = taken_off(&rings, instance.scale);
            let outline = match outline_of(rings.scaled(taken_off, instance.scale)) {
                Ok(outline) => outline,
                Err(source) => {
                    return Err(InstanceError::BadShape {
                        item: at,
                        id: item.id,
                        source,
                    });
                }
            };
            instance.items.push(Item {
                outline,
                demand: usize::try_from(item.demand).unwrap_or(usize::MAX),
                turns: item.allowed_orientations.map_or(Turns::Free, Turns::Listed),
            });
            instance.origins.push(Origin {
                id: item.id,
                taken_off,
            });
        }
        Ok(instance)
    }

    /// What the file calls the instance.
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    /// Height of the strip, in the file's unit.
    pub fn strip_height(&self) -> f64 {
        self.strip_height
    }

    /// Millimetres of the items and the strip to one unit of the file: a power of two, so that scaling rounds nothing.
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// The items, ready for [`fill_strip`](crate::fill_strip).
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// The strip, ready for [`fill_strip`](crate::fill_strip), with a gap in the file's unit between two items.
    ///
    /// # Errors
    /// [`NestError::BadLength`] where the gap is not a number in range.
    pub fn strip(&self, gap: f64) -> Result<Strip, NestError> {
        let spacing = Spacing {
            gap_mm: gap * self.scale,
            edge_mm: 0.0,
        };
        Strip::try_new(self.strip_height * self.scale, spacing)
    }

    /// What the file calls an item; `None` where it says nothing, and where there is no such item.
    pub fn id(&self, item: usize) -> Option<&ItemId> {
        self.origins.get(item).and_then(|o| o.id.as_ref())
    }

    /// An item's path in the file and what the file calls it, for people.
    pub fn label(&self, item: usize) -> String {
        label(item, self.id(item))
    }

    /// Carries the file's own coordinates of the placed item to those of the strip, both in the file's unit.
    pub fn strip_from_file(&self, placement: &Placement) -> Pose {
        let pose = placement.strip_from_item;
        let taken_off = self
            .origins
            .get(placement.item)
            .map_or(Vector::default(), |o| o.taken_off);
        let shift = pose.turn(taken_off);
        Pose::new(
            pose.x / self.scale - shift.x,
            pose.y / self.scale - shift.y,
            pose.turn_deg,
        )
    }
}

fn label(item: usize, id: Option<&ItemId>) -> String {
    id.map_or(format!("items[{item}]"), |id| {
        format!("items[{item}] (id {id})")
    })
}

fn at_most(limit: usize, what: &'static str, found: usize) -> Result<(), InstanceError> {
    if found > limit {
        return Err(InstanceError::TooMany { what, limit });
    }
    Ok(())
}

/// A power of two, so that nothing is rounded: instances come in any unit, and the search works in lengths of hand-sized
/// parts.
fn scale_of(strip_height: f64) -> Result<f64, InstanceError> {
    if !HEIGHTS.contains(&strip_height) {
        return Err(InstanceError::BadHeight {
            found: strip_height,
        });
    }
    Ok((SCALED_HEIGHT_MM / strip_height).log2().floor().exp2())
}

/// What to take off the coordinates: nothing, or the first point of rings that reach far.
fn taken_off(rings: &Rings, scale: f64) -> Vector {
    let far = |p: &Point| p.x.abs().max(p.y.abs()) * scale > FAR_MM;
    match rings.outer.first() {
        Some(first) if rings.outer.iter().any(far) => *first - Point::default(),
        _ => Vector::default(),
    }
}

/// An outline of the rings; an outer ring that touches itself without crossing is taken as what it encloses.
fn outline_of(rings: Rings) -> Result<Outline, OutlineError> {
    let Rings { outer, holes } = rings;
    let refused = match Outline::try_new(outer.clone(), holes.clone()) {
        Err(e @ OutlineError::Outer(RingError::CrossesItself { .. })) => e,
        other => return other,
    };
    let expected_mm2 = enclosed_mm2(&outer) - holes.iter().map(|h| enclosed_mm2(h)).sum::<f64>();
    let mut enclosed = overlay_rings(&[outer], &holes, RingOverlay::Difference);
    let whole = enclosed.pop().filter(|_| enclosed.is_empty());
    // Where a ring crosses, some of it counts the other way or twice; where a hole reaches out of the outer ring or into another
    // one, some of it is not taken off. Either way the two areas differ.
    whole
        .filter(|o| (o.area_mm2() - expected_mm2).abs() <= 1e-6 * o.area_mm2())
        .ok_or(refused)
}

/// Area by the shoelace formula, mm2: what a ring encloses, where it does not cross itself.
fn enclosed_mm2(ring: &[Point]) -> f64 {
    let twice: f64 = (0..ring.len())
        .map(|i| (ring[i] - ring[0]).cross(ring[(i + 1) % ring.len()] - ring[0]))
        .sum();
    0.5 * twice.abs()
}
