//! How lengths, angles, shares and colour differences are printed: one place, so that tables and reports agree.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// From where the camera saw the fish. Sheets, comparisons and counts do not mix views unless asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum View {
    /// From above, as in a tray.
    #[default]
    Above,
    /// From the side, as in a photo tank.
    Side,
}

/// A fish's sex, once a person has said so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Sex {
    /// Male.
    #[serde(rename = "m")]
    Male,
    /// Female.
    #[serde(rename = "f")]
    Female,
}

impl Sex {
    /// Females, then males: the order of arrays kept by sex.
    pub const BOTH: [Self; 2] = [Self::Female, Self::Male];

    /// The place in an array kept by sex, after [`Sex::BOTH`].
    pub const fn index(self) -> usize {
        match self {
            Self::Female => 0,
            Self::Male => 1,
        }
    }

    /// `m` or `f`, as in every file and table.
    pub const fn letter(self) -> &'static str {
        match self {
            Self::Male => "m",
            Self::Female => "f",
        }
    }

    /// `male` or `female`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Male => "male",
            Self::Female => "female",
        }
    }
}

/// Age in whole days on a day; `None` where that lies before the birth, as by a camera's wrong clock.
pub fn age_days(born: Date, on: Date) -> Option<u32> {
    u32::try_from(born.until(on).ok()?.get_days()).ok()
}

/// A share of 0…1 as whole percent: `31 %`; below 10 % with one digit.
pub fn percent(share: f64) -> String {
    // Adding zero turns minus zero into zero.
    let p = share * 100.0 + 0.0;
    if p.abs() < 9.95 { format!("{p:.1} %") } else { format!("{p:.0} %") }
}

/// A share as [`percent`] gives it, with more digits where it would else look like none or all and is neither.
pub fn share_percent(share: f64) -> String {
    let p = share * 100.0;
    let off = p.min(100.0 - p);
    let seems = if p < 50.0 { off < 0.05 } else { off <= 0.5 };
    if off <= 0.0 || !seems {
        return percent(share);
    }
    // One digit of what it lacks.
    let digits = (1..=15_u8).find(|d| off * 10_f64.powi(i32::from(*d)) >= 1.0).map_or(15, usize::from);
    format!("{p:.digits$} %")
}

/// A range of shares as percent, neither end of which looks like none or all where it is not: `0.0 % to 0.004 %`.
pub fn percent_range(low: f64, high: f64) -> String {
    format!("{} to {}", share_percent(low), share_percent(high))
}

/// A number with what it counts: `1 fish`, `3 broods`.
pub fn counted<N: std::fmt::Display + PartialEq + From<u8>>(number: N, one: &str, several: &str) -> String {
    let word = if number == N::from(1) { one } else { several };
    format!("{number} {word}")
}

/// Names in a row, the last two joined by a word: `A, B and C`.
pub fn joined(names: &[impl AsRef<str>], word: &str) -> String {
    match names {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [head @ .., last] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} {word} {}", head.join(", "), last.as_ref())
        }
    }
}

/// A number with so many decimals; what rounds to zero has no sign.
pub fn rounded(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// Least p-value that is told; below it the sums behind one lose their digits and end at zero, though nothing is impossible.
pub const LEAST_P: f64 = 1e-300;

/// A p-value; never prints as zero.
pub fn p_value(p: f64) -> String {
    if p < LEAST_P {
        format!("below {LEAST_P:e}")
    } else if p < 1e-4 {
        format!("{p:.1e}")
    } else if p < 0.01 {
        format!("{p:.4}")
    } else {
        format!("{p:.3}")
    }
}

/// Rounds every broken number in a JSON value to four decimals: finer than any error here, and easier to read.
pub fn tidy(value: &mut serde_json::Value) {
    tidy_to(value, 4);
}

/// Rounds every broken number in a JSON value to so many decimals.
pub fn tidy_to(value: &mut serde_json::Value, decimals: i32) {
    use serde_json::Value;
    let unit = 10_f64.powi(decimals);
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| tidy_to(item, decimals)),
        Value::Object(map) => map.values_mut().for_each(|item| tidy_to(item, decimals)),
        Value::Number(n) if n.is_f64() => {
            // Adding 0 turns −0 into 0.
            let rounded = n.as_f64().map(|v| (v * unit).round() / unit + 0.0);
            if let Some(short) = rounded.and_then(serde_json::Number::from_f64) {
                *n = short;
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_last_two_names_have_a_word_between_them() {
        let of = |names: &[&str]| joined(names, "and");
        assert_eq!([of(&[]), of(&["A"]), of(&["A", "B"])], ["", "A", "A and B"]);
        assert_eq!(of(&["A", "B", "C"]), "A, B and C");
    }

    #[test]
    fn a_tiny_p_is_no_nought() {
        let said = [f64::MIN_POSITIVE, 0.0, 2e-300, 0.004].map(p_value);
        assert_eq!(said, ["below 1e-300", "below 1e-300", "2.0e-300", "0.0040"]);
    }

    #[test]
    fn neither_none_nor_all_looks_so() {
        let said = [0.0, 1.0, 0.3, 0.0012, 3.7e-5, 0.999_96, 0.995].map(share_percent);
        assert_eq!(said, ["0.0 %", "100 %", "30 %", "0.1 %", "0.004 %", "99.996 %", "99.5 %"]);
        assert_eq!(percent_range(0.0, 3.7e-5), "0.0 % to 0.004 %");
    }

    #[test]
    fn what_rounds_to_zero_has_no_sign() {
        let said = [-0.001, -0.0, 0.004, -0.006, -10.0].map(|v| rounded(v, 2));
        assert_eq!(said, ["0.00", "0.00", "0.00", "-0.01", "-10.00"]);
    }
}
