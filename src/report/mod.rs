//! One self-contained page that tells a line's story, and the plots and numbers behind it, from plain values.
//!
//! The page needs no script and no network, reads in black and white, and prints on A4. It never reads the book.

mod base64;
mod chart;
mod lightness;
mod page;
mod pedigree;
mod plot;
mod shares;
mod story;

pub use page::page;
pub use plot::Plot;
pub use story::{Crop, CrossBox, FishBox, Inheritance, ModeLine, NextCross, Story, TrendStory};

/// Every plot of the story, in the order of the page.
pub fn plots(story: &Story) -> Vec<Plot> {
    let mut all = Vec::new();
    all.extend(pedigree::family(story));
    let counts = story.counts.iter().zip(shares::named(&story.counts));
    all.extend(counts.filter_map(|(counts, name)| shares::shares(counts, &name)));
    let trends = story.trends.iter().zip(lightness::named(&story.trends));
    all.extend(trends.filter_map(|(trend, name)| lightness::generations(trend, &name)));
    all.extend(story.control.as_ref().map(|(control, points)| chart::control(control, points)));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lightness::{BroodPoint, CardPoint, TrendInput, control_chart, trend};
    use crate::units::Sex;

    fn story() -> Story {
        let fish = |name: &str, sex, cross: Option<&str>| FishBox {
            name: name.into(),
            sex: Some(sex),
            cross: cross.map(str::to_owned),
            class: None,
        };
        let cross = |name: &str, sire: &str, dam: &str| CrossBox {
            name: name.into(),
            sires: vec![sire.into()],
            dams: vec![dam.into()],
            note: "12 of 49 absent".into(),
        };
        let brood = |generation, value| BroodPoint {
            brood: format!("g{generation} <b>"),
            generation,
            fish: 8,
            value,
            age: None,
            mid_parent: None,
            floor: None,
        };
        let broods = vec![brood(0, 70.0), brood(0, 70.6), brood(1, 71.2), brood(1, 71.0), brood(2, 72.4)];
        let (line, feature) = ("Lowmere Pale".to_owned(), "lightness".to_owned());
        let found = trend(&TrendInput {
            line: line.clone(),
            feature: feature.clone(),
            broods: broods.clone(),
            ..TrendInput::default()
        })
        .unwrap();
        let point = |i: u32| CardPoint {
            photo: format!("p{i}.jpg"),
            day: f64::from(i) * 30.0,
            value: 1.0 + f64::from(i % 2),
            set_up: "phone".into(),
        };
        let points: Vec<CardPoint> = (0..5).map(point).collect();
        Story {
            title: "A <script>alert(1)</script> line".into(),
            made_on: "2026-06-01".into(),
            fish: vec![
                fish("Lowmere-1", Sex::Male, None),
                fish("Tarnwick-1", Sex::Female, None),
                fish("K1-s", Sex::Male, Some("K1")),
                fish("K1-d", Sex::Female, Some("K1")),
            ],
            crosses: vec![cross("K1", "Lowmere-1", "Tarnwick-1"), cross("K2", "K1-s", "K1-d")],
            trends: vec![TrendStory { line, feature, broods, trend: found }],
            control: control_chart(&points).map(|control| (control, points)),
            crops: vec![Crop { caption: "red-body absent".into(), jpeg: vec![1, 2, 3] }],
            ..Story::default()
        }
    }

    #[test]
    fn the_page_stands_alone_and_escapes_what_people_typed() {
        let html = page(&story());
        assert!(html.starts_with("<!DOCTYPE html>") && html.contains("lang=\"en\""));
        assert!(!html.contains("<script") && html.contains("&lt;script&gt;"), "scripts must not survive");
        for outside in ["href=", "src=\"http", "@import", "url("] {
            assert!(!html.contains(outside), "{outside}");
        }
        for section in ["Crosses", "Counts", "Inheritance", "The next cross", "Cautions", "How the numbers were made"] {
            assert!(html.contains(section), "{section}");
        }
        assert!(html.contains("data:image/jpeg;base64,AQID"));
    }

    #[test]
    fn every_plot_has_words_and_numbers() {
        let all = plots(&story());
        let names: Vec<&str> = all.iter().map(|p| p.name.as_str()).collect();
        assert_eq!(names, ["pedigree", "trend-lowmere-pale-lightness", "control"]);
        for plot in &all {
            assert!(plot.svg.contains("<title") && plot.svg.contains("<desc") && plot.svg.contains("role=\"img\""));
            assert!(plot.csv.lines().count() > 1, "{}", plot.csv);
        }
        assert_eq!(all[1].csv.lines().nth(1).unwrap(), "g0 <b>,0,8,70.000,");
    }

    #[test]
    fn an_empty_book_makes_a_page_that_says_so() {
        let html = page(&Story::default());
        assert!(html.contains("No cross is recorded yet") && html.contains("Nothing is confirmed yet"));
        assert!(plots(&Story::default()).is_empty());
    }
}
