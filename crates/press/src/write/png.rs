//! PNG by way of pixels.

use crate::pixels::{self, Effort};
use crate::raster::{MAX_PIXELS, pixel_size, to_path, to_transform};
use crate::{Affine, Drawing, Group, Ink, Item, Path, Picture, PressError, Stroke};
use shape::Point;
use tiny_skia::{
    Color, FillRule, FilterQuality, LineCap, LineJoin, Mask, Paint, Pattern, Pixmap, PixmapPaint,
    SpreadMode, StrokeDash, Transform,
};

/// Draws a page on white at the given scale.
///
/// # Errors
/// - [`PressError::Length`]: a scale that is not positive.
/// - [`PressError::TooManyPixels`]: more than 100 million.
/// - [`PressError::Write`]: the PNG library refuses.
pub fn to_png(drawing: &Drawing, px_per_mm: f64) -> Result<Vec<u8>, PressError> {
    let pixmap = to_pixels(drawing, px_per_mm)?;
    let (w, h) = (pixmap.width(), pixmap.height());
    // The paper is white and solid, so that straight and premultiplied alpha are the same.
    pixels::encode_png(w, h, pixmap.data(), Some(px_per_mm), Effort::Small).map_err(|e| {
        PressError::Write {
            format: "PNG",
            reason: e.to_string(),
        }
    })
}

/// Draws a page on white at the given scale and keeps the pixels.
///
/// # Errors
/// Those of [`to_png`] but the last.
pub fn to_picture(drawing: &Drawing, px_per_mm: f64) -> Result<Picture, PressError> {
    let pixmap = to_pixels(drawing, px_per_mm)?;
    Ok(Picture {
        width_px: pixmap.width(),
        height_px: pixmap.height(),
        rgba: pixmap.take().into(),
        page_from_unit: Affine::scaled(drawing.width_mm, drawing.height_mm, Point::default()),
    })
}

impl Picture {
    /// The picture as PNG, made quickly, as photographs hardly get smaller by trying harder; the scale is noted in the file.
    ///
    /// # Errors
    /// [`PressError::Write`]: the PNG library refuses, such as for pixels that do not fit the size.
    pub fn to_png(&self, px_per_mm: Option<f64>) -> Result<Vec<u8>, PressError> {
        pixels::encode_png(
            self.width_px,
            self.height_px,
            &self.rgba,
            px_per_mm,
            Effort::Quick,
        )
        .map_err(|e| PressError::Write {
            format: "PNG",
            reason: e.to_string(),
        })
    }

    /// A solid picture made smaller so that its longer side has at most so many pixels, each the mean of what it covers.
    #[must_use]
    pub fn shrunk(&self, long_px: u32) -> Self {
        let (w, h) = (self.width_px, self.height_px);
        let share = f64::from(long_px.max(1)) / f64::from(w.max(h).max(1));
        if share >= 1.0 || self.rgba.len() as u64 != u64::from(w) * u64::from(h) * 4 {
            return self.clone();
        }
        let small = |px: u32| ((f64::from(px) * share).round() as u32).max(1);
        let (sw, sh) = (small(w), small(h));
        let edge =
            |i: u32, from: u32, to: u32| (u64::from(i) * u64::from(from) / u64::from(to)) as u32;
        let mut rgba = Vec::with_capacity(sw as usize * sh as usize * 4);
        for y in 0..sh {
            let (y0, y1) = (edge(y, h, sh), edge(y + 1, h, sh).max(edge(y, h, sh) + 1));
            for x in 0..sw {
                let (x0, x1) = (edge(x, w, sw), edge(x + 1, w, sw).max(edge(x, w, sw) + 1));
                let mut sum = [0_u32; 4];
                for py in y0..y1 {
                    for px in x0..x1 {
                        let i = 4 * (py as usize * w as usize + px as usize);
                        for (s, v) in sum.iter_mut().zip(&self.rgba[i..i + 4]) {
                            *s += u32::from(*v);
                        }
                    }
                }
                let count = (y1 - y0) * (x1 - x0);
                rgba.extend(sum.map(|s| ((s + count / 2) / count) as u8));
            }
        }
        Self {
            width_px: sw,
            height_px: sh,
            rgba: rgba.into(),
            page_from_unit: self.page_from_unit,
        }
    }
}

