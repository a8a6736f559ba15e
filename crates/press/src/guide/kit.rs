//! The plan of somebody who gets the parts in a box.

use piece::{BuildPlan, Step};

/// Taking the device apart, setting aside what is dangerous in it and seeing to its data: done before the box is packed.
fn is_done_before(step: &Step) -> bool {
    step.code.starts_with("step.free-")
        || ["step.set-aside", "step.set-aside-cell", "step.data"].contains(&step.code.as_str())
}

/// The plan without what is done before the box is packed. Time in which nothing else was done is taken out.
pub(super) fn from_the_box(plan: &BuildPlan) -> BuildPlan {
    let (done, kept): (Vec<Step>, Vec<Step>) = plan.steps.iter().cloned().partition(is_done_before);
    let idle = only_within(&spans(&done), &spans(&kept));
    let earlier = |minute: f64| -> f64 {
        let gone: f64 = idle
            .iter()
            .map(|&[from, to]| (to.min(minute) - from).max(0.0))
            .sum();
        minute - gone
    };
    let mut plan = plan.clone();
    plan.steps = kept;
    for step in &mut plan.steps {
        step.after.retain(|id| done.iter().all(|d| d.id != *id));
        step.start_minute = earlier(step.start_minute);
        step.end_minute = earlier(step.end_minute);
    }
    plan.hands_on_minutes = plan.steps.iter().map(|s| s.hands_on_minutes).sum();
    plan.elapsed_minutes = earlier(plan.elapsed_minutes);
    plan.critical_minutes = plan.critical_minutes.min(plan.elapsed_minutes);
    plan
}

/// When any of these steps goes on, minutes, from the first on.
fn spans(steps: &[Step]) -> Vec<[f64; 2]> {
    let mut all: Vec<[f64; 2]> = steps
        .iter()
        .map(|s| [s.start_minute, s.end_minute.max(s.start_minute)])
        .collect();
    all.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for [from, to] in all {
        match joined.last_mut() {
            Some(last) if from <= last[1] => last[1] = last[1].max(to),
            _ => joined.push([from, to]),
        }
    }
    joined
}

/// What lies in the first spans and in none of the others.
fn only_within(first: &[[f64; 2]], others: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut left = Vec::new();
    for &[begin, to] in first {
        let mut from = begin;
        for &[start, end] in others.iter().filter(|o| o[1] > begin && o[0] < to) {
            if start > from {
                left.push([from, start]);
            }
            from = from.max(end);
        }
        if from < to {
            left.push([from, to]);
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_joined_and_cut_from_each_other() {
        let first = [[0.0, 10.0], [20.0, 30.0]];
        assert_eq!(
            only_within(&first, &[[4.0, 6.0], [9.0, 22.0]]),
            [[0.0, 4.0], [6.0, 9.0], [22.0, 30.0]]
        );
        assert_eq!(only_within(&first, &[[0.0, 40.0]]), [[0.0; 2]; 0]);
        assert_eq!(only_within(&first, &[]), first);
    }
}
