//! `strip-fill` (hidden): fills a strip from an instance file of the packing literature.

use super::Outcome;
use crate::cli;
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use nest::{Budget, Instance, MAX_INSTANCE_BYTES, NestError, StoppedBy, fill_strip};
use serde_json::{Value, json};
use std::path::Path;

/// Longest time that may be asked for, s.
const MOST_SECONDS: f64 = 86_400.0;
/// Steps where only a time is given: more than any time allows.
const NO_END: u64 = 1 << 50;
/// Time that is kept back for checking and writing, s.
const RESERVE_S: f64 = 0.2;

pub(crate) fn run(args: &cli::StripFill) -> Result<Outcome, Failure> {
    let budget = budget_of(args)?;
    let progress = Progress::with_time_limit(args.time.map(|s| (s - RESERVE_S).max(0.5 * s)));
    let path = &args.instance;
    let instance = read(path)?;
    let refused = |source: NestError| refusal(path, &instance, &source);
    let strip = instance.strip(args.gap).map_err(refused)?;
    let filled = fill_strip(instance.items(), &strip, &budget, &progress).map_err(refused)?;
    drop(progress);
    let placements: Vec<Value> = filled
        .placements
        .iter()
        .map(|p| {
            let pose = instance.strip_from_file(p);
            json!({
                "item": instance.id(p.item).map_or(json!(p.item), |id| json!(id)),
                "x": pose.x,
                "y": pose.y,
                "turn_deg": pose.turn_deg,
            })
        })
        .collect();
    let stopped_by = match filled.stopped_by {
        StoppedBy::Steps => "steps",
        StoppedBy::Goal => "goal",
        StoppedBy::Watch => "time",
    };
    say::json(&json!({
        "name": instance.name(),
        "length": filled.length_mm / instance.scale(),
        "density": filled.density,
        "steps": filled.steps,
        "stopped_by": stopped_by,
        "placements": placements,
    }));
    Ok(Outcome::Fine)
}

fn budget_of(args: &cli::StripFill) -> Result<Budget, Failure> {
    if args
        .time
        .is_some_and(|s| !(0.0..=MOST_SECONDS).contains(&s))
    {
        return Err(Failure::Argument {
            option: "--time",
            problem: "give seconds from 0 to 86400".into(),
        });
    }
    if !(args.gap >= 0.0 && args.gap.is_finite()) {
        return Err(Failure::Argument {
            option: "--gap",
            problem: "give a length of 0 or more, in the instance's unit".into(),
        });
    }
    let steps = match (args.steps, args.time) {
        (Some(steps), _) => steps,
        (None, Some(_)) => NO_END,
        (None, None) => Budget::default().steps,
    };
    Ok(Budget {
        steps,
        seed: args.seed,
        threads: std::thread::available_parallelism().map_or(1, usize::from),
    })
}

fn read(path: &Path) -> Result<Instance, Failure> {
    let bytes = files::read(path, MAX_INSTANCE_BYTES as u64, "an instance")?;
    Instance::from_json(&bytes).map_err(|e| problem(path, e.to_string()))
}

fn problem(path: &Path, problem: String) -> Failure {
    Failure::Instance {
        path: path.into(),
        problem,
    }
}

/// The engine's refusal in the instance's words and unit.
fn refusal(path: &Path, instance: &Instance, source: &NestError) -> Failure {
    let text = match source {
        NestError::ItemTooLarge { item, needs_mm, .. } => format!(
            "{}: is {} high at least, and the strip is {}; make the strip higher or allow more orientations",
            instance.label(*item),
            needs_mm[1] / instance.scale(),
            instance.strip_height()
        ),
        other => other.to_string(),
    };
    problem(path, text)
}
