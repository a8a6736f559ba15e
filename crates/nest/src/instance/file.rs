//! The form of an instance's file.
//!
//! Shapes and ids are read by hand. Derived enums would keep what stands before its type in tens of bytes a number, so that a
//! hostile file took far more memory than it has bytes.

use super::{InstanceError, ItemId, Rings};
use serde::Deserialize;
use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer};
use serde::de::{Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::Number;
use shape::Point;
use std::fmt;

/// An instance: a strip's height and what goes on it. Fields that are not used here may be there.
#[derive(Debug, Deserialize)]
pub(super) struct File {
    #[serde(default)]
    pub(super) name: Option<String>,
    pub(super) strip_height: f64,
    pub(super) items: Vec<FileItem>,
}

#[derive(Debug, Deserialize)]
pub(super) struct FileItem {
    #[serde(default)]
    pub(super) id: Option<ItemId>,
    pub(super) demand: u64,
    /// Degrees; left out where any turn is allowed.
    #[serde(default)]
    pub(super) allowed_orientations: Option<Vec<f64>>,
    pub(super) shape: Shape,
}

#[derive(Debug, Deserialize)]
pub(super) struct Shape {
    #[serde(rename = "type")]
    form: Form,
    data: Data,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Form {
    SimplePolygon,
    Polygon,
    Rectangle,
}

/// A shape's data, which may stand before its type.
#[derive(Debug)]
enum Data {
    Points(Vec<Point>),
    Fields(Fields),
}

/// All fields that the data of a shape may have.
#[derive(Debug, Deserialize)]
struct Fields {
    outer: Option<Vec<Point>>,
    #[serde(default)]
    inner: Vec<Vec<Point>>,
    x_min: Option<f64>,
    y_min: Option<f64>,
    width: Option<f64>,
    height: Option<f64>,
}

impl Shape {
    /// The rings of the shape of the item at this place.
    pub(super) fn into_rings(self, item: usize) -> Result<Rings, InstanceError> {
        let bad = |problem: &str| InstanceError::Malformed {
            path: format!("items[{item}].shape.data"),
            problem: problem.into(),
        };
        match (self.form, self.data) {
            (Form::SimplePolygon, Data::Points(outer)) => Ok(Rings {
                outer,
                holes: Vec::new(),
            }),
            (Form::SimplePolygon, Data::Fields(_)) => {
                Err(bad("a simple_polygon needs a list of points"))
            }
            (Form::Polygon, Data::Fields(fields)) => Ok(Rings {
                outer: fields
                    .outer
                    .ok_or_else(|| bad("a polygon needs outer, a list of points"))?,
                holes: fields.inner,
            }),
            (Form::Polygon, Data::Points(_)) => Err(bad(
                "a polygon needs outer, a list of points, and may have inner, a list of such lists",
            )),
            (Form::Rectangle, data) => data
                .rectangle()
                .ok_or_else(|| bad("a rectangle needs x_min, y_min, width and height")),
        }
    }
}

impl Data {
    fn rectangle(&self) -> Option<Rings> {
        let Self::Fields(fields) = self else {
            return None;
        };
        let (x, y) = (fields.x_min?, fields.y_min?);
        let (w, h) = (fields.width?, fields.height?);
        let corners = [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
        Some(Rings {
            outer: corners.map(Point::from).to_vec(),
            holes: Vec::new(),
        })
    }
}

impl<'de> Deserialize<'de> for Data {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct ListOrFields;

        impl<'de> Visitor<'de> for ListOrFields {
            type Value = Data;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of points or the fields of a shape")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<Data, A::Error> {
                Deserialize::deserialize(SeqAccessDeserializer::new(list)).map(Data::Points)
            }

            fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<Data, A::Error> {
                Deserialize::deserialize(MapAccessDeserializer::new(fields)).map(Data::Fields)
            }
        }

        from.deserialize_any(ListOrFields)
    }
}

impl<'de> Deserialize<'de> for ItemId {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct NumberOrText;

        impl Visitor<'_> for NumberOrText {
            type Value = ItemId;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number or a text")
            }

            fn visit_u64<E: Error>(self, number: u64) -> Result<ItemId, E> {
                Ok(ItemId::Number(number.into()))
            }

            fn visit_i64<E: Error>(self, number: i64) -> Result<ItemId, E> {
                Ok(ItemId::Number(number.into()))
            }

            fn visit_f64<E: Error>(self, number: f64) -> Result<ItemId, E> {
                Number::from_f64(number)
                    .map(ItemId::Number)
                    .ok_or_else(|| E::custom("the id is no number"))
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<ItemId, E> {
                Ok(ItemId::Text(text.to_owned()))
            }
        }

        from.deserialize_any(NumberOrText)
    }
}
