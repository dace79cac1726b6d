//! Kinship, inbreeding, founders' shares and the effective number of breeders, from a pedigree.
//!
//! Kinship of two fish is the probability that an allele drawn from each is the same by descent; a fish's inbreeding
//! coefficient F is the kinship of its parents; founders count as unrelated and not inbred. Method: the tabular recursion
//! (Emik & Terrill 1949), kept only for fish that have young, so that thousands of fish that never bred cost nothing.

use std::collections::BTreeMap;

use crate::error::{Error, Result};

/// One fish with its parents by name. No sire and no dams: a founder. Several dams: any of them, equally likely, whoever the
/// sire is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ancestry {
    /// The fish's own name, unique in the pedigree.
    pub fish: String,
    /// Its sire, when known; where other males come into question, the likeliest.
    pub sire: Option<String>,
    /// Other males that may be its sire, each with its probability, 0…1; the rest is `sire`'s.
    pub other_sires: Vec<(String, f64)>,
    /// Its possible dams; empty when unknown.
    pub dams: Vec<String>,
}

/// A checked pedigree, ready to answer.
#[derive(Debug, Clone)]
pub struct Pedigree {
    names: Vec<String>,
    index: BTreeMap<String, usize>,
    parents: Vec<Parents>,
    /// Every fish after its parents.
    order: Vec<usize>,
    /// Row of a fish in `kinship`, for fish that have young.
    row: Vec<Option<usize>>,
    /// Kinship among fish that have young: lower triangle, row by row, in an order where parents come first.
    kinship: Vec<f64>,
}

#[derive(Debug, Clone, Default)]
struct Parents {
    /// Possible sires with their probabilities.
    sires: Vec<(usize, f64)>,
    dams: Vec<usize>,
}

impl Parents {
    fn all(&self) -> impl Iterator<Item = usize> + '_ {
        self.sires.iter().map(|(sire, _)| *sire).chain(self.dams.iter().copied())
    }

    /// The mean of a figure over the possible sires; 0 without any.
    fn by_sire(&self, figure: impl Fn(usize) -> f64) -> f64 {
        // An empty sum would be minus zero; nobody wants to read that.
        self.sires.iter().fold(0.0, |sum, (sire, share)| sum + share * figure(*sire))
    }
}

/// The young of a planned cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// Their inbreeding coefficient.
    pub inbreeding: f64,
    /// Kinship with their sire.
    pub with_sire: f64,
    /// Kinship with their dam.
    pub with_dam: f64,
    /// Share of their genes from each founder.
    pub founder_shares: Vec<(String, f64)>,
    /// What the pair counts for if the next generation comes from it alone (a planning figure; the pedigree's F is exact).
    pub effective_breeders: f64,
}

impl Pedigree {
    /// Checks and orders a pedigree.
    ///
    /// # Errors
    /// A fish named twice, a parent that is not in the list, or a fish that is its own ancestor.
    pub fn new(fish: &[Ancestry]) -> Result<Self> {
        let mut pedigree = Self::ordered(fish)?;
        pedigree.fill();
        Ok(pedigree)
    }

    /// Checks a pedigree without working anything out.
    ///
    /// # Errors
    /// As [`Pedigree::new`].
    pub fn check(fish: &[Ancestry]) -> Result<()> {
        Self::ordered(fish).map(drop)
    }

    fn ordered(fish: &[Ancestry]) -> Result<Self> {
        let names: Vec<String> = fish.iter().map(|f| f.fish.clone()).collect();
        let index: BTreeMap<String, usize> = names.iter().cloned().zip(0..).collect();
        if let Some((_, twice)) = names.iter().enumerate().find(|(i, name)| index[*name] != *i) {
            return Err(Error::failed(twice, "this fish stands twice in the pedigree", "give each fish one line"));
        }
        let parents = fish.iter().map(|f| parents_of(f, &index)).collect::<Result<Vec<_>>>()?;
        let order = parents_first(&parents).map_err(|i| {
            Error::failed(
                &names[i],
                "this fish is its own ancestor",
                "check the parents of the crosses it descends from",
            )
        })?;
        Ok(Self { row: vec![None; names.len()], names, index, parents, order, kinship: Vec::new() })
    }

