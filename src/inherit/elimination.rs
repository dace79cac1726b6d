//! The sum-product (or max-product) elimination of a network's variables.
//!
//! Sources: Elston & Stewart 1971, Cannings, Thompson & Skolnick 1978 (peeling).
//! Loops need no special case: each step multiplies what shares a variable and sums it out.

use std::collections::BTreeSet;

use super::table::{Network, Table, distribution, ln_sum};
use crate::error::{Error, Result};

/// Largest sum of table entries one mode may need: half a gigabyte, about two seconds.
pub const ENTRY_LIMIT: f64 = 6e7;

/// How a variable is taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Take {
    Sum,
    Max,
}

/// One elimination step: the product of all that held the variable, and what it sent on.
struct Step {
    product: Table,
    message: Table,
    /// Which later step took the message up; `None` for a constant.
    taken_by: Option<usize>,
}

/// What a whole net says of the variables that one elimination step brought together.
pub(super) struct Belief {
    /// Unnormalised, over the variable the step took out (running fastest) and those its message was about.
    pub(super) table: Table,
    /// The step that took the message up; `None` at the end of a part of the net that hangs by itself.
    pub(super) next: Option<usize>,
}

impl Network {
    /// The order in which to take variables out: always the one whose table is smallest, ties by fewest new ties
    /// between neighbours, then by index. Variables in `keep` stay.
    fn order(&self, keep: &[usize]) -> (Vec<usize>, f64) {
        let mut near = self.neighbours();
        let mut left: Vec<usize> = (0..self.states.len()).filter(|v| !keep.contains(v)).collect();
        let mut costs: Vec<(f64, usize)> = (0..near.len()).map(|v| self.cost_of_taking(v, &near)).collect();
        let (mut order, mut entries) = (vec![], 0.0);
        let cheapest = |left: &[usize], costs: &[(f64, usize)]| {
            let by_cost = |a: usize, b: usize| {
                costs[a].0.total_cmp(&costs[b].0).then(costs[a].1.cmp(&costs[b].1)).then(a.cmp(&b))
            };
            left.iter().enumerate().min_by(|(_, a), (_, b)| by_cost(**a, **b)).map(|(at, _)| at)
        };
        while let Some(at) = cheapest(&left, &costs) {
            let v = left.swap_remove(at);
            let met = std::mem::take(&mut near[v]);
            for a in &met {
                near[*a].remove(&v);
                near[*a].extend(met.iter().filter(|b| *b != a));
            }
            // Only who is near one of those has another cost than before.
            let changed: BTreeSet<usize> = met.iter().flat_map(|a| near[*a].iter().chain([a])).copied().collect();
            entries += costs[v].0;
            order.push(v);
            changed.into_iter().for_each(|u| costs[u] = self.cost_of_taking(u, &near));
        }
        entries += keep.iter().map(|v| self.states[*v] as f64).product::<f64>();
        (order, entries)
    }

    /// The variables that share a table with each.
    fn neighbours(&self) -> Vec<BTreeSet<usize>> {
        let mut near = vec![BTreeSet::new(); self.states.len()];
        for table in &self.tables {
            for a in &table.scope {
                near[*a].extend(table.scope.iter().filter(|b| *b != a));
            }
        }
        near
    }

    /// Entries of the table that taking a variable out makes, and pairs of its neighbours that it ties together.
    fn cost_of_taking(&self, v: usize, near: &[BTreeSet<usize>]) -> (f64, usize) {
        let size = near[v].iter().chain([&v]).map(|u| self.states[*u] as f64).product();
        let untied = |a: &usize| near[v].range(a + 1..).filter(|b| !near[*a].contains(b)).count();
        (size, near[v].iter().map(untied).sum())
    }

    /// Entries all tables of an elimination would hold together.
    pub(super) fn cost(&self, keep: &[usize]) -> f64 {
        self.order(keep).1
    }

    /// Refuses what would take too long or too much memory.
    ///
    /// # Errors
    /// States the estimate and the limit.
    pub(super) fn check_cost(&self, place: &str, keep: &[usize]) -> Result<()> {
        let entries = self.cost(keep);
        if entries <= ENTRY_LIMIT {
            return Ok(());
        }
        let message = format!("needs about {entries:.1e} table entries, the limit is {ENTRY_LIMIT:.0e}");
        let hint = "leave modes of many loci out with --modes, declare pure founders, or judge fewer crosses at a time";
        Err(Error::too_dear(place, message, hint))
    }

