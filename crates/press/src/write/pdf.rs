//! PDF, with the fonts' used glyphs embedded and the text kept as text.

use super::print_scaling::with_print_scaling_none;
use crate::{Affine, Colour, Drawing, Group, Ink, Item, Path, Picture, PressError, Step, Stroke};
use krilla::color::{luma, rgb};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point as PdfPoint, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline as Contents, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Paint, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use lettering::Face;
use shape::{Bounds, Point};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// PDF's unit is 1/72 in and an inch is 25.4 mm (ISO 32000-1, 8.3.2.3).
const UNITS_PER_MM: f64 = 72.0 / 25.4;

/// What a document says about itself. Nothing of time or machine: the same input gives the same bytes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DocumentInfo {
    /// Its title.
    pub title: String,
    /// What it is for, in a sentence.
    pub description: String,
    /// Its language as a tag of BCP 47, such as `en`.
    pub language: String,
}

/// An entry of a document's list of contents, as readers show it beside the pages.
#[derive(Debug, Clone, PartialEq)]
pub struct Bookmark {
    /// 0 for a chapter, 1 for what lies in the chapter before it.
    pub level: usize,
    /// What it says.
    pub title: String,
    /// Which page, 0 first.
    pub page: usize,
    /// Where on the page, mm from its foot.
    pub y_mm: f64,
}

/// Makes one PDF of pages, in their order. It asks readers to print it at its own size.
///
/// # Errors
/// [`PressError::Write`] where the PDF library refuses, such as for a page without a size.
pub fn to_pdf(pages: &[Drawing], info: &DocumentInfo) -> Result<Vec<u8>, PressError> {
    to_pdf_with(pages, info, &[])
}

/// The same with a list of contents; entries of pages that are not there are left out.
///
/// # Errors
/// Those of [`to_pdf`].
pub fn to_pdf_with(
    pages: &[Drawing],
    info: &DocumentInfo,
    bookmarks: &[Bookmark],
) -> Result<Vec<u8>, PressError> {
    let refused = |reason: String| PressError::Write {
        format: "PDF",
        reason,
    };
    let mut fonts = Vec::new();
    for face in Face::ALL {
        let font = Font::new(lettering::font_bytes(face).to_vec().into(), 0);
        fonts.push(font.ok_or_else(|| refused("a font cannot be read".into()))?);
    }
    let mut document = krilla::Document::new();
    document.set_metadata(
        Metadata::new()
            .title(info.title.clone())
            .description(info.description.clone())
            .language(info.language.clone())
            .creator(concat!("Setapart ", env!("CARGO_PKG_VERSION")).into()),
    );
    let images = RefCell::default();
    for drawing in pages {
        let height_mm = drawing.height_mm;
        let settings =
            page_settings(drawing).ok_or_else(|| refused("a page has no size".into()))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let page_space = Space {
            flip_at_mm: height_mm,
            fonts: &fonts,
            images: &images,
        };
        page_space.draw(&mut surface, &drawing.items);
        surface.finish();
        page.finish();
    }
    if !bookmarks.is_empty() {
        document.set_outline(contents(pages, bookmarks));
    }
    let pdf = document.finish().map_err(|e| refused(e.to_string()))?;
    with_print_scaling_none(pdf)
        .ok_or_else(|| refused("the document's catalog is not where it was expected".into()))
}

/// A page's size, and for a print shop its boxes (ISO 32000-1, 14.11.2).
fn page_settings(drawing: &Drawing) -> Option<PageSettings> {
    let units = |mm: f64| (mm * UNITS_PER_MM) as f32;
    let settings = PageSettings::from_wh(units(drawing.width_mm), units(drawing.height_mm))?;
    let Some(trim) = drawing.trim else {
        return Some(settings);
    };
    let rect = |b: Bounds| {
        // The library counts from the top, as its pages do.
        let (top, bottom) = (drawing.height_mm - b.max.y, drawing.height_mm - b.min.y);
        Rect::from_ltrb(units(b.min.x), units(top), units(b.max.x), units(bottom))
    };
    let settings = settings.with_trim_box(rect(trim.sheet));
    Some(settings.with_bleed_box(rect(trim.sheet.grown(trim.bleed_mm))))
}

