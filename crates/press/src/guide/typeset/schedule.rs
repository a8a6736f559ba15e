//! The schedule as bars, one row a step, over as many pages as it takes.

use super::flow::{Flow, INK, QUIET, RULE, SMALL_MM, Set, down};
use crate::drawing::{Align, Compose};
use crate::guide::Bar;
use crate::words::Words;
use crate::{Ink, Item, Path, Stroke};
use lettering::{Face, set_line};
use piece::Stage;
use shape::Point;

/// From one row of the schedule to the next, mm.
const BAR_ROW_MM: f64 = 5.1;
/// What stands on a page of the schedule beside its rows, the legend with it, mm.
const AROUND_BARS_MM: f64 = 16.0;
/// So many rows stand together on a page: fewer look like a mistake.
const LEAST_BARS: usize = 3;

/// One tone for each stage, from clay to slate; work is drawn in it, waiting in a lighter one.
pub(crate) const fn stage_tone(stage: Stage) -> Ink {
    match stage {
        Stage::Prepare => Ink::rgb(150, 92, 54),
        Stage::DryFit => Ink::rgb(166, 126, 48),
        Stage::Transfer => Ink::rgb(104, 122, 60),
        Stage::Bond => Ink::rgb(46, 116, 102),
        Stage::Close => Ink::rgb(56, 98, 134),
        Stage::Hang | Stage::Later => Ink::rgb(92, 82, 128),
    }
}

/// How many of the rows that are left go on this page: as many as fit, but never so many that too few are left for the next.
fn bars_here(left: usize, room_mm: f64) -> usize {
    let fit = ((room_mm - AROUND_BARS_MM) / BAR_ROW_MM).floor().max(1.0) as usize;
    if fit >= left {
        left
    } else {
        fit.min(left.saturating_sub(LEAST_BARS)).max(1)
    }
}

pub(super) fn set_schedule(flow: &mut Flow, bars: &[Bar], words: &Words) {
    let end = bars.iter().map(|b| b.to_minute).fold(1.0, f64::max);
    let width = flow.width_mm();
    let label_w = 58.0;
    let (x0, chart_w) = (label_w + 3.0, width - label_w - 5.0);
    let row = BAR_ROW_MM;
    // Whole hours, quarter days or days, so that there are 4 to 12 lines.
    let step = [
        30.0, 60.0, 120.0, 240.0, 720.0, 1440.0, 2880.0, 7200.0, 14400.0,
    ]
    .into_iter()
    .find(|s| end / s <= 9.0)
    .unwrap_or(end / 6.0);
    let at = |minute: f64| x0 + chart_w * minute / end;
    let mut rest = bars;
    // With room for this many, giving rows to the next page leaves enough on this one.
    flow.keep(AROUND_BARS_MM + BAR_ROW_MM * (2 * LEAST_BARS - 1) as f64 + 0.1);
    while !rest.is_empty() {
        let (now, later) = rest.split_at(bars_here(rest.len(), flow.left_mm()));
        let mut set = Set::default();
        let height = row * now.len() as f64;
        let top = -5.0;
        let mut k = 0.0;
        while k * step <= end + 1e-6 {
            let x = at(k * step);
            let line = Path::line(Point::new(x, top), Point::new(x, top - height));
            set.items.stroke(line, Stroke::continuous(0.1, RULE));
            let said = time_mark(k * step, step, words);
            set.items.words(
                &said,
                Face::Regular,
                1.8,
                Point::new(x, top + 1.3),
                Align::Centre,
                QUIET,
            );
            k += 1.0;
        }
        for (n, bar) in now.iter().enumerate() {
            let y = top - row * (n as f64 + 1.0);
            let line = crate::fitting::line_within(&bar.label, Face::Regular, 1.95, label_w);
            set.items
                .text(line, Point::new(0.0, y + 1.6), Align::Left, INK);
            draw_bar(&mut set.items, bar, y + 0.9, row - 1.8, &at);
        }
        set.height_mm = height + 9.0;
        flow.put(set);
        rest = later;
        if !rest.is_empty() {
            flow.start_page();
        }
    }
    let mut legend = Set::default();
    let mut x = 0.0;
    for (label, work, edge) in [
        (words.working, true, false),
        (
            words
                .waiting
                .trim_start_matches("{} ")
                .trim_start_matches("of "),
            false,
            false,
        ),
        (words.no_slack, true, true),
    ] {
        let b = down(x, -0.3, 6.0, 2.6);
        let tone = stage_tone(Stage::Bond);
        let ink = if work { tone } else { tone.at(0.28) };
        legend.items.fill(Path::rectangle(b), ink);
        if edge {
            legend
                .items
                .stroke(Path::rectangle(b), Stroke::continuous(0.35, INK));
        }
        let line = set_line(label, Face::Regular, SMALL_MM);
        let w = line.width_mm;
        legend
            .items
            .text(line, Point::new(x + 8.0, -2.6), Align::Left, QUIET);
        x += 8.0 + w + 9.0;
    }
    legend.height_mm = 7.0;
    flow.put(legend);
}

