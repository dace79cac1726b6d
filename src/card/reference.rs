//! Published colours of the common 24-patch chart, in its two editions, and what any card's patches should look like.

use serde::{Deserialize, Serialize};

use super::{Card, Layout};
use crate::colour::{Lab, chroma};
use crate::error::Error;

/// Which published table applies: the chart's colours changed in November 2014.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum Edition {
    /// Charts made before November 2014.
    #[serde(rename = "before-2014")]
    Before2014,
    /// Charts made in November 2014 and later.
    #[default]
    #[serde(rename = "after-2014")]
    After2014,
}

impl Edition {
    /// `before-2014` or `after-2014`, as in every file and option.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Before2014 => "before-2014",
            Self::After2014 => "after-2014",
        }
    }
}

impl std::str::FromStr for Edition {
    type Err = Error;

    /// # Errors
    /// A usage error for any other word.
    fn from_str(word: &str) -> Result<Self, Error> {
        match word {
            "before-2014" => Ok(Self::Before2014),
            "after-2014" => Ok(Self::After2014),
            other => Err(Error::usage(
                "edition",
                format!("'{other}' is not known"),
                "use after-2014 (November 2014 and later) or before-2014",
            )),
        }
    }
}

/// What one patch of a card should look like.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The patch's name, as messages show it.
    pub name: String,
    /// Its colour, CIELAB under D50, 2° observer.
    pub lab: Lab,
    /// Whether it is one of the greys that set white balance and exposure.
    pub neutral: bool,
    /// Standard error of that colour, in CIELAB units: how far one print may be from the table.
    pub error: f64,
}

/// Patches in a row and rows of the 24-patch chart.
pub const CHART_GRID: (usize, usize) = (6, 4);

/// How far a single 24-patch chart is from the published mean, in CIELAB units: starting value, of the size of the
/// difference between the two editions' neutral patches (0.1 to 2.0, median 0.6).
pub const CHART_ERROR: f64 = 0.6;

/// Places of the 24-patch chart's neutral patches, white to black.
pub const CHART_NEUTRALS: std::ops::Range<usize> = 18..24;

struct Row {
    name: &'static str,
    before: [f64; 3],
    after: [f64; 3],
}

const fn row(name: &'static str, before: [f64; 3], after: [f64; 3]) -> Row {
    Row { name, before, after }
}

/// Row by row from dark skin to black: CIELAB, D50, 2° observer, as the chart's maker publishes them.
///
/// Read from two open-source tables each: `before` from OpenCV 4 (`mcc`, 2005 table) and from the Python package
/// colour-science 0.4.7 (before November 2014), which agree but for b* of blue sky (-21.925 and -21.905; the 2005 xyY
/// table gives -21.94, so the first stands); `after` from colour-science 0.4.7 and from DarSIA, which agree.
const CHART: [Row; 24] = [
    row("dark skin", [37.986, 13.555, 14.059], [37.54, 14.37, 14.92]),
    row("light skin", [65.711, 18.13, 17.81], [64.66, 19.27, 17.5]),
    row("blue sky", [49.927, -4.88, -21.925], [49.32, -3.82, -22.54]),
    row("foliage", [43.139, -13.095, 21.905], [43.46, -12.74, 22.72]),
    row("blue flower", [55.112, 8.844, -25.399], [54.94, 9.61, -24.79]),
    row("bluish green", [70.719, -33.397, -0.199], [70.48, -32.26, -0.37]),
    row("orange", [62.661, 36.067, 57.096], [62.73, 35.83, 56.5]),
    row("purplish blue", [40.02, 10.41, -45.964], [39.43, 10.75, -45.17]),
    row("moderate red", [51.124, 48.239, 16.248], [50.57, 48.64, 16.67]),
    row("purple", [30.325, 22.976, -21.587], [30.1, 22.54, -20.87]),
    row("yellow green", [72.532, -23.709, 57.255], [71.77, -24.13, 58.19]),
    row("orange yellow", [71.941, 19.363, 67.857], [71.51, 18.24, 67.37]),
    row("blue", [28.778, 14.179, -50.297], [28.37, 15.42, -49.8]),
    row("green", [55.261, -38.342, 31.37], [54.38, -39.72, 32.27]),
    row("red", [42.101, 53.378, 28.19], [42.43, 51.05, 28.62]),
    row("yellow", [81.733, 4.039, 79.819], [81.8, 2.67, 80.41]),
    row("magenta", [51.935, 49.986, -14.574], [50.63, 51.28, -14.12]),
    row("cyan", [51.038, -28.631, -28.638], [49.57, -29.71, -28.32]),
    row("white", [96.539, -0.425, 1.186], [95.19, -1.03, 2.93]),
    row("neutral 8", [81.257, -0.638, -0.335], [81.29, -0.57, 0.44]),
    row("neutral 6.5", [66.766, -0.734, -0.504], [66.89, -0.75, -0.06]),
    row("neutral 5", [50.867, -0.153, -0.27], [50.76, -0.13, 0.14]),
    row("neutral 3.5", [35.656, -0.421, -1.231], [35.63, -0.46, -0.48]),
    row("black", [20.461, -0.079, -0.973], [20.64, 0.07, -0.46]),
];

