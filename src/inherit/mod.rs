//! What the counts allow: modes of inheritance judged by their exact likelihood over the whole pedigree of crosses.
//!
//! In scope: the likelihood, the wording of its verdict, forward prediction, candidate traits. Out of scope: where the
//! counts come from (`counts`, `book`) and which cross to make next (`plan`). Nothing here ever calls a mode proven.

mod error_law;
mod evidence;
mod gametes;
mod mixture;
mod mode;
mod mode_file;
mod model;
mod pedigree;
mod shares;
mod space;
mod table;

pub use error_law::ScoringError;
pub use evidence::{Breeder, Brood, Class, Counts, EarlierSire, Evidence, Mating, Origin, Sex};
pub use mode::{Condition, Copies, Locus, Mode, Place, SexSystem};
pub use mode_file::{BUILT_IN, built_in, parse, select};
pub use model::{BestGenotypes, GenotypeProbability, Model, PairPosterior, Posterior, SexSystems};
pub use space::{ClassLaw, Genotype, Space};
pub use table::ENTRY_LIMIT;
