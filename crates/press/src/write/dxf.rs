//! DXF in millimetres, for machines: closed polylines with arcs, one layer for each named group.
//!
//! The file says that it is of release 2000 (AC1015), which is the oldest one that has lightweight polylines,
//! units and handles, and so the one that most machines read. Written after the published DXF reference of that
//! release (group codes recalled; every file is audited by ezdxf in `reference/cut_files.py`).

use crate::path::pieces;
use crate::{Affine, Drawing, Item, Path, Step};
use shape::exact::Segment;
use shape::{Bounds, Point};
use std::fmt::{Display, Write};

/// Curves that are no arcs become chords off them by this much at most, mm.
const CHORD_MM: f64 = 0.005;

/// Arcs are split into pieces of half a turn at most: of longer ones the centre would hang on the last digits.
const MOST_ARC_RAD: f64 = std::f64::consts::PI;

/// The colours of layers in their order, by the index that DXF gives to plain colours (recalled): the page's own
/// black or white first.
const COLOURS: [u8; 6] = [7, 5, 3, 6, 4, 30];

/// Handles below these are the tables'.
const FIRST_ENTITY: u32 = 0x100;

/// Makes a DXF of a page's paths, filled or not. Paths lie on the layer of the innermost named group, names in
/// capitals; text and pictures are left out.
pub fn to_dxf(drawing: &Drawing) -> String {
    let mut layers: Vec<String> = Vec::new();
    let mut found = Vec::new();
    collect(
        &drawing.items,
        Affine::IDENTITY,
        "0",
        &mut layers,
        &mut found,
    );
    let page = drawing.page();
    let around = found
        .iter()
        .flat_map(|(_, line)| &line.points)
        .map(|v| v.at)
        .collect::<Vec<_>>();
    let around = Bounds::around(around).unwrap_or(page);
    let mut out = Writer::default();
    out.header(around, FIRST_ENTITY + found.len() as u32);
    out.tables(&layers, page);
    out.blocks();
    out.section("ENTITIES");
    for (n, (layer, line)) in found.iter().enumerate() {
        out.polyline(FIRST_ENTITY + n as u32, layer, line);
    }
    out.end_section();
    out.objects();
    out.pair(0, "EOF");
    out.text
}

/// A vertex and the bulge of the side that follows.
#[derive(Debug, Clone, Copy)]
struct Vertex {
    at: Point,
    bulge: f64,
}

#[derive(Debug, Clone, Default)]
struct Polyline {
    points: Vec<Vertex>,
    closed: bool,
}

fn collect(
    items: &[Item],
    page_from_items: Affine,
    layer: &str,
    layers: &mut Vec<String>,
    found: &mut Vec<(String, Polyline)>,
) {
    for item in items {
        match item {
            Item::Shape(shape) => {
                for line in polylines(&shape.path, page_from_items) {
                    found.push((layer.to_owned(), line));
                }
            }
            Item::Group(group) => {
                let name = group.id.as_deref().map(layer_name);
                if let Some(name) = &name
                    && !layers.contains(name)
                {
                    layers.push(name.clone());
                }
                let map = page_from_items.after(group.outer_from_inner);
                let layer = name.as_deref().unwrap_or(layer);
                collect(&group.items, map, layer, layers, found);
            }
            Item::Text(_) | Item::Picture(_) => {}
        }
    }
}

/// Capitals, digits, hyphen and low line are what every reader takes.
fn layer_name(id: &str) -> String {
    id.chars()
        .map(|c| match c.to_ascii_uppercase() {
            c if c.is_ascii_alphanumeric() || c == '-' => c,
            _ => '_',
        })
        .collect()
}