pub(crate) fn to_pixels(drawing: &Drawing, px_per_mm: f64) -> Result<Pixmap, PressError> {
    let [width, height] = pixel_size([drawing.width_mm, drawing.height_mm], px_per_mm)?;
    let mut pixmap = Pixmap::new(width, height).ok_or(PressError::TooManyPixels {
        width: width.into(),
        height: height.into(),
        limit: MAX_PIXELS,
    })?;
    pixmap.fill(Color::WHITE);
    let pixels_from_page = Affine {
        xx: px_per_mm,
        xy: 0.0,
        x0: 0.0,
        yx: 0.0,
        yy: -px_per_mm,
        y0: drawing.height_mm * px_per_mm,
    };
    draw(&mut pixmap, &drawing.items, pixels_from_page, None);
    Ok(pixmap)
}

fn draw(pixmap: &mut Pixmap, items: &[Item], pixels_from_items: Affine, mask: Option<&Mask>) {
    let transform = to_transform(pixels_from_items);
    for item in items {
        match item {
            Item::Shape(shape) => {
                let Some(path) = to_path(&shape.path) else {
                    continue;
                };
                if let Some(ink) = shape.fill {
                    pixmap.fill_path(&path, &paint(ink), FillRule::EvenOdd, transform, mask);
                }
                if let Some(stroke) = &shape.stroke {
                    let ink = paint(stroke.ink);
                    pixmap.stroke_path(&path, &ink, &to_stroke(stroke), transform, mask);
                }
            }
            Item::Text(text) => {
                if let Some(path) = to_path(&text.letters()) {
                    pixmap.fill_path(&path, &paint(text.ink), FillRule::Winding, transform, mask);
                }
            }
            Item::Picture(picture) => draw_picture(pixmap, picture, pixels_from_items, mask),
            Item::Group(group) => draw_group(pixmap, group, pixels_from_items, mask),
        }
    }
}

fn draw_group(pixmap: &mut Pixmap, group: &Group, outside: Affine, mask: Option<&Mask>) {
    let inside = outside.after(group.outer_from_inner);
    let mut clipped = None;
    if let Some(clip) = &group.clip {
        let Some(path) = to_path(clip) else {
            return;
        };
        let transform = to_transform(inside);
        let mut own = match mask {
            Some(outer) => {
                let mut own = outer.clone();
                own.intersect_path(&path, FillRule::EvenOdd, true, transform);
                Some(own)
            }
            None => Mask::new(pixmap.width(), pixmap.height()),
        };
        if let (Some(own), None) = (&mut own, mask) {
            own.fill_path(&path, FillRule::EvenOdd, true, transform);
        }
        clipped = own;
    }
    let mask = clipped.as_ref().or(mask);
    if group.opacity >= 1.0 {
        draw(pixmap, &group.items, inside, mask);
    } else if let Some(mut layer) = Pixmap::new(pixmap.width(), pixmap.height()) {
        draw(&mut layer, &group.items, inside, mask);
        let fade = PixmapPaint {
            opacity: group.opacity.max(0.0) as f32,
            ..PixmapPaint::default()
        };
        pixmap.draw_pixmap(0, 0, layer.as_ref(), &fade, Transform::identity(), None);
    }
}

