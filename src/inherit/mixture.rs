//! The count factor of a brood that may have several dams, an earlier sire, or both.

mod work;

use std::collections::BTreeMap;

use super::evidence::{Class, Counts, Sex};
use super::expansion;
use super::seen::{SeenLaws, first_alike, put_like_rows_together, shows_two_classes};
use super::shares::{self, Node};
use super::space::row_index;
use super::spline;
use super::table::ln_sum;
use crate::stats::factorial::ln_arrangements;
use work::Route;
pub(super) use work::{ONCE, PASSES, fewer_dams};

/// The laws of one possible dam's young by her sire and, where some may be his, by the earlier sire; indices of the space's
/// distinct laws.
pub(super) type DamLaws = (usize, Option<usize>);

/// A brood of mixed parentage, ready to be weighed under any genotypes of its possible parents.
pub(super) struct Mixture<'a> {
    seen: &'a SeenLaws,
    dams: usize,
    /// The places of the dams whose young may be the earlier sire's; none where there is no such male.
    holders: Vec<usize>,
    /// Counted fish less the breeders among them, by row and class.
    exponents: [[u32; 3]; 3],
    /// Sex and own class of each breeder out of the brood.
    kids: Vec<(Sex, Option<Class>)>,
    ln_coefficient: f64,
    degree: usize,
    /// For each law the first that what is counted cannot tell from it.
    first_alike: Vec<usize>,
    /// Whether all counted fish stand in one row and show one of two classes there.
    two_classes: bool,
    /// The counts by themselves, where the own class of some breeder does not stand in the row of its sex.
    alone: Option<Box<Mixture<'a>>>,
}

/// ln of the number of orders in which a brood's counts can come, sex by sex.
pub(super) fn ln_coefficient(counts: &Counts) -> f64 {
    counts.rows().iter().map(|(_, row)| ln_arrangements(&row.map(u64::from))).sum()
}

impl<'a> Mixture<'a> {
    pub(super) fn new(
        seen: &'a SeenLaws,
        (dams, holders): (usize, Vec<usize>),
        counts: &Counts,
        kids: &[(Sex, Option<Class>)],
    ) -> Self {
        let mut exponents = counts.rows().map(|(_, row)| row);
        // The counts include the breeder, in the row of its sex or among those whose sex was not seen; its own factor
        // stands for it. What it shows is conditioned on: in its own row the two cancel, elsewhere they have to be weighed.
        let mut elsewhere = false;
        for (sex, class) in kids {
            let Some(class) = class.map(Class::index) else { continue };
            let rows = [row_index(Some(*sex)), row_index(None)];
            let held = rows.into_iter().find(|row| exponents[*row][class] > 0);
            held.into_iter().for_each(|row| exponents[row][class] -= 1);
            elsewhere |= held != Some(rows[0]);
        }
        put_like_rows_together(&seen.young, &mut exponents);
        let degree = counts.total() as usize + kids.len();
        let alone = elsewhere.then(|| Box::new(Self::new(seen, (dams, holders.clone()), counts, &[])));
        let kids = kids.to_vec();
        // What is weighed beside the breeders may hold a row that the rest leaves empty.
        let weighed = if elsewhere { counts.rows().map(|(_, row)| row) } else { exponents };
        let sexes: Vec<Sex> = kids.iter().map(|(sex, _)| *sex).collect();
        let first_alike = first_alike(seen, &weighed, &sexes);
        let two_classes = shows_two_classes(&seen.young, &exponents);
        let ln_coefficient = ln_coefficient(counts);
        Self { seen, dams, holders, exponents, kids, ln_coefficient, degree, first_alike, two_classes, alone }
    }

    /// Sources a young fish may have: each dam by her sire, then each dam who may have any of his by the earlier sire.
    pub(super) fn sources(&self) -> usize {
        self.dams + self.holders.len()
    }

    /// The place of a source's dam, and whether it is by the earlier sire.
    fn source(&self, source: usize) -> (usize, bool) {
        source.checked_sub(self.dams).map_or((source, false), |stored| (self.holders[stored], true))
    }

    fn has_earlier(&self) -> bool {
        !self.holders.is_empty()
    }

