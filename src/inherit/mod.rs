//! What the counts allow: modes of inheritance judged by their exact likelihood over the whole pedigree of crosses.
//!
//! In scope: the likelihood, the wording of its verdict, forward prediction, candidate traits. Out of scope: where the
//! counts come from (`counts`, `book`) and which cross to make next (`plan`). Nothing here ever calls a mode proven.

mod evidence;

pub use evidence::{Breeder, Brood, Class, Counts, EarlierSire, Evidence, Mating, Origin, Sex};