/// One polyline for each contour.
fn polylines(path: &Path, map: Affine) -> Vec<Polyline> {
    // Arcs stay arcs where the map neither stretches nor mirrors.
    let keeps = (map.xx - map.yy).abs() < 1e-12
        && (map.xy + map.yx).abs() < 1e-12
        && (map.xx.hypot(map.yx) - 1.0).abs() < 1e-9;
    let path = if keeps {
        path.clone()
    } else {
        Path {
            steps: path.without_arcs(),
        }
    };
    let mut lines = Vec::new();
    let mut line = Polyline::default();
    let mut pen = Point::default();
    let vertex = |at: Point| Vertex { at, bulge: 0.0 };
    let finish = |line: &mut Polyline, lines: &mut Vec<Polyline>| {
        let mut done = std::mem::take(line);
        if done.closed
            && let (Some(first), Some(last)) = (done.points.first(), done.points.last())
            && done.points.len() > 2
            && first.at.distance_mm(last.at) < 1e-9
        {
            done.points.pop();
        }
        if done.points.len() > 1 {
            lines.push(done);
        }
    };
    for &step in &path.steps {
        match step {
            Step::Move(p) => {
                finish(&mut line, &mut lines);
                line.points.push(vertex(p));
                pen = p;
            }
            Step::Line(p) => {
                line.points.push(vertex(p));
                pen = p;
            }
            Step::Arc(to, bulge) => {
                let from = pen;
                for piece in pieces(Segment { from, to, bulge }, MOST_ARC_RAD) {
                    if let Some(last) = line.points.last_mut() {
                        last.bulge = piece.bulge;
                    }
                    line.points.push(vertex(piece.to));
                }
                pen = to;
            }
            Step::Quad(c, p) => {
                let third = |a: Point| a.lerp(c, 2.0 / 3.0);
                flatten([pen, third(pen), third(p), p], &mut line);
                pen = p;
            }
            Step::Cubic(c, d, p) => {
                flatten([pen, c, d, p], &mut line);
                pen = p;
            }
            Step::Close => {
                line.closed = true;
                pen = line.points.first().map_or(pen, |v| v.at);
                finish(&mut line, &mut lines);
            }
        }
    }
    finish(&mut line, &mut lines);
    for line in &mut lines {
        for v in &mut line.points {
            v.at = map.apply(v.at);
        }
    }
    lines
}

/// Chords of a cubic curve. Their number follows from its second differences, which bound how far a chord lies off.
fn flatten([a, b, c, d]: [Point; 4], line: &mut Polyline) {
    let bend = |p: Point, q: Point, r: Point| ((p - q) - (q - r)).length_mm();
    let most = bend(a, b, c).max(bend(b, c, d));
    let n = (0.75 * most / CHORD_MM).sqrt().ceil().clamp(1.0, 10_000.0) as u32;
    for k in 1..=n {
        let t = f64::from(k) / f64::from(n);
        let (ab, bc, cd) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
        let at = ab.lerp(bc, t).lerp(bc.lerp(cd, t), t);
        line.points.push(Vertex { at, bulge: 0.0 });
    }
}

/// Writes pairs of group code and value.
#[derive(Default)]
struct Writer {
    text: String,
}

impl Writer {
    // Writing into a String cannot fail.
    fn pair(&mut self, code: u16, value: impl Display) {
        let _ = writeln!(self.text, "{code}\n{value}");
    }

    fn number(&mut self, code: u16, value: f64) {
        // A hundredth of a micrometre; no minus before nothing.
        let text = format!("{value:.8}");
        let text = text.trim_end_matches('0');
        let text = text
            .strip_suffix('.')
            .map_or_else(|| text.to_owned(), |t| format!("{t}.0"));
        self.pair(code, if text == "-0.0" { "0.0" } else { &text });
    }

    fn point(&mut self, code: u16, p: Point) {
        self.number(code, p.x);
        self.number(code + 10, p.y);
    }

    fn section(&mut self, name: &str) {
        self.pair(0, "SECTION");
        self.pair(2, name);
    }

    fn end_section(&mut self) {
        self.pair(0, "ENDSEC");
    }

