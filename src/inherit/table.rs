//! Tables over genotypes in natural logarithms, and what is multiplied and summed of them.

/// A function of some variables, as natural logarithms; `-inf` stands for zero.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Variables by index, the last one running fastest.
    pub(super) scope: Vec<usize>,
    /// One value for each assignment.
    pub(super) ln: Vec<f64>,
}

/// A product of tables over variables with the given numbers of states.
#[derive(Debug, Clone, Default)]
pub(super) struct Network {
    /// States of each variable.
    pub(super) states: Vec<usize>,
    /// The factors.
    pub(super) tables: Vec<Table>,
}

/// `ln Σ exp` without overflow; `-inf` for nothing.
pub(super) fn ln_sum(values: &[f64]) -> f64 {
    let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + values.iter().map(|v| (v - top).exp()).sum::<f64>().ln()
}

impl Network {
    /// The product of tables, `last` running fastest.
    pub(super) fn product(&self, tables: &[&Table], last: Option<usize>) -> Table {
        let mut scope: Vec<usize> = tables.iter().flat_map(|t| t.scope.iter().copied()).collect();
        scope.sort_unstable();
        scope.dedup();
        if let Some(last) = last {
            scope.retain(|v| *v != last);
            scope.push(last);
        }
        let sizes: Vec<usize> = scope.iter().map(|v| self.states[*v]).collect();
        let mut ln = vec![0.0; sizes.iter().product()];
        for table in tables {
            self.add(&scope, &sizes, table, &mut ln);
        }
        Table { scope, ln }
    }

    /// Adds `table` to `ln`, which runs over `scope`.
    fn add(&self, scope: &[usize], sizes: &[usize], table: &Table, ln: &mut [f64]) {
        let steps = self.strides(scope, &table.scope);
        let Some((inner_size, inner_step)) = sizes.last().zip(steps.last()) else {
            ln[0] += table.ln[0];
            return;
        };
        let outer = sizes.len() - 1;
        let (mut digits, mut at) = (vec![0; outer], 0);
        for row in ln.chunks_exact_mut(*inner_size) {
            for (i, value) in row.iter_mut().enumerate() {
                *value += table.ln[at + i * inner_step];
            }
            for d in (0..outer).rev() {
                digits[d] += 1;
                at += steps[d];
                if digits[d] < sizes[d] {
                    break;
                }
                at -= steps[d] * sizes[d];
                digits[d] = 0;
            }
        }
    }

    /// How far one step along each variable of `scope` moves within a table over `target`.
    fn strides(&self, scope: &[usize], target: &[usize]) -> Vec<usize> {
        let stride = |at: usize| target[at + 1..].iter().map(|u| self.states[*u]).product();
        scope.iter().map(|v| target.iter().position(|u| u == v).map_or(0, stride)).collect()
    }

    /// The place in a table over `target` of each entry of a table over `scope`, entries in order.
    pub(super) fn places(&self, scope: &[usize], target: &[usize]) -> Vec<usize> {
        let steps = self.strides(scope, target);
        scope.iter().zip(&steps).fold(vec![0], |places, (v, step)| {
            places.iter().flat_map(|at| (0..self.states[*v]).map(move |i| at + i * step)).collect()
        })
    }

    /// Sums out all but `scope`, kept in the order given.
    pub(super) fn sum_to(&self, table: &Table, scope: &[usize]) -> Table {
        let target = Table {
            scope: scope.to_vec(),
            ln: vec![f64::NEG_INFINITY; scope.iter().map(|v| self.states[*v]).product()],
        };
        let places = self.places(&table.scope, scope);
        let mut top = target.ln.clone();
        for (at, value) in places.iter().zip(&table.ln) {
            top[*at] = top[*at].max(*value);
        }
        let mut sums = vec![0.0; top.len()];
        for (at, value) in places.iter().zip(&table.ln) {
            if *value > f64::NEG_INFINITY {
                sums[*at] += (value - top[*at]).exp();
            }
        }
        let ln = sums.iter().zip(&top).map(|(s, t)| if *s > 0.0 { t + s.ln() } else { f64::NEG_INFINITY }).collect();
        Table { ln, ..target }
    }
}

pub(super) fn distribution(ln: &[f64]) -> Vec<f64> {
    let total = ln_sum(ln);
    ln.iter().map(|v| (v - total).exp()).collect()
}