    /// Names in the order given.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Inbreeding coefficient F of a fish, 0…1.
    ///
    /// # Errors
    /// A fish that is not in the pedigree.
    pub fn inbreeding(&self, fish: &str) -> Result<f64> {
        Ok(self.own_inbreeding(self.find(fish)?))
    }

    /// Kinship of two fish, which is also the inbreeding coefficient their young would have.
    ///
    /// # Errors
    /// A fish that is not in the pedigree.
    pub fn kinship(&self, a: &str, b: &str) -> Result<f64> {
        Ok(self.between(self.find(a)?, self.find(b)?))
    }

    /// Which share of a fish's genes comes from each founder: founders in pedigree order, shares above zero only.
    /// An unknown parent's half is credited to nobody, so that the shares of such a fish sum to less than 1.
    ///
    /// # Errors
    /// A fish that is not in the pedigree.
    pub fn founder_shares(&self, fish: &str) -> Result<Vec<(&str, f64)>> {
        let mut share = vec![0.0; self.names.len()];
        share[self.find(fish)?] = 1.0;
        for &i in self.order.iter().rev() {
            let Parents { sires, dams } = &self.parents[i];
            let half = share[i] / 2.0;
            if !sires.is_empty() || !dams.is_empty() {
                share[i] = 0.0;
            }
            sires.iter().for_each(|(sire, part)| share[*sire] += half * part);
            dams.iter().for_each(|&dam| share[dam] += half / dams.len() as f64);
        }
        Ok(self.names.iter().map(String::as_str).zip(share).filter(|(_, share)| *share > 0.0).collect())
    }

    /// What the young of a planned cross would be.
    ///
    /// # Errors
    /// A fish that is not in the pedigree.
    pub fn planned(&self, sire: &str, dam: &str) -> Result<Planned> {
        let mut shares: Vec<(String, f64)> = Vec::new();
        for (founder, share) in [self.founder_shares(sire)?, self.founder_shares(dam)?].into_iter().flatten() {
            match shares.iter_mut().find(|(known, _)| known == founder) {
                Some((_, sum)) => *sum += share / 2.0,
                None => shares.push((founder.to_owned(), share / 2.0)),
            }
        }
        // The young's kinship with a fish is the mean of its parents'.
        let between = self.kinship(sire, dam)?;
        Ok(Planned {
            inbreeding: between,
            with_sire: f64::midpoint(self.kinship(sire, sire)?, between),
            with_dam: f64::midpoint(self.kinship(dam, dam)?, between),
            founder_shares: shares,
            effective_breeders: effective_breeders(1, 1),
        })
    }

    fn find(&self, fish: &str) -> Result<usize> {
        let known = self.index.get(fish).copied();
        known.ok_or_else(|| Error::failed(fish, "no such fish in the pedigree", "`broodhue fish list` shows the fish"))
    }

    /// Gives each fish with young its row, oldest first, and computes its kinship with all rows before it.
    fn fill(&mut self) {
        let mut has_young = vec![false; self.names.len()];
        for parent in self.parents.iter().flat_map(Parents::all) {
            has_young[parent] = true;
        }
        let breeders: Vec<usize> = self.order.iter().copied().filter(|&i| has_young[i]).collect();
        for (row, &fish) in breeders.iter().enumerate() {
            let with_older: Vec<f64> = breeders[..row].iter().map(|&older| self.through_parents(fish, older)).collect();
            let own = f64::midpoint(1.0, self.own_inbreeding(fish));
            self.kinship.extend(with_older);
            self.kinship.push(own);
            self.row[fish] = Some(row);
        }
    }

    fn own_inbreeding(&self, fish: usize) -> f64 {
        let parents = &self.parents[fish];
        parents.by_sire(|sire| mean(parents.dams.iter().map(|&dam| self.between(sire, dam))))
    }

    fn between(&self, a: usize, b: usize) -> f64 {
        match (self.row[a], self.row[b]) {
            (Some(i), Some(j)) => self.kinship[i.max(j) * (i.max(j) + 1) / 2 + i.min(j)],
            _ if a == b => f64::midpoint(1.0, self.own_inbreeding(a)),
            // A fish without a row has no young, so it cannot be an ancestor of the other.
            (None, _) => self.through_parents(a, b),
            (_, None) => self.through_parents(b, a),
        }
    }

