//! Lengths, view boxes, and the page's size in mm.

use super::super::trace::{Affine, InFile, Traces};
use super::super::{DrawingError, DrawingUnit, Scale};
use super::PIXEL_MM;
use roxmltree::Node;
use std::str::FromStr;
use svgtypes::{Align, AspectRatio, Length, LengthUnit, ViewBox};

/// The size that shares are taken of, user units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Viewport {
    pub(super) width: f64,
    pub(super) height: f64,
}

/// A length in user units (CSS pixels); `None` where it is none. Shares are of `whole`; an em is CSS's medium
/// of 16 pixels, since text is not set here.
pub(super) fn length(text: &str, whole: f64) -> Option<f64> {
    let l = Length::from_str(text).ok()?;
    let per_unit = match l.unit {
        LengthUnit::None | LengthUnit::Px => 1.0,
        LengthUnit::In => 96.0,
        LengthUnit::Cm => 96.0 / 2.54,
        LengthUnit::Mm => 96.0 / 25.4,
        LengthUnit::Pt => 96.0 / 72.0,
        LengthUnit::Pc => 16.0,
        LengthUnit::Percent => whole / 100.0,
        LengthUnit::Em => 16.0,
        LengthUnit::Ex => 8.0,
    };
    Some(l.number * per_unit).filter(|v| v.is_finite())
}

/// The root's page: how long a user unit is, where it goes (y turned up), and the size of the view.
pub(super) fn root(
    root: Node<'_, '_>,
    unit: Option<DrawingUnit>,
    sink: &Traces,
) -> Result<(Scale, Affine, Viewport), DrawingError> {
    let at = 1;
    let boxed = view_box_of(root, at, sink)?;
    // A size in pixels says no more than none: programs write their own pixels there.
    let absolute = |name: &str| {
        let l = Length::from_str(root.attribute(name)?.trim()).ok()?;
        let stated = !matches!(
            l.unit,
            LengthUnit::None
                | LengthUnit::Px
                | LengthUnit::Percent
                | LengthUnit::Em
                | LengthUnit::Ex
        );
        (stated && l.number > 0.0)
            .then(|| length(root.attribute(name)?.trim(), 0.0))
            .flatten()
    };
    let (w, h) = (absolute("width"), absolute("height"));
    let stated = w.is_some() || h.is_some();
    let (scale, to_pixels, viewport) = match (boxed, w.or(h)) {
        (Some(b), Some(known)) => {
            let by = match (w, h) {
                (Some(_), _) => known / b.w,
                _ => known / b.h,
            };
            let (w, h) = (w.unwrap_or(b.w * by), h.unwrap_or(b.h * by));
            let (map, viewport) = fitted(b, aspect_of(root, at, sink)?, w, h);
            (map.a * PIXEL_MM, map, viewport)
        }
        (None, Some(_)) => {
            let (w, h) = (w.or(h).unwrap_or(0.0), h.or(w).unwrap_or(0.0));
            (
                PIXEL_MM,
                Affine::IDENTITY,
                Viewport {
                    width: w,
                    height: h,
                },
            )
        }
        (boxed, None) => {
            // Where a unit is said, it is that of the coordinates. Otherwise pixels, and the box, if there is
            // one, fills the size in pixels, if there is one.
            let of = |name: &str| {
                root.attribute(name)
                    .and_then(|t| length(t.trim(), 0.0))
                    .filter(|&v| v > 0.0)
            };
            match (unit, boxed) {
                (Some(u), _) => {
                    let by = u.mm() / PIXEL_MM;
                    let b = boxed.unwrap_or(ViewBox::new(
                        0.0,
                        0.0,
                        of("width").unwrap_or(0.0),
                        of("height").unwrap_or(0.0),
                    ));
                    let map = Affine::scale(by, by).after(Affine::shift(-b.x, -b.y));
                    (
                        u.mm(),
                        map,
                        Viewport {
                            width: b.w,
                            height: b.h,
                        },
                    )
                }
                (None, Some(b)) => {
                    let (w, h) = match (of("width"), of("height")) {
                        (None, None) => (b.w, b.h),
                        (Some(w), None) => (w, b.h * w / b.w),
                        (None, Some(h)) => (b.w * h / b.h, h),
                        (Some(w), Some(h)) => (w, h),
                    };
                    let (map, viewport) = fitted(b, aspect_of(root, at, sink)?, w, h);
                    (map.a * PIXEL_MM, map, viewport)
                }
                (None, None) => {
                    let viewport = Viewport {
                        width: of("width").unwrap_or(300.0),
                        height: of("height").unwrap_or(150.0),
                    };
                    (PIXEL_MM, Affine::IDENTITY, viewport)
                }
            }
        }
    };
    let height = h.unwrap_or(to_pixels.d * viewport.height);
    let page_from_pixels = Affine::new(PIXEL_MM, 0.0, 0.0, -PIXEL_MM, 0.0, height * PIXEL_MM);
    Ok((
        Scale {
            unit_mm: scale,
            stated,
        },
        page_from_pixels.after(to_pixels),
        viewport,
    ))
}