    /// The laws that stand for these in the brood's factor, so that each is worked out once: in order where no breeder has to be
    /// traced to its own dam.
    pub(super) fn kind(&self, laws: impl Iterator<Item = DamLaws>) -> Vec<DamLaws> {
        let first = |law: usize| self.first_alike[law];
        let mut kind: Vec<DamLaws> = laws.map(|(own, stored)| (first(own), stored.map(first))).collect();
        if self.kids.is_empty() {
            kind.sort_unstable();
        }
        kind
    }

    /// Equal dams share one group where no breeder has to be traced to its own dam.
    pub(super) fn groups(&self, laws: &[DamLaws]) -> Vec<(DamLaws, usize)> {
        let mut groups: Vec<(DamLaws, usize)> = vec![];
        for law in laws {
            match groups.iter_mut().find(|(known, _)| known == law) {
                Some((_, size)) if self.kids.is_empty() => *size += 1,
                _ => groups.push((*law, 1)),
            }
        }
        groups
    }

    /// ln of the brood's factor for each way the breeders out of it may come from the sources, the first breeder running
    /// fastest; times what each source gives, and summed, it is the probability of the counts.
    pub(super) fn ln_values(&self, laws: &[DamLaws]) -> Vec<f64> {
        let ways = self.ln_ways(laws);
        let Some(alone) = &self.alone else { return ways };
        let counted: f64 = ln_sum(&alone.ln_ways(laws));
        let shown: Vec<f64> = ways.iter().enumerate().map(|(way, ln)| ln + self.ln_shown(way, laws)).collect();
        let shown = ln_sum(&shown);
        let given = |ln: f64| if shown > f64::NEG_INFINITY { ln + counted - shown } else { f64::NEG_INFINITY };
        ways.into_iter().map(given).collect()
    }

    /// ln of the integral over the shares of what is counted beside the breeders, with the breeders' own shares.
    fn ln_ways(&self, laws: &[DamLaws]) -> Vec<f64> {
        let closed = match self.route(laws).0 {
            Route::Closed => self.in_closed_form(laws),
            Route::Quadrature => None,
        };
        closed.unwrap_or_else(|| self.by_quadrature(laws))
    }

    /// ln of the probability that the breeders, coming from the sources in this way, show what they show.
    fn ln_shown(&self, way: usize, laws: &[DamLaws]) -> f64 {
        let of = |((sex, class), source): (&(Sex, Option<Class>), usize)| {
            let (dam, is_stored) = self.source(source);
            let (own, stored) = laws[dam];
            let law = if is_stored { stored } else { Some(own) };
            let row = law.and_then(|law| self.seen.breeders[law][row_index(Some(*sex))]).unwrap_or_default();
            class.map_or(0.0, |class| times_ln(1.0, row[class.index()]))
        };
        self.kids.iter().zip(self.sources_of(way)).map(of).sum()
    }

    /// The source of each breeder in one of the ways they may come from the sources, the first breeder running fastest.
    fn sources_of(&self, way: usize) -> impl Iterator<Item = usize> {
        let sources = self.sources();
        (0..self.kids.len()).scan(way, move |left, _| {
            let source = *left % sources;
            *left /= sources;
            Some(source)
        })
    }