fn draw_bar(items: &mut Vec<Item>, bar: &Bar, y: f64, height: f64, at: &dyn Fn(f64) -> f64) {
    let (from, to) = (at(bar.from_minute), at(bar.to_minute));
    let tone = stage_tone(bar.stage);
    let whole = down(from, y + height, (to - from).max(0.5), height);
    items.fill(Path::rectangle(whole), tone.at(0.28));
    let share = (bar.hands_on_minutes / (bar.to_minute - bar.from_minute).max(1e-9)).min(1.0);
    let work = down(from, y + height, ((to - from) * share).max(0.5), height);
    items.fill(Path::rectangle(work), tone);
    if bar.critical {
        items.stroke(Path::rectangle(whole), Stroke::continuous(0.3, INK));
    }
}

fn time_mark(minute: f64, step: f64, words: &Words) -> String {
    if step >= 1440.0 {
        format!("{:.0}\u{a0}{}", minute / 1440.0, words.days)
    } else if step >= 60.0 {
        format!("{:.0}\u{a0}{}", minute / 60.0, words.hours)
    } else {
        format!("{minute:.0}\u{a0}{}", words.minutes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guide::Language;
    use crate::guide::typeset::flow::LEFT_MM;

    fn bar(n: usize) -> Bar {
        Bar {
            label: format!("step {n}"),
            stage: Stage::Bond,
            from_minute: 10.0 * n as f64,
            to_minute: 10.0 * n as f64 + 8.0,
            hands_on_minutes: 5.0,
            critical: false,
        }
    }

    /// Only the rows' labels begin at the left margin.
    fn rows_on(page: &[Item]) -> usize {
        let labels = page
            .iter()
            .filter(|item| matches!(item, Item::Text(t) if (t.at.x - LEFT_MM).abs() < 1e-9));
        labels.count()
    }

    /// The demo's schedule ended with one row alone on a page.
    #[test]
    fn no_page_holds_a_few_stray_rows_of_the_schedule() {
        for count in [1, 2, 3, 4, 5, 6, 7, 45, 46, 47, 48, 90, 97] {
            let bars: Vec<Bar> = (0..count).map(bar).collect();
            for start in 0..50 {
                let mut flow = Flow::new([210.0, 297.0]);
                flow.start_page();
                let mut before = Set::default();
                before.space(5.0 * f64::from(start));
                flow.put(before);
                set_schedule(&mut flow, &bars, Language::English.words());
                let (pages, _) = flow.finish();
                let on_pages: Vec<usize> = pages
                    .iter()
                    .map(|p| rows_on(p))
                    .filter(|&n| n > 0)
                    .collect();
                assert_eq!(on_pages.iter().sum::<usize>(), count);
                let least = *on_pages.iter().min().unwrap();
                assert!(
                    least >= LEAST_BARS.min(count),
                    "{count} from {start}: {on_pages:?}"
                );
                // The pages before the last are as full as that allows.
                assert!(
                    on_pages.len() <= 2 + count / 47,
                    "{count} from {start}: {on_pages:?}"
                );
            }
        }
    }
}
