//! `frames`: the stock frames that hold a piece's parts.

use super::arrange::{read_weights, room_name};
use super::{Outcome, read_piece};
use crate::cli::{self, StockName};
use crate::document::{Wanted, read_file};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::say;
use arrange::{FrameFit, RealFont, STOCK_SIZES, StockSize};
use piece::Piece;
use serde_json::json;
use std::path::Path;

/// Largest list of frames, bytes.
const MOST_LIST_BYTES: u64 = 1 << 20;

pub(crate) fn run(args: &cli::Frames) -> Result<Outcome, Failure> {
    let piece = read_piece(&args.piece)?;
    let mut sizes: Vec<StockSize> = STOCK_SIZES
        .iter()
        .filter(|s| match args.stock {
            StockName::All => true,
            StockName::Metric => !s.us,
            StockName::Us => s.us,
            StockName::None => false,
        })
        .cloned()
        .collect();
    if let Some(path) = &args.list {
        sizes.extend(read_list(path)?);
    }
    let options = arrange::Options {
        seed: args.seed,
        weights: read_weights(args.weights.as_deref())?,
        ..arrange::Options::default()
    };
    let progress = Progress::new();
    let stage = progress.stage("", 0.0, if args.free { 0.8 } else { 1.0 });
    let mut found = arrange::frames_for(&piece, &sizes, &options, &RealFont, &stage)?;
    if args.free {
        let stage = progress.stage("", 0.8, 1.0);
        found.extend(arrange::least_frame(&piece, &options, &RealFont, &stage)?);
    }
    drop(progress);
    if args.json {
        let all: Vec<_> = found.iter().map(|f| as_json(f, &options)).collect();
        say::json(&json!(all));
    } else {
        say::print(in_words(&piece, &found));
    }
    Ok(if found.iter().any(|f| f.arranged.is_some()) {
        Outcome::Fine
    } else {
        Outcome::Stop
    })
}

/// The user's own list: a table with the columns name,width_mm,height_mm.
fn read_list(path: &Path) -> Result<Vec<StockSize>, Failure> {
    let failed = |source| Failure::StockList {
        path: path.into(),
        source,
    };
    read_file(
        Wanted::Table("a list of frames"),
        path,
        MOST_LIST_BYTES,
        StockSize::list_from_csv,
        failed,
    )
}

fn as_json(found: &FrameFit, options: &arrange::Options) -> serde_json::Value {
    let mut value = json!({
        "name": found.name,
        "size_mm": found.frame.size_mm,
        "lip_mm": found.frame.lip_mm,
        "fits": found.arranged.is_some(),
        "fill": found.fill,
    });
    if let Some(arranged) = &found.arranged {
        value["room"] = json!(room_name(arranged.room));
        value["score"] = json!(arranged.score.total(&options.weights));
        value["uncaptioned"] = json!(arranged.uncaptioned);
        value["placements"] = json!(arranged.placements);
        value["captions"] = json!(arranged.captions);
    }
    value
}

fn in_words(piece: &Piece, found: &[FrameFit]) -> String {
    let holding: Vec<&FrameFit> = found.iter().filter(|f| f.arranged.is_some()).collect();
    if found.is_empty() {
        return "no frame was tried; give your own with --list, or leave --stock out\n".into();
    }
    if holding.is_empty() {
        return format!(
            "none of the {} frames that were tried holds the {} parts of {}; give larger ones (--list), show fewer \
             parts, or make the gap smaller\n",
            found.len(),
            piece.parts.len(),
            piece.name
        );
    }
    let mut text = format!(
        "{} of {} frames hold the {} parts of {}, smallest first:\n",
        holding.len(),
        found.len(),
        piece.parts.len(),
        piece.name
    );
    for f in holding {
        let [w, h] = f.frame.size_mm;
        let how = f.arranged.as_ref().map_or("", |a| room_name(a.room));
        let missing = f.arranged.as_ref().map_or(0, |a| a.uncaptioned.len());
        let missing = if missing > 0 {
            format!(", {missing} without a caption")
        } else {
            String::new()
        };
        text += &format!(
            "  {:<16} {w:>6.1} x {h:>6.1} mm  {:>3.0} % filled, {how}{missing}\n",
            f.name,
            100.0 * f.fill
        );
    }
    text
}