    fn eliminate(&self, order: &[usize], take: Take) -> (Vec<Step>, Vec<Table>) {
        // Where each table in the pool came from: a step, or the network itself; nothing once it is taken up.
        let mut pool: Vec<Option<(Table, Option<usize>)>> =
            self.tables.iter().map(|t| Some((t.clone(), None))).collect();
        let mut holding: Vec<Vec<usize>> = vec![vec![]; self.states.len()];
        for (at, table) in self.tables.iter().enumerate() {
            table.scope.iter().for_each(|v| holding[*v].push(at));
        }
        let mut steps: Vec<Step> = Vec::with_capacity(order.len());
        for v in order {
            let with: Vec<(Table, Option<usize>)> = holding[*v].iter().filter_map(|at| pool[*at].take()).collect();
            for from in with.iter().filter_map(|(_, from)| *from) {
                steps[from].taken_by = Some(steps.len());
            }
            let tables: Vec<&Table> = with.iter().map(|(t, _)| t).collect();
            let product = self.product(&tables, Some(*v));
            let message = self.take_last(&product, take);
            message.scope.iter().for_each(|u| holding[*u].push(pool.len()));
            pool.push(Some((message.clone(), Some(steps.len()))));
            steps.push(Step { product, message, taken_by: None });
        }
        (steps, pool.into_iter().flatten().map(|(t, _)| t).collect())
    }

    fn take_last(&self, product: &Table, take: Take) -> Table {
        let Some((last, rest)) = product.scope.split_last() else { return product.clone() };
        let one = |row: &[f64]| match take {
            Take::Sum => ln_sum(row),
            Take::Max => row.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        };
        Table { scope: rest.to_vec(), ln: product.ln.chunks_exact(self.states[*last]).map(one).collect() }
    }

    /// Logarithm of the sum over all assignments.
    pub(super) fn ln_total(&self) -> f64 {
        let (_, rest) = self.eliminate(&self.order(&[]).0, Take::Sum);
        rest.iter().map(|t| t.ln[0]).sum()
    }

    /// The logarithm of the sum, and what the whole net says of the variables of each elimination step, in the order of
    /// the steps (nothing where the sum is zero).
    pub(super) fn beliefs(&self) -> (f64, Vec<Belief>) {
        let order = self.order(&[]).0;
        let (steps, rest) = self.eliminate(&order, Take::Sum);
        let total: f64 = rest.iter().map(|t| t.ln[0]).sum();
        if total == f64::NEG_INFINITY {
            return (total, vec![]);
        }
        // Filled from the back: the last step knows all, and each tells those whose message it took up.
        let mut beliefs: Vec<Belief> = vec![];
        for (i, step) in steps.iter().enumerate().rev() {
            let mut table = step.product.clone();
            if let Some(later) = step.taken_by {
                let now = self.sum_to(&beliefs[steps.len() - 1 - later].table, &step.message.scope);
                let ln =
                    now.ln.iter().zip(&step.message.ln).map(|(n, m)| if *m == f64::NEG_INFINITY { *m } else { n - m });
                let change = Table { scope: now.scope.clone(), ln: ln.collect() };
                table = self.product(&[&table, &change], Some(order[i]));
            }
            beliefs.push(Belief { table, next: step.taken_by });
        }
        beliefs.reverse();
        (total, beliefs)
    }

    /// The likeliest joint assignment (the first in index order among equals); `None` where the sum is zero.
    pub(super) fn best(&self) -> Option<Vec<usize>> {
        let order = self.order(&[]).0;
        let (steps, rest) = self.eliminate(&order, Take::Max);
        if rest.iter().any(|t| t.ln[0] == f64::NEG_INFINITY) {
            return None;
        }
        let mut chosen = vec![0; self.states.len()];
        for (v, step) in order.iter().zip(&steps).rev() {
            let width = self.states[*v];
            let row = step.product.scope[..step.product.scope.len() - 1]
                .iter()
                .fold(0, |at, u| at * self.states[*u] + chosen[*u]);
            let values = &step.product.ln[row * width..(row + 1) * width];
            let mut best = 0;
            for (i, value) in values.iter().enumerate() {
                // Rounding must not decide between equals.
                if *value > values[best] + 1e-9 {
                    best = i;
                }
            }
            chosen[*v] = best;
        }
        Some(chosen)
    }

