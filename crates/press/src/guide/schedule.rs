//! The schedule as bars.

use super::Bar;
use crate::schedule::sets_the_end;
use piece::{BuildPlan, Step};

/// More bars than a reader can take in: steps of one kind in one stage are then joined.
const MOST_BARS: usize = 40;

/// One bar for each step in the order of their starts; where there are too many, one for each kind of step in a stage.
pub(super) fn bars(plan: &BuildPlan, title: impl Fn(&Step) -> String) -> Vec<Bar> {
    let bar = |s: &Step| Bar {
        label: title(s),
        stage: s.stage,
        from_minute: s.start_minute,
        to_minute: s.end_minute.max(s.start_minute),
        hands_on_minutes: s.hands_on_minutes,
        critical: sets_the_end(s),
    };
    if plan.steps.len() <= MOST_BARS {
        return plan.steps.iter().map(bar).collect();
    }
    let mut joined: Vec<(&str, Bar, usize)> = Vec::new();
    for step in &plan.steps {
        let same =
            |(code, b, _): &&mut (&str, Bar, usize)| *code == step.code && b.stage == step.stage;
        match joined.iter_mut().find(same) {
            Some((_, there, count)) => {
                let own = bar(step);
                there.from_minute = there.from_minute.min(own.from_minute);
                there.to_minute = there.to_minute.max(own.to_minute);
                there.hands_on_minutes += own.hands_on_minutes;
                there.critical |= own.critical;
                *count += 1;
            }
            None => joined.push((&step.code, bar(step), 1)),
        }
    }
    let name = |(_, bar, count): (&str, Bar, usize)| match count {
        1 => bar,
        n => Bar {
            label: format!("{} (+{})", bar.label, n - 1),
            ..bar
        },
    };
    joined.into_iter().map(name).collect()
}