    /// Closed form over the dams' shares, quadrature over the earlier sire's; `None` where some dam has no young of a sex
    /// that was counted, and the shares among the others have to be scaled.
    fn in_closed_form(&self, laws: &[DamLaws]) -> Option<Vec<f64>> {
        let cells: Vec<(usize, usize)> =
            (0..9).map(|c| (c / 3, c % 3)).filter(|(r, c)| self.exponents[*r][*c] > 0).collect();
        let counts: Vec<usize> = cells.iter().map(|(r, c)| self.exponents[*r][*c] as usize).collect();
        let of = |law: usize| -> Option<Vec<f64>> {
            let of_law = &self.seen.young[law];
            let able = self.kids.iter().all(|(sex, _)| of_law[row_index(Some(*sex))].is_some());
            cells.iter().map(|(r, c)| Some(of_law[*r]?[*c])).collect::<Option<_>>().filter(|_| able)
        };
        let own: Vec<Vec<f64>> = laws.iter().map(|(law, _)| of(*law)).collect::<Option<_>>()?;
        let stored: Vec<Option<Vec<f64>>> =
            laws.iter().map(|(_, law)| law.map_or(Some(None), |law| of(law).map(Some))).collect::<Option<_>>()?;
        let earlier = if self.has_earlier() { shares::earlier_nodes(self.degree) } else { vec![(0.0, 0.0)] };
        let grid = if self.two_classes { shares::legendre(self.mixed_grid()) } else { vec![] };
        let expectation = |rows: &[Vec<f64>], kids: &[usize]| {
            if !self.two_classes {
                return expansion::ln_expectation(rows, kids, &counts);
            }
            let first: Vec<f64> = rows.iter().map(|row| row.first().copied().unwrap_or(1.0)).collect();
            let of = |cell: usize| counts.get(cell).copied().unwrap_or(0);
            spline::ln_expectation(&first, kids, (of(0), of(1)), &grid)
        };
        let mut terms: Vec<Vec<f64>> = vec![vec![]; self.ways()];
        for (ln_weight, share) in earlier {
            let mixed = |dam: usize| match &stored[dam] {
                Some(s) => own[dam].iter().zip(s).map(|(o, s)| o * (1.0 - share) + s * share).collect(),
                None => own[dam].clone(),
            };
            let rows: Vec<Vec<f64>> = (0..self.dams).map(mixed).collect();
            let mut known: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
            for (way, terms) in terms.iter_mut().enumerate() {
                let (kids, of_own, of_stored) = self.kids_by_dam(way);
                let paternity = times_ln(of_stored as f64, share) + times_ln(of_own as f64, 1.0 - share);
                let dams = *known.entry(kids).or_insert_with_key(|kids| expectation(&rows, kids));
                terms.push(ln_weight + paternity + dams);
            }
        }
        Some(terms.iter().map(|t| self.ln_coefficient + ln_sum(t)).collect())
    }

    fn ways(&self) -> usize {
        self.sources().pow(u32::try_from(self.kids.len()).unwrap_or(u32::MAX))
    }

    /// How many breeders each dam has in this way; of dams who may have young by the earlier sire, how many by their own sires and
    /// how many by him.
    fn kids_by_dam(&self, way: usize) -> (Vec<usize>, usize, usize) {
        let (mut kids, mut own, mut stored) = (vec![0; self.dams], 0, 0);
        for source in self.sources_of(way) {
            let (dam, is_stored) = self.source(source);
            kids[dam] += 1;
            stored += usize::from(is_stored);
            own += usize::from(!is_stored && self.holders.contains(&dam));
        }
        (kids, own, stored)
    }

    /// Whether some source has no young of a sex that counts or a breeder has, so that the shares among the others are scaled and the
    /// integrand is no polynomial.
    fn is_scaled(&self, laws: &[DamLaws]) -> bool {
        let has = |row: usize| self.exponents[row].iter().any(|n| *n > 0);
        let of_kid = |row: usize| self.kids.iter().any(|(sex, _)| row_index(Some(*sex)) == row);
        let rows: Vec<usize> = (0..self.exponents.len()).filter(|row| has(*row) || of_kid(*row)).collect();
        let mut sources = laws.iter().flat_map(|(own, stored)| [Some(*own), *stored]).flatten();
        sources.any(|law| rows.iter().any(|row| self.seen.young[law][*row].is_none()))
    }

    fn by_quadrature(&self, laws: &[DamLaws]) -> Vec<f64> {
        let groups = self.groups(laws);
        let sizes: Vec<usize> = groups.iter().map(|(_, size)| *size).collect();
        let degree = self.quadrature_degree(laws);
        let earlier = if self.has_earlier() { shares::earlier_nodes(degree) } else { vec![(0.0, 0.0)] };
        let points: Vec<(f64, Vec<f64>)> = shares::dam_nodes(&sizes, degree)
            .iter()
            .flat_map(|node| earlier.iter().map(|e| self.at(&groups, node, *e)))
            .collect();
        let top = points.iter().map(|(ln, _)| *ln).fold(f64::NEG_INFINITY, f64::max);
        if top == f64::NEG_INFINITY {
            return vec![top; self.ways()];
        }
        let mut sums = vec![0.0; self.ways()];
        for (ln, shares) in &points {
            let weight = (ln - top).exp();
            for (way, sum) in sums.iter_mut().enumerate() {
                *sum += weight * self.way_share(way, shares);
            }
        }
        sums.into_iter().map(|s: f64| self.ln_coefficient + top + s.ln()).collect()
    }