/// A nested element's view box, fitted into its size.
pub(super) fn view_box(
    node: Node<'_, '_>,
    w: f64,
    h: f64,
    at: impl InFile,
    sink: &Traces,
) -> Result<(Affine, Viewport), DrawingError> {
    match view_box_of(node, at, sink)? {
        Some(b) => Ok(fitted(b, aspect_of(node, at, sink)?, w, h)),
        None => Ok((
            Affine::IDENTITY,
            Viewport {
                width: w,
                height: h,
            },
        )),
    }
}

fn view_box_of(
    node: Node<'_, '_>,
    at: impl InFile,
    sink: &Traces,
) -> Result<Option<ViewBox>, DrawingError> {
    let Some(text) = node.attribute("viewBox") else {
        return Ok(None);
    };
    let sound = ViewBox::from_str(text)
        .ok()
        .filter(|b| [b.x, b.y, b.w, b.h].iter().all(|v| v.is_finite()) && b.w > 0.0 && b.h > 0.0);
    sound.map(Some).ok_or_else(|| {
        let shown: String = text.chars().take(40).collect();
        sink.broken(
            at,
            format!("viewBox is {shown:?}, not four numbers with a size; export it again"),
        )
    })
}

fn aspect_of(
    node: Node<'_, '_>,
    at: impl InFile,
    sink: &Traces,
) -> Result<AspectRatio, DrawingError> {
    let default = AspectRatio {
        defer: false,
        align: Align::XMidYMid,
        slice: false,
    };
    match node.attribute("preserveAspectRatio") {
        None => Ok(default),
        Some(text) => AspectRatio::from_str(text)
            .map_err(|_| sink.broken(at, "preserveAspectRatio cannot be read; export it again")),
    }
}

/// A view box in a size: SVG 2, section 8.2, "equivalent transform".
fn fitted(b: ViewBox, aspect: AspectRatio, w: f64, h: f64) -> (Affine, Viewport) {
    let (mut sx, mut sy) = (w / b.w, h / b.h);
    let (mut dx, mut dy) = (0.0, 0.0);
    if aspect.align != Align::None {
        let s = if aspect.slice { sx.max(sy) } else { sx.min(sy) };
        (sx, sy) = (s, s);
        let (left_x, left_y) = (w - b.w * s, h - b.h * s);
        let shares = match aspect.align {
            Align::None | Align::XMinYMin => (0.0, 0.0),
            Align::XMidYMin => (0.5, 0.0),
            Align::XMaxYMin => (1.0, 0.0),
            Align::XMinYMid => (0.0, 0.5),
            Align::XMidYMid => (0.5, 0.5),
            Align::XMaxYMid => (1.0, 0.5),
            Align::XMinYMax => (0.0, 1.0),
            Align::XMidYMax => (0.5, 1.0),
            Align::XMaxYMax => (1.0, 1.0),
        };
        (dx, dy) = (shares.0 * left_x, shares.1 * left_y);
    }
    let map = Affine::new(sx, 0.0, 0.0, sy, dx - b.x * sx, dy - b.y * sy);
    (
        map,
        Viewport {
            width: b.w,
            height: b.h,
        },
    )
}