    fn handle(&mut self, code: u16, handle: u32) {
        self.pair(code, format_args!("{handle:X}"));
    }

    fn header(&mut self, around: Bounds, next_handle: u32) {
        self.section("HEADER");
        for (name, code, value) in [
            ("$ACADVER", 1, "AC1015"),
            ("$DWGCODEPAGE", 3, "ANSI_1252"),
            // Millimetres, and the metric system.
            ("$INSUNITS", 70, "4"),
            ("$MEASUREMENT", 70, "1"),
        ] {
            self.pair(9, name);
            self.pair(code, value);
        }
        self.pair(9, "$HANDSEED");
        self.handle(5, next_handle);
        for (name, p) in [("$EXTMIN", around.min), ("$EXTMAX", around.max)] {
            self.pair(9, name);
            self.point(10, p);
            self.number(30, 0.0);
        }
        self.end_section();
    }

    fn table(&mut self, name: &str, handle: u32, count: usize) {
        self.pair(0, "TABLE");
        self.pair(2, name);
        self.handle(5, handle);
        self.pair(330, 0);
        self.pair(100, "AcDbSymbolTable");
        self.pair(70, count);
    }

    /// The head of a table's record; dimension styles keep their handle under a code of their own.
    fn record(&mut self, kind: &str, handle: u32, table: u32, class: &str) {
        self.pair(0, kind);
        self.handle(if kind == "DIMSTYLE" { 105 } else { 5 }, handle);
        self.handle(330, table);
        self.pair(100, "AcDbSymbolTableRecord");
        self.pair(100, class);
    }

    fn tables(&mut self, layers: &[String], page: Bounds) {
        self.section("TABLES");
        self.table("VPORT", 0x1, 1);
        self.record("VPORT", 0x11, 0x1, "AcDbViewportTableRecord");
        self.pair(2, "*Active");
        self.pair(70, 0);
        self.point(10, Point::default());
        self.point(11, Point::new(1.0, 1.0));
        self.point(12, page.centre());
        self.number(40, page.height_mm() * 1.05);
        self.number(41, page.width_mm() / page.height_mm());
        self.pair(0, "ENDTAB");

        self.table("LTYPE", 0x2, 3);
        for (n, name) in ["ByBlock", "ByLayer", "Continuous"].iter().enumerate() {
            self.record("LTYPE", 0x21 + n as u32, 0x2, "AcDbLinetypeTableRecord");
            self.pair(2, name);
            self.pair(70, 0);
            self.pair(3, if n == 2 { "Solid line" } else { "" });
            self.pair(72, 65);
            self.pair(73, 0);
            self.number(40, 0.0);
        }
        self.pair(0, "ENDTAB");

        self.table("LAYER", 0x3, layers.len() + 1);
        let names = std::iter::once("0").chain(layers.iter().map(String::as_str));
        for (n, name) in names.enumerate() {
            self.record("LAYER", 0x31 + n as u32, 0x3, "AcDbLayerTableRecord");
            self.pair(2, name);
            self.pair(70, 0);
            self.pair(62, COLOURS[n % COLOURS.len()]);
            self.pair(6, "Continuous");
            self.handle(390, 0xF);
        }
        self.pair(0, "ENDTAB");

        self.table("STYLE", 0x4, 1);
        self.record("STYLE", 0x81, 0x4, "AcDbTextStyleTableRecord");
        self.pair(2, "Standard");
        self.pair(70, 0);
        self.number(40, 0.0);
        self.number(41, 1.0);
        self.number(50, 0.0);
        self.pair(71, 0);
        self.number(42, 2.5);
        self.pair(3, "txt");
        self.pair(4, "");
        self.pair(0, "ENDTAB");

        for (name, handle) in [("VIEW", 0x5), ("UCS", 0x6)] {
            self.table(name, handle, 0);
            self.pair(0, "ENDTAB");
        }

        self.table("APPID", 0x7, 1);
        self.record("APPID", 0x82, 0x7, "AcDbRegAppTableRecord");
        self.pair(2, "ACAD");
        self.pair(70, 0);
        self.pair(0, "ENDTAB");

        self.table("DIMSTYLE", 0x8, 1);
        self.pair(100, "AcDbDimStyleTable");
        self.record("DIMSTYLE", 0x83, 0x8, "AcDbDimStyleTableRecord");
        self.pair(2, "Standard");
        self.pair(70, 0);
        self.pair(0, "ENDTAB");

        self.table("BLOCK_RECORD", 0x9, 2);
        for (name, handle, _) in SPACES {
            self.record("BLOCK_RECORD", handle, 0x9, "AcDbBlockTableRecord");
            self.pair(2, name);
            self.pair(340, 0);
        }
        self.pair(0, "ENDTAB");
        self.end_section();
    }