    fn way_share(&self, way: usize, shares: &[f64]) -> f64 {
        self.sources_of(way).map(|source| shares[source]).product()
    }

    /// The integrand at one point, without the breeders' shares, and each source's share there.
    fn at(&self, groups: &[(DamLaws, usize)], node: &Node, (ln_weight, earlier): (f64, f64)) -> (f64, Vec<f64>) {
        let of_own = |stored: &Option<usize>| if stored.is_some() { 1.0 - earlier } else { 1.0 };
        let own = node.shares.iter().zip(groups).map(|(s, ((law, stored), _))| (s * of_own(stored), *law));
        let stored = node.shares.iter().zip(groups).filter_map(|(s, ((_, law), _))| law.map(|law| (s * earlier, law)));
        let sources: Vec<(f64, usize)> = own.chain(stored).collect();
        let mut ln = ln_weight + node.ln_weight;
        for (row, exponents) in self.exponents.iter().enumerate() {
            let of_row = self.kids.iter().filter(|(sex, _)| row_index(Some(*sex)) == row).count() as f64;
            if of_row > 0.0 || exponents.iter().any(|n| *n != 0) {
                ln += self.ln_row(&sources, row, exponents, of_row);
            }
        }
        (ln, sources.into_iter().map(|(share, _)| share).collect())
    }

    fn ln_row(&self, sources: &[(f64, usize)], row: usize, exponents: &[u32; 3], kids: f64) -> f64 {
        let (mut mix, mut able) = ([0.0; 3], 0.0);
        for (share, law) in sources {
            if let Some(p) = self.seen.young[*law][row] {
                able += share;
                for (sum, p) in mix.iter_mut().zip(p) {
                    *sum += share * p;
                }
            }
        }
        if able <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let counted: f64 = mix.iter().zip(exponents).map(|(p, n)| times_ln(f64::from(*n), p / able)).sum();
        counted - kids * able.ln()
    }
}

/// `n ln p`; nothing for n = 0, and `-inf` for p = 0 whichever way it counts.
pub(super) fn times_ln(n: f64, p: f64) -> f64 {
    if n.abs() < 0.5 {
        0.0
    } else if p <= 0.0 {
        f64::NEG_INFINITY
    } else {
        n * p.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One dam has daughters by her own mate alone, the other by the earlier sire alone, and all have sons: the shares among
    /// those who can be a daughter's parents are scaled. Against plain sums over a fine grid of the shares.
    #[test]
    fn scaled_shares_are_integrated_like_a_fine_grid() {
        let law = |daughters: Option<[f64; 3]>| [daughters, Some([0.5, 0.0, 0.5]), None];
        let all = vec![law(Some([0.9, 0.0, 0.1])), law(None), law(Some([0.2, 0.0, 0.8]))];
        let seen = SeenLaws { young: all.clone(), breeders: all.clone(), certain: all };
        let counts = Counts { female: [2, 0, 1], ..Counts::default() };
        let found = Mixture::new(&seen, (2, vec![0, 1]), &counts, &[]).ln_values(&[(0, Some(1)), (1, Some(2))]);
        let shown = |first: f64, earlier: f64| {
            let (own, stored) = (first * (1.0 - earlier), (1.0 - first) * earlier);
            let target = (0.1 * own + 0.8 * stored) / (own + stored);
            3.0 * target * (1.0 - target).powi(2)
        };
        const STEPS: u32 = 1500;
        let place = |i: u32| (f64::from(i) + 0.5) / f64::from(STEPS);
        let mean = |f: &dyn Fn(f64) -> f64| (0..STEPS).map(|i| f(place(i))).sum::<f64>() / f64::from(STEPS);
        let uniform = mean(&|earlier| mean(&|first| shown(first, earlier)));
        let none = mean(&|first| shown(first, 0.0));
        // Half of the weight lies on no stored sperm at all (docs/modes.md).
        let expected = 0.5 * none + 0.5 * uniform;
        assert!((found[0].exp() / expected - 1.0).abs() < 1e-5, "{} {expected}", found[0].exp());
    }
}
