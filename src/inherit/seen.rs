//! The laws of a space as young and breeders show them, and which of them a brood's counts cannot tell apart.

use std::collections::BTreeMap;

use super::error_law::ScoringError;
use super::evidence::{Class, Sex};
use super::space::{Space, row_index, to_decimals};

/// Laws of a space as they are seen, by law, sex and class.
pub(super) type Seen = Vec<[Option<[f64; 3]>; 3]>;

/// The distinct laws of a space as counted young show them, as breeders out of broods do, and as they are.
pub(super) struct SeenLaws {
    pub(super) young: Seen,
    pub(super) breeders: Seen,
    /// Without any error; classes that are not told apart are one here, too.
    pub(super) certain: Seen,
}

impl SeenLaws {
    pub(super) fn new(error: &ScoringError, space: &Space) -> Self {
        let of_breeders = ScoringError { young: error.breeders, ..*error };
        let certain = ScoringError::even(0.0, error.classes);
        Self {
            young: error.seen_laws(space),
            breeders: of_breeders.seen_laws(space),
            certain: certain.seen_laws(space),
        }
    }
}

/// Adds the counts of a row to those of an earlier one that every law gives the same chances: which of the two a fish stands in
/// says nothing then, and the fewer rows hold counts the less an integral over them costs.
pub(super) fn put_like_rows_together(young: &Seen, counts: &mut [[u32; 3]; 3]) {
    for row in 1..counts.len() {
        let like = |other: &usize| young.iter().all(|law| rounded(law[*other]) == rounded(law[row]));
        let Some(other) = (0..row).find(like) else { continue };
        let moved = std::mem::take(&mut counts[row]);
        counts[other].iter_mut().zip(moved).for_each(|(sum, n)| *sum += n);
    }
}

/// A row of chances, to be told from others whatever the order in which sums were rounded.
fn rounded(row: Option<[f64; 3]>) -> Option<[i64; 3]> {
    row.map(|row| row.map(to_decimals))
}

fn rows_with_fish(counts: &[[u32; 3]; 3]) -> impl Iterator<Item = usize> {
    (0..counts.len()).filter(|row| counts[*row] != [0; 3])
}

/// For each law the first that gives the rows that hold counts the same chances, and those of breeders of these sexes: both what they
/// show, however often that is mistaken, and whether the counts can hold it.
pub(super) fn first_alike(seen: &SeenLaws, counts: &[[u32; 3]; 3], kids: &[Sex]) -> Vec<usize> {
    let mut known: BTreeMap<Vec<Option<[i64; 3]>>, usize> = BTreeMap::new();
    let chances = |law: usize| {
        let of_young = rows_with_fish(counts).map(|row| rounded(seen.young[law][row]));
        let of_kids = kids.iter().map(|sex| rounded(seen.certain[law][row_index(Some(*sex))]));
        of_young.chain(of_kids).collect()
    };
    (0..seen.young.len()).map(|law| *known.entry(chances(law)).or_insert(law)).collect()
}

/// Whether all counts stand in one row, of which no law gives the middle class.
pub(super) fn shows_two_classes(young: &Seen, counts: &[[u32; 3]; 3]) -> bool {
    let mut rows = rows_with_fish(counts);
    let (Some(row), None) = (rows.next(), rows.next()) else { return false };
    young.iter().filter_map(|law| law[row]).all(|chances| chances[Class::Middle.index()] <= 0.0)
}