    /// Kinship of `young` with `other`, which is not its descendant: the mean over the young's parents.
    fn through_parents(&self, young: usize, other: usize) -> f64 {
        let parents = &self.parents[young];
        let by_sire = parents.by_sire(|sire| self.between(sire, other));
        f64::midpoint(by_sire, mean(parents.dams.iter().map(|&dam| self.between(dam, other))))
    }
}

fn parents_of(fish: &Ancestry, index: &BTreeMap<String, usize>) -> Result<Parents> {
    let find = |name: &String| {
        let hint = "add the fish first, or leave the parent empty";
        index
            .get(name)
            .copied()
            .ok_or_else(|| Error::failed(&fish.fish, format!("its parent '{name}' is unknown"), hint))
    };
    let rest = 1.0 - fish.other_sires.iter().map(|(_, share)| share).sum::<f64>();
    let first = fish.sire.iter().map(|sire| (sire, rest));
    let sires = first.chain(fish.other_sires.iter().map(|(sire, share)| (sire, *share)));
    let sires = sires.map(|(sire, share)| Ok((find(sire)?, share))).collect::<Result<_>>()?;
    Ok(Parents { sires, dams: fish.dams.iter().map(find).collect::<Result<_>>()? })
}

/// An order in which parents come before their young, or a fish that is its own ancestor.
fn parents_first(parents: &[Parents]) -> std::result::Result<Vec<usize>, usize> {
    let mut waiting: Vec<usize> = parents.iter().map(|p| p.all().count()).collect();
    let mut young = vec![Vec::new(); parents.len()];
    for (fish, own) in parents.iter().enumerate() {
        for parent in own.all() {
            young[parent].push(fish);
        }
    }
    let mut order: Vec<usize> = (0..parents.len()).filter(|&i| waiting[i] == 0).collect();
    let mut next = 0;
    while let Some(&done) = order.get(next) {
        next += 1;
        for &fish in &young[done] {
            waiting[fish] -= 1;
            if waiting[fish] == 0 {
                order.push(fish);
            }
        }
    }
    if order.len() == parents.len() { Ok(order) } else { Err(on_a_loop(parents, &waiting)) }
}

/// Walking up through parents that still wait must end in a loop: the first fish met twice is on it.
fn on_a_loop(parents: &[Parents], waiting: &[usize]) -> usize {
    let mut seen = vec![false; parents.len()];
    let mut at = waiting.iter().position(|w| *w > 0).unwrap_or(0);
    while !seen[at] {
        seen[at] = true;
        at = parents[at].all().find(|&p| waiting[p] > 0).unwrap_or(at);
    }
    at
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0usize), |(sum, n), v| (sum + v, n + 1));
    if n == 0 { 0.0 } else { sum / n as f64 }
}

/// Effective number of breeders with unequal sexes, 4·Nm·Nf/(Nm+Nf) (Wright 1931); 0 when a sex is missing.
///
/// The expected rise of inbreeding in a generation is 1/(2Ne): a planning figure only. For a single pair a generation the
/// pedigree's own F is right and this is not (asymptote 0.191, not 0.25).
pub fn effective_breeders(males: u64, females: u64) -> f64 {
    let (m, f) = (males as f64, females as f64);
    if males + females == 0 { 0.0 } else { 4.0 * m * f / (m + f) }
}

/// Effective number over generations of unequal size: their harmonic mean. `None` for no generations or an empty one.
pub fn effective_over_generations(sizes: &[f64]) -> Option<f64> {
    let usable = !sizes.is_empty() && sizes.iter().all(|n| *n > 0.0);
    usable.then(|| sizes.len() as f64 / sizes.iter().map(|n| 1.0 / n).sum::<f64>())
}

/// Effective number when `parents` breeders leave unequal families: (4N−2)/(V+2), V the variance of family size
/// (Wright; Crow & Kimura 1970).
pub fn effective_with_families(parents: f64, variance: f64) -> f64 {
    (4.0 * parents - 2.0) / (variance + 2.0)
}