    /// The joint distribution of a few variables, the last one running fastest; `None` where the sum is zero.
    pub(super) fn joint(&self, keep: &[usize]) -> Option<Vec<f64>> {
        let (_, rest) = self.eliminate(&self.order(keep).0, Take::Sum);
        let ones = keep.iter().map(|v| Table { scope: vec![*v], ln: vec![0.0; self.states[*v]] });
        let all: Vec<Table> = rest.into_iter().chain(ones).collect();
        let product = self.product(&all.iter().collect::<Vec<_>>(), None);
        let joint = distribution(&self.sum_to(&product, keep).ln);
        joint.iter().all(|p| p.is_finite()).then_some(joint)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A loop of four variables with two, three, two and three states.
    fn ring() -> Network {
        let states = vec![2, 3, 2, 3];
        let value = |i: usize| (0.37 * (i * i % 7) as f64 + 0.1).ln();
        let tables = [[0, 1], [1, 2], [2, 3], [3, 0]]
            .iter()
            .enumerate()
            .map(|(t, [a, b])| Table {
                scope: vec![*a, *b],
                ln: (0..states[*a] * states[*b]).map(|i| value(i + t)).collect(),
            })
            .collect();
        Network { states, tables }
    }

    fn every_assignment(net: &Network) -> Vec<(Vec<usize>, f64)> {
        let mut all = vec![vec![]];
        for size in &net.states {
            all =
                all.iter().flat_map(|head: &Vec<usize>| (0..*size).map(|i| [head.as_slice(), &[i]].concat())).collect();
        }
        all.into_iter()
            .map(|a| {
                let at = |t: &Table| t.scope.iter().fold(0, |at, v| at * net.states[*v] + a[*v]);
                let p: f64 = net.tables.iter().map(|t| t.ln[at(t)].exp()).product();
                (a, p)
            })
            .collect()
    }

    #[test]
    fn elimination_is_the_sum_over_all_assignments() {
        let net = ring();
        let all = every_assignment(&net);
        let total: f64 = all.iter().map(|(_, p)| p).sum();
        assert!((net.ln_total() - total.ln()).abs() < 1e-12);
        let (ln, beliefs) = net.beliefs();
        assert!((ln - total.ln()).abs() < 1e-12);
        assert_eq!(beliefs.len(), net.states.len());
        for belief in &beliefs {
            let v = *belief.table.scope.last().unwrap();
            for (s, found) in distribution(&net.sum_to(&belief.table, &[v]).ln).into_iter().enumerate() {
                let expected: f64 = all.iter().filter(|(a, _)| a[v] == s).map(|(_, p)| p).sum::<f64>() / total;
                assert!((found - expected).abs() < 1e-12, "variable {v} state {s}");
            }
        }
    }

    #[test]
    fn the_best_and_the_joint_agree_with_the_list() {
        let net = ring();
        let all = every_assignment(&net);
        let highest = all.iter().map(|(_, p)| *p).fold(0.0, f64::max);
        let best = net.best().unwrap();
        let (_, reached) = all.iter().find(|(a, _)| *a == best).unwrap();
        assert!((reached - highest).abs() < 1e-12);
        let total: f64 = all.iter().map(|(_, p)| p).sum();
        let joint = net.joint(&[3, 0]).unwrap();
        for (i, p) in joint.iter().enumerate() {
            let expected: f64 =
                all.iter().filter(|(a, _)| a[3] == i / 2 && a[0] == i % 2).map(|(_, p)| p).sum::<f64>() / total;
            assert!((p - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn zero_stays_zero() {
        let mut net = ring();
        net.tables.push(Table { scope: vec![1], ln: vec![f64::NEG_INFINITY; 3] });
        assert!(net.ln_total() < f64::MIN);
        assert_eq!(net.best(), None);
        assert_eq!(net.joint(&[0, 1]), None);
    }

    #[test]
    fn too_dear_a_net_is_refused_with_the_estimate() {
        let all: Vec<usize> = (0..12).collect();
        let tables = all
            .iter()
            .flat_map(|a| all.iter().map(move |b| (*a, *b)))
            .filter(|(a, b)| a < b)
            .map(|(a, b)| Table { scope: vec![a, b], ln: vec![0.0; 81] })
            .collect();
        let net = Network { states: vec![9; 12], tables };
        let error = net.check_cost("mode two-locus-9-7", &[]).unwrap_err();
        assert!(error.message.contains("e11"), "{error}");
    }
}