    fn blocks(&mut self) {
        self.section("BLOCKS");
        for (name, owner, begin) in SPACES {
            let paper = name.contains("Paper");
            for (kind, class, handle) in [
                ("BLOCK", "AcDbBlockBegin", begin),
                ("ENDBLK", "AcDbBlockEnd", begin + 1),
            ] {
                self.pair(0, kind);
                self.handle(5, handle);
                self.handle(330, owner);
                self.pair(100, "AcDbEntity");
                if paper {
                    self.pair(67, 1);
                }
                self.pair(8, "0");
                self.pair(100, class);
                if kind == "BLOCK" {
                    self.pair(2, name);
                    self.pair(70, 0);
                    self.point(10, Point::default());
                    self.number(30, 0.0);
                    self.pair(3, name);
                    self.pair(1, "");
                }
            }
        }
        self.end_section();
    }

    fn polyline(&mut self, handle: u32, layer: &str, line: &Polyline) {
        self.pair(0, "LWPOLYLINE");
        self.handle(5, handle);
        self.handle(330, SPACES[0].1);
        self.pair(100, "AcDbEntity");
        self.pair(8, layer);
        self.pair(100, "AcDbPolyline");
        self.pair(90, line.points.len());
        self.pair(70, u8::from(line.closed));
        self.number(43, 0.0);
        for v in &line.points {
            self.point(10, v.at);
            if v.bulge != 0.0 {
                self.pair(42, format_args!("{:.12}", v.bulge));
            }
        }
    }

    fn objects(&mut self) {
        self.section("OBJECTS");
        self.pair(0, "DICTIONARY");
        self.handle(5, 0xC);
        self.pair(330, 0);
        self.pair(100, "AcDbDictionary");
        self.pair(281, 1);
        for (name, handle) in [("ACAD_GROUP", 0xD_u32), ("ACAD_PLOTSTYLENAME", 0xE)] {
            self.pair(3, name);
            self.handle(350, handle);
        }
        self.pair(0, "DICTIONARY");
        self.handle(5, 0xD);
        self.handle(330, 0xC);
        self.pair(100, "AcDbDictionary");
        self.pair(281, 1);
        self.pair(0, "ACDBDICTIONARYWDFLT");
        self.handle(5, 0xE);
        self.handle(330, 0xC);
        self.pair(100, "AcDbDictionary");
        self.pair(281, 1);
        self.pair(3, "Normal");
        self.handle(350, 0xF);
        self.pair(100, "AcDbDictionaryWithDefault");
        self.handle(340, 0xF);
        self.pair(0, "ACDBPLACEHOLDER");
        self.handle(5, 0xF);
        self.handle(330, 0xE);
        self.end_section();
    }
}

/// Model and paper: name, handle of the block's record, handle of its begin.
const SPACES: [(&str, u32, u32); 2] = [("*Model_Space", 0x91, 0xA1), ("*Paper_Space", 0x92, 0xA3)];
