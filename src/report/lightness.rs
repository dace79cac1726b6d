//! A feature by generation: every brood, the generations' means with their intervals, the slope.

use maud::html;

use super::plot::{Frame, Plot, dot, drawing, line, names, range, square};
use super::story::TrendStory;
use crate::cells::{Cell, csv};

/// What the plot of each line is called.
pub(super) fn named(all: &[TrendStory]) -> Vec<String> {
    names("trend", all.iter().map(|story| format!("{} {}", story.line, story.feature)))
}

/// The plot; `None` without a generation.
pub(super) fn generations(story: &TrendStory, name: &str) -> Option<Plot> {
    let (first, last) = (story.trend.generations.first()?, story.trend.generations.last()?);
    let intervals = story.trend.generations.iter().filter_map(|g| g.interval);
    let values = story.broods.iter().map(|b| b.value).chain(intervals.flat_map(|i| [i.low, i.high]));
    let frame = Frame {
        x: (f64::from(first.generation) - 0.5, f64::from(last.generation) + 0.5),
        y: range(values),
        area: [60.0, 30.0, 580.0, 270.0],
    };
    let ticks: Vec<(f64, String)> =
        story.trend.generations.iter().map(|g| (f64::from(g.generation), g.generation.to_string())).collect();
    let marks = html! {
        (frame.axes(&ticks, &story.feature, "generation"))
        @for brood in &story.broods {
            (dot(frame.px(f64::from(brood.generation) - 0.15), frame.py(brood.value), 3.0, false))
        }
        @for g in &story.trend.generations {
            @let x = frame.px(f64::from(g.generation));
            @if let Some(i) = g.interval { (line(x, frame.py(i.low), x, frame.py(i.high), "")) }
            (square(x, frame.py(g.mean), 4.0, true))
        }
        @if let Some(slope) = &story.trend.slopes {
            @let at = |g: f64| frame.py(slope.intercept + slope.regression * g);
            @let ends = (f64::from(first.generation), f64::from(last.generation));
            (line(frame.px(ends.0), at(ends.0), frame.px(ends.1), at(ends.1), "6 4"))
        }
    };
    let title = format!("{} of {} by generation", story.feature, story.line);
    let caption =
        "Hollow circles are broods, full squares the means of generations with 95 % intervals, the dashed line the \
                   slope."
            .to_owned();
    let description = format!("{caption} {}", story.trend.verdict);
    let svg = drawing(name, &title, &description, (600.0, 320.0), &marks);
    Some(Plot { name: name.to_owned(), title, description, caption, svg, csv: numbers(story) })
}

fn numbers(story: &TrendStory) -> String {
    let brood = |b: &crate::lightness::BroodPoint| {
        let age = b.age.map_or(String::new(), |a| format!("{a:.0}"));
        let numbers = [b.generation.to_string(), b.fish.to_string(), format!("{:.3}", b.value), age];
        [&[Cell::text(&b.brood)][..], &numbers.map(Cell::number)].concat()
    };
    let rows: Vec<Vec<Cell>> = story.broods.iter().map(brood).collect();
    csv(&["brood", "generation", "fish", story.feature.as_str(), "age_days"], &rows)
}