/// The 24-patch chart's published colours in the order of its patches.
pub fn chart(edition: Edition) -> Vec<Reference> {
    let lab = |r: &Row| match edition {
        Edition::Before2014 => r.before,
        Edition::After2014 => r.after,
    };
    let reference = |(i, r): (usize, &Row)| {
        let [l, a, b] = lab(r);
        Reference {
            name: r.name.to_owned(),
            lab: Lab::new(l, a, b),
            neutral: CHART_NEUTRALS.contains(&i),
            error: CHART_ERROR,
        }
    };
    CHART.iter().enumerate().map(reference).collect()
}

/// Below this chroma a patch whose colour a card file states counts as neutral: the neutral patches of the 24-patch chart
/// stay below 3.2, its least colourful coloured patch (dark skin) has 20.
const NEUTRAL_CHROMA: f64 = 5.0;

/// What the patches of `card` should look like; empty when nobody knows.
pub fn of_card(card: &Card, edition: Edition) -> Vec<Reference> {
    match card.layout {
        Layout::Chart24 => chart(edition),
        Layout::Unknown24 => Vec::new(),
        Layout::Tray | Layout::Described => card
            .known
            .iter()
            .enumerate()
            .map(|(i, k)| Reference {
                name: format!("patch {}", i + 1),
                lab: k.lab,
                neutral: chroma(k.lab) < NEUTRAL_CHROMA,
                error: k.error,
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::ciede2000;

    #[test]
    fn editions_differ_a_little_everywhere_and_never_much() {
        for (b, a) in chart(Edition::Before2014).iter().zip(chart(Edition::After2014)) {
            let d = ciede2000(b.lab, a.lab);
            assert!(d > 0.01 && d < 2.5, "{}: {d}", b.name);
        }
    }

    #[test]
    fn neutrals_are_grey_and_fall_from_white_to_black() {
        let neutrals: Vec<_> = chart(Edition::After2014).into_iter().filter(|r| r.neutral).collect();
        assert_eq!(neutrals.len(), 6);
        assert!(neutrals.iter().all(|r| chroma(r.lab) < 3.2));
        assert!(neutrals.windows(2).all(|w| w[0].lab.l > w[1].lab.l + 10.0));
    }

    #[test]
    fn editions_are_read_back_by_their_names() {
        for e in [Edition::Before2014, Edition::After2014] {
            assert_eq!(e.name().parse::<Edition>(), Ok(e));
            assert_eq!(serde_json::to_string(&e).unwrap(), format!("\"{}\"", e.name()));
        }
        assert_eq!("2014".parse::<Edition>().unwrap_err().kind, crate::error::ErrorKind::Usage);
    }
}
