//! The user's own SVG or picture behind the parts, taken under limits.
//!
//! An SVG is painted to pixels once. What cannot look alike everywhere is refused with what to do about it: text (its
//! fonts may be missing), pictures inside it and filters. Files are hostile until they are read: their bytes, nodes,
//! depth, references and layers are counted before anything is painted.

use crate::{Affine, Item, Picture, PressError};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Group, Node, Options, Tree};
use shape::{Bounds, Point};

/// Largest SVG that is read, bytes.
pub const MOST_SVG_BYTES: usize = 16 << 20;

/// Most nodes, counted after references were followed.
const MOST_NODES: usize = 200_000;

/// Deepest nesting of groups.
const MOST_DEPTH: usize = 64;

/// Most layers over each other that need pixels of their own (opacity, masks, clips).
const MOST_LAYERS: usize = 4;

/// Pixels that the art may take: a board of A2 at 240 dpi.
const MOST_PIXELS: f64 = 24e6;

/// Finest that art is painted, px/mm (300 dpi).
const FINEST_PX_PER_MM: f64 = 11.811;

/// Paints an SVG for a stretch of the given size, mm: it covers all of it, in the middle, its own ratio kept.
///
/// # Errors
/// [`PressError::Art`]: no SVG, too large or too deep, or with text, pictures or filters.
pub fn read_svg(bytes: &[u8], size_mm: [f64; 2]) -> Result<Picture, PressError> {
    let bad = |problem: &str| PressError::Art(problem.to_owned());
    if bytes.len() > MOST_SVG_BYTES {
        return Err(bad(
            "the SVG has more than 16 MB; simplify it, or give a PNG",
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| bad("the SVG is not UTF-8 text"))?;
    check_elements(text)?;
    let mut options = Options::default();
    // Nothing outside the file is ever opened.
    options.image_href_resolver.resolve_string = Box::new(|_, _| None);
    options.image_href_resolver.resolve_data = Box::new(|_, _, _| None);
    let tree = Tree::from_str(text, &options)
        .map_err(|e| PressError::Art(format!("the SVG cannot be read: {e}")))?;
    let mut nodes = 0;
    check_tree(tree.root(), 0, 0, &mut nodes)?;
    if nodes == 0 {
        return Err(bad("the SVG shows nothing"));
    }

    let [w_mm, h_mm] = size_mm;
    let px_per_mm = FINEST_PX_PER_MM.min((MOST_PIXELS / (w_mm * h_mm)).sqrt());
    let size = |mm: f64| (mm * px_per_mm).round().max(1.0);
    let (w, h) = (size(w_mm), size(h_mm));
    let mut pixmap =
        Pixmap::new(w as u32, h as u32).ok_or_else(|| bad("the board has no sensible size"))?;
    let own = tree.size();
    let (own_w, own_h) = (f64::from(own.width()), f64::from(own.height()));
    let scale = (w / own_w).max(h / own_h);
    let map = Transform::from_row(
        scale as f32,
        0.0,
        0.0,
        scale as f32,
        (0.5 * (w - scale * own_w)) as f32,
        (0.5 * (h - scale * own_h)) as f32,
    );
    resvg::render(&tree, map, &mut pixmap.as_mut());
    let rgba: Vec<u8> = pixmap
        .pixels()
        .iter()
        .flat_map(|p| {
            let p = p.demultiply();
            [p.red(), p.green(), p.blue(), p.alpha()]
        })
        .collect();
    Ok(Picture {
        width_px: w as u32,
        height_px: h as u32,
        rgba: rgba.into(),
        page_from_unit: Affine::IDENTITY,
    })
}

/// Refuses what must not be in the file, by the names of its elements.
fn check_elements(text: &str) -> Result<(), PressError> {
    let options = roxmltree::ParsingOptions {
        allow_dtd: false,
        nodes_limit: MOST_NODES as u32,
        ..roxmltree::ParsingOptions::default()
    };
    let document = roxmltree::Document::parse_with_options(text, options)
        .map_err(|e| PressError::Art(format!("the SVG cannot be read: {e}")))?;
    for node in document.descendants().filter(roxmltree::Node::is_element) {
        let problem = match node.tag_name().name() {
            "text" | "tspan" | "textPath" => {
                "it has text, whose font may be missing elsewhere; convert text to paths"
            }
            "image" | "feImage" => {
                "it has a picture inside; give the picture as PNG, or leave it out"
            }
            "filter" => "it has filters, which look different elsewhere; convert them to paths",
            "foreignObject" => "it has foreign content; leave it out",
            _ => continue,
        };
        let row = document.text_pos_at(node.range().start).row;
        return Err(PressError::Art(format!("line {row}: {problem}")));
    }
    Ok(())
}

fn check_tree(
    group: &Group,
    depth: usize,
    layers: usize,
    nodes: &mut usize,
) -> Result<(), PressError> {
    let bad = |problem: &str| Err(PressError::Art(problem.to_owned()));
    if depth > MOST_DEPTH {
        return bad("its groups are nested deeper than 64; ungroup them");
    }
    let layers = layers + usize::from(group.should_isolate());
    if layers > MOST_LAYERS {
        return bad("more than 4 faded, masked or clipped groups lie in each other; flatten them");
    }
    for node in group.children() {
        *nodes += 1;
        if *nodes > MOST_NODES {
            return bad("it shows more than 200,000 things; simplify it");
        }
        if let Node::Group(inner) = node {
            check_tree(inner, depth + 1, layers, nodes)?;
        }
        // Masks, clips and patterns are painted like groups, each on pixels of its own.
        let mut checked = Ok(());
        node.subroots(|root| {
            if checked.is_ok() {
                checked = check_tree(root, depth + 1, layers + 1, nodes);
            }
        });
        checked?;
    }
    Ok(())
}

/// A picture that covers a stretch of the board, in the middle, its own ratio kept; the rest is cut by the clip.
pub(super) fn cover(picture: &Picture, inked: Bounds) -> Result<Item, PressError> {
    let needed = u64::from(picture.width_px) * u64::from(picture.height_px) * 4;
    if needed == 0 || picture.rgba.len() as u64 != needed {
        return Err(PressError::Art("its pixels do not fit its size".into()));
    }
    let (w, h) = (f64::from(picture.width_px), f64::from(picture.height_px));
    let scale = (inked.width_mm() / w).max(inked.height_mm() / h);
    let (w_mm, h_mm) = (scale * w, scale * h);
    let c = inked.centre();
    let corner = Point::new(c.x - 0.5 * w_mm, c.y - 0.5 * h_mm);
    Ok(Item::Picture(Picture {
        page_from_unit: Affine::scaled(w_mm, h_mm, corner),
        ..picture.clone()
    }))
}