fn draw_picture(pixmap: &mut Pixmap, picture: &Picture, outside: Affine, mask: Option<&Mask>) {
    let Some(mut source) = Pixmap::new(picture.width_px, picture.height_px) else {
        return;
    };
    if source.data().len() != picture.rgba.len() {
        return;
    }
    let straight = picture.rgba.chunks_exact(4);
    for (to, from) in source.data_mut().chunks_exact_mut(4).zip(straight) {
        let alpha = u32::from(from[3]);
        // Most pixels are solid, and stay as they are.
        if alpha == 255 {
            to.copy_from_slice(from);
            continue;
        }
        for i in 0..3 {
            to[i] = ((u32::from(from[i]) * alpha + 127) / 255) as u8;
        }
        to[3] = from[3];
    }
    let (w, h) = (f64::from(picture.width_px), f64::from(picture.height_px));
    // From the picture's own pixels (y down from its top) to the unit square (y up).
    let unit_from_source = Affine {
        xx: 1.0 / w,
        xy: 0.0,
        x0: 0.0,
        yx: 0.0,
        yy: -1.0 / h,
        y0: 1.0,
    };
    let unit = outside.after(picture.page_from_unit);
    // Far larger than it is shown, it would sparkle: halve it until it is less than twice as large.
    let shown = |x: f64, y: f64| (x * x + y * y).sqrt();
    let (shown_w, shown_h) = (shown(unit.xx, unit.yx), shown(unit.xy, unit.yy));
    let mut own_from_unit = unit_from_source;
    while f64::from(source.width()) >= 2.0 * shown_w
        && f64::from(source.height()) >= 2.0 * shown_h
        && source.width() >= 2
        && source.height() >= 2
    {
        let Some(half) = halved(&source) else {
            break;
        };
        // An odd last row or column is cut: the half stands for slightly less of the square.
        own_from_unit.xx *= 2.0;
        own_from_unit.yy *= 2.0;
        source = half;
    }
    let paint = Paint {
        shader: Pattern::new(
            source.as_ref(),
            SpreadMode::Pad,
            FilterQuality::Bilinear,
            1.0,
            to_transform(outside.after(picture.page_from_unit).after(own_from_unit)),
        ),
        anti_alias: true,
        ..Paint::default()
    };
    let square = Path::rectangle(shape::Bounds {
        min: Point::default(),
        max: Point::new(1.0, 1.0),
    })
    .mapped(|p| unit.apply(p));
    if let Some(path) = to_path(&square) {
        pixmap.fill_path(
            &path,
            &paint,
            FillRule::Winding,
            Transform::identity(),
            mask,
        );
    }
}

/// The picture at half its size, each pixel the mean of four.
fn halved(source: &Pixmap) -> Option<Pixmap> {
    let (w, h) = (source.width() / 2, source.height() / 2);
    let mut half = Pixmap::new(w, h)?;
    let stride = source.width() as usize * 4;
    let from = source.data();
    for (y, row) in half.data_mut().chunks_exact_mut(w as usize * 4).enumerate() {
        let upper = &from[2 * y * stride..][..stride];
        let lower = &from[(2 * y + 1) * stride..][..stride];
        for (i, to) in row.iter_mut().enumerate() {
            let at = i / 4 * 8 + i % 4;
            let sum = [upper[at], upper[at + 4], lower[at], lower[at + 4]]
                .iter()
                .map(|&v| u32::from(v))
                .sum::<u32>();
            *to = ((sum + 2) / 4) as u8;
        }
    }
    Some(half)
}

fn paint(ink: Ink) -> Paint<'static> {
    let [r, g, b] = ink.to_rgb();
    let mut paint = Paint::default();
    let alpha = (ink.opacity.clamp(0.0, 1.0) * 255.0).round() as u8;
    paint.set_color_rgba8(r, g, b, alpha);
    paint.anti_alias = true;
    paint
}

fn to_stroke(stroke: &Stroke) -> tiny_skia::Stroke {
    tiny_skia::Stroke {
        width: stroke.width_mm as f32,
        miter_limit: 4.0,
        line_cap: if stroke.round {
            LineCap::Round
        } else {
            LineCap::Butt
        },
        line_join: if stroke.round {
            LineJoin::Round
        } else {
            LineJoin::Miter
        },
        dash: StrokeDash::new(stroke.dash_mm.iter().map(|&d| d as f32).collect(), 0.0),
    }
}