/// The list of contents as the library takes it.
fn contents(pages: &[Drawing], bookmarks: &[Bookmark]) -> Contents {
    let mut contents = Contents::new();
    let mut chapter: Option<OutlineNode> = None;
    for mark in bookmarks {
        let Some(page) = pages.get(mark.page) else {
            continue;
        };
        let top = ((page.height_mm - mark.y_mm) * UNITS_PER_MM).max(0.0) as f32;
        let place = XyzDestination::new(mark.page, PdfPoint::from_xy(0.0, top));
        let node = OutlineNode::new(mark.title.clone(), place);
        match &mut chapter {
            Some(chapter) if mark.level > 0 => chapter.push_child(node),
            _ => {
                if let Some(done) = chapter.replace(node.with_open(true)) {
                    contents.push_child(done);
                }
            }
        }
    }
    if let Some(last) = chapter {
        contents.push_child(last);
    }
    contents
}

/// Maps mm with y up to PDF units with y down, which is what the library draws in.
struct Space<'a> {
    flip_at_mm: f64,
    fonts: &'a [Font],
    /// Pictures that were drawn before, by where their pixels lie: each goes into the document once.
    images: &'a RefCell<BTreeMap<(usize, u32), Image>>,
}

impl Space<'_> {
    fn at(&self, p: Point) -> PdfPoint {
        PdfPoint::from_xy(
            (p.x * UNITS_PER_MM) as f32,
            ((self.flip_at_mm - p.y) * UNITS_PER_MM) as f32,
        )
    }

    /// The same map in the library's own coordinates.
    fn transform(&self, map: Affine) -> Transform {
        // y' = flip - y on both sides of the map.
        let f = self.flip_at_mm;
        Transform::from_row(
            map.xx as f32,
            -map.yx as f32,
            -map.xy as f32,
            map.yy as f32,
            ((map.x0 + map.xy * f) * UNITS_PER_MM) as f32,
            ((f - map.y0 - map.yy * f) * UNITS_PER_MM) as f32,
        )
    }

    fn draw(&self, surface: &mut Surface<'_>, items: &[Item]) {
        for item in items {
            match item {
                Item::Shape(shape) => {
                    let Some(path) = self.path(&shape.path) else {
                        continue;
                    };
                    surface.set_fill(shape.fill.map(fill));
                    surface.set_stroke(shape.stroke.as_ref().map(stroke));
                    if shape.fill.is_some() || shape.stroke.is_some() {
                        surface.draw_path(&path);
                    }
                }
                Item::Text(text) => self.text(surface, text),
                Item::Picture(picture) => self.picture(surface, picture),
                Item::Group(group) => self.group(surface, group),
            }
        }
    }

    fn group(&self, surface: &mut Surface<'_>, group: &Group) {
        let mut pushed = 1;
        surface.push_transform(&self.transform(group.outer_from_inner));
        if let Some(clip) = &group.clip {
            let Some(clip) = self.path(clip) else {
                surface.pop();
                return;
            };
            surface.push_clip_path(&clip, &FillRule::EvenOdd);
            pushed += 1;
        }
        if group.opacity < 1.0 {
            surface.push_opacity(share(group.opacity));
            pushed += 1;
        }
        self.draw(surface, &group.items);
        for _ in 0..pushed {
            surface.pop();
        }
    }

    fn text(&self, surface: &mut Surface<'_>, text: &crate::Text) {
        let line = &text.line;
        let face = Face::ALL.iter().position(|&f| f == line.face);
        let Some(font) = face.and_then(|i| self.fonts.get(i)) else {
            return;
        };
        let em = line.font_size_mm;
        let mut pen_mm = 0.0;
        let glyphs: Vec<KrillaGlyph> = line
            .glyphs
            .iter()
            .map(|g| {
                let glyph = KrillaGlyph::new(
                    GlyphId::new(u32::from(g.id)),
                    (g.advance_mm / em) as f32,
                    ((g.x_mm - pen_mm) / em) as f32,
                    (g.y_mm / em) as f32,
                    0.0,
                    g.text.clone(),
                    None,
                );
                pen_mm += g.advance_mm;
                glyph
            })
            .collect();
        if glyphs.is_empty() {
            return;
        }
        surface.set_fill(Some(fill(text.ink)));
        surface.set_stroke(None);
        let size = (em * UNITS_PER_MM) as f32;
        if text.turn_deg == 0.0 {
            surface.draw_glyphs(
                self.at(text.at),
                &glyphs,
                font.clone(),
                &line.text,
                size,
                false,
            );
        } else {
            let turned = Affine::turned(text.turn_deg, text.at);
            surface.push_transform(&self.transform(turned));
            let origin = self.at(Point::default());
            surface.draw_glyphs(origin, &glyphs, font.clone(), &line.text, size, false);
            surface.pop();
        }
    }

    fn picture(&self, surface: &mut Surface<'_>, picture: &Picture) {
        let key = (picture.rgba.as_ptr().addr(), picture.width_px);
        let mut images = self.images.borrow_mut();
        let image = images.entry(key).or_insert_with(|| {
            Image::from_rgba8(picture.rgba.to_vec(), picture.width_px, picture.height_px)
        });
        let image = image.clone();
        // The library draws a picture with its top at y = 0, downwards.
        let m = picture.page_from_unit;
        let top = m.apply(Point::new(0.0, 1.0));
        let at = self.at(top);
        let unit = UNITS_PER_MM;
        let transform = Transform::from_row(
            (m.xx * unit) as f32,
            (-m.yx * unit) as f32,
            (-m.xy * unit) as f32,
            (m.yy * unit) as f32,
            at.x,
            at.y,
        );
        if let Some(size) = Size::from_wh(1.0, 1.0) {
            surface.push_transform(&transform);
            surface.draw_image(image, size);
            surface.pop();
        }
    }

    fn path(&self, path: &Path) -> Option<krilla::geom::Path> {
        let mut builder = PathBuilder::new();
        for step in path.without_arcs() {
            match step {
                Step::Move(p) => {
                    let p = self.at(p);
                    builder.move_to(p.x, p.y);
                }
                // No arcs are left.
                Step::Line(p) | Step::Arc(p, _) => {
                    let p = self.at(p);
                    builder.line_to(p.x, p.y);
                }
                Step::Quad(c, p) => {
                    let (c, p) = (self.at(c), self.at(p));
                    builder.quad_to(c.x, c.y, p.x, p.y);
                }
                Step::Cubic(c, d, p) => {
                    let (c, d, p) = (self.at(c), self.at(d), self.at(p));
                    builder.cubic_to(c.x, c.y, d.x, d.y, p.x, p.y);
                }
                Step::Close => builder.close(),
            }
        }
        builder.finish()
    }
}

fn share(value: f64) -> NormalizedF32 {
    NormalizedF32::new(value.clamp(0.0, 1.0) as f32).unwrap_or(NormalizedF32::ONE)
}

fn paint(ink: Ink) -> Paint {
    match ink.colour {
        Colour::Grey(v) => luma::Color::new(v).into(),
        Colour::Rgb(r, g, b) => rgb::Color::new(r, g, b).into(),
    }
}

fn fill(ink: Ink) -> Fill {
    Fill {
        paint: paint(ink),
        opacity: share(ink.opacity),
        rule: FillRule::EvenOdd,
    }
}

fn stroke(stroke: &Stroke) -> krilla::paint::Stroke {
    let units = |mm: f64| (mm * UNITS_PER_MM) as f32;
    krilla::paint::Stroke {
        paint: paint(stroke.ink),
        width: units(stroke.width_mm),
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
        opacity: share(stroke.ink.opacity),
        dash: (!stroke.dash_mm.is_empty()).then(|| StrokeDash {
            array: stroke.dash_mm.iter().map(|&d| units(d)).collect(),
            offset: 0.0,
        }),
    }
}
