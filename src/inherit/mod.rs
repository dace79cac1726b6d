//! What the counts allow: modes of inheritance judged by their exact likelihood over the whole pedigree of crosses.
//!
//! In scope: the likelihood, the wording of its verdict, forward prediction, candidate traits. Out of scope: where the
//! counts come from (`counts`, `book`) and which cross to make next (`plan`). Nothing here ever calls a mode proven.

mod cautions;
pub mod contrast;
mod doubly;
mod elimination;
mod error_law;
mod evidence;
mod expansion;
mod fit;
pub mod fixed;
pub mod fixed_together;
mod gametes;
mod herd;
mod judge;
mod judgement;
mod leaf;
pub mod linkage;
mod mixture;
mod mode;
mod mode_file;
mod model;
mod outcross;
mod outlook;
mod output;
mod pairs;
mod pedigree;
mod pool;
mod predict;
mod punnett;
mod reach;
mod reading;
mod same;
mod seen;
mod shares;
mod space;
mod spline;
mod suspect;
mod table;
pub mod traits;
mod tree;
mod words;

pub use cautions::cautions;
pub use doubly::{JudgedAxis, cross_kind};
pub use elimination::ENTRY_LIMIT;
pub use error_law::ScoringError;
pub use evidence::{Breeder, Brood, Class, Counts, EarlierSire, Evidence, Mating, Origin, Sex};
pub use fit::{CrossFit, ORDERING};
pub use herd::Herd;
pub use judge::{Progress, judge};
pub use judgement::{DEFAULT_ERROR, DEFAULT_RECOMBINATION, JudgeOptions, Judgement, ModeJudgement, Verdict};
pub use mode::{Condition, Copies, Locus, Mode, Place, SexSystem};
pub use mode_file::{BUILT_IN, built_in, parse, select};
pub use model::alike;
pub use model::{BestGenotypes, GenotypeProbability, Model, PairPosterior, Posterior, SexSystems};
pub use outlook::{Chance, Outlook, expected, fry_needed, outlook, outlook_of_genotypes};
pub use output::to_json;
pub use pedigree::informative;
pub use predict::{Combination, Forecast, combinations, forecast, mixed};
pub use punnett::{Cell, Gamete, Punnett, punnett};
pub use reach::judge_within_reach;
pub use shares::EARLIER_SHARE;
pub use space::{ClassLaw, Genotype, Space};
pub use suspect::{TestMate, TestMating, carrier_after, test_matings, young_to_clear};
pub use words::{LESS_LIKELY, Reason, p_text, sex_word};
