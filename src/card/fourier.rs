//! The power spectrum of a small square of real values.

use std::f32::consts::TAU;

/// A complex number: real and imaginary part.
type Complex = [f32; 2];

/// Spectra of squares of one size.
#[derive(Debug, Clone)]
pub(super) struct Fourier {
    side: usize,
    /// e^(-2πik/side) for k below half of the side.
    turns: Vec<Complex>,
}

impl Fourier {
    /// For squares with a side of `side`, a power of two.
    pub(super) fn new(side: usize) -> Self {
        let turn = |k: usize| {
            let (sin, cos) = (-TAU * k as f32 / side as f32).sin_cos();
            [cos, sin]
        };
        Self { side, turns: (0..side / 2).map(turn).collect() }
    }

    /// |F|² of one square plus, where there is a second, that of the second; row by row, frequency zero first.
    ///
    /// Two real squares go through one complex transform: of z = a + ib is |A|² + |B|² = (|Z(k)|² + |Z(−k)|²)/2.
    pub(super) fn power(&self, first: &[f32], second: Option<&[f32]>) -> Vec<f32> {
        let n = self.side;
        let mut values: Vec<Complex> = match second {
            Some(second) => first.iter().zip(second).map(|(a, b)| [*a, *b]).collect(),
            None => first.iter().map(|a| [*a, 0.0]).collect(),
        };
        values.chunks_exact_mut(n).for_each(|row| self.transform(row));
        let mut column = vec![[0.0; 2]; n];
        for x in 0..n {
            (0..n).for_each(|y| column[y] = values[y * n + x]);
            self.transform(&mut column);
            (0..n).for_each(|y| values[y * n + x] = column[y]);
        }
        let squared = |x: usize, y: usize| values[y * n + x].iter().map(|v| v * v).sum::<f32>();
        let opposite = |k: usize| (n - k) % n;
        (0..n * n)
            .map(|k| (k % n, k / n))
            .map(|(x, y)| (squared(x, y) + squared(opposite(x), opposite(y))) / 2.0)
            .collect()
    }

    /// The transform of one line in place (Cooley & Tukey 1965, halving).
    fn transform(&self, line: &mut [Complex]) {
        let n = line.len();
        let bits = n.trailing_zeros();
        for i in 0..n {
            let j = i.reverse_bits() >> (usize::BITS - bits);
            if i < j {
                line.swap(i, j);
            }
        }
        let mut half = 1;
        while half < n {
            for block in line.chunks_exact_mut(2 * half) {
                let (low, high) = block.split_at_mut(half);
                for ((p, q), t) in low.iter_mut().zip(high).zip(self.turns.iter().step_by(n / (2 * half))) {
                    let turned = [q[0] * t[0] - q[1] * t[1], q[0] * t[1] + q[1] * t[0]];
                    *q = [p[0] - turned[0], p[1] - turned[1]];
                    *p = [p[0] + turned[0], p[1] + turned[1]];
                }
            }
            half *= 2;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// |F|² by its definition.
    fn slow(values: &[f32], n: usize, fx: usize, fy: usize) -> f32 {
        let mut sum = [0.0f64; 2];
        for (k, v) in values.iter().enumerate() {
            let turns = ((fx * (k % n) + fy * (k / n)) % n) as f64 / n as f64;
            let (sin, cos) = (std::f64::consts::TAU * turns).sin_cos();
            sum = [sum[0] + f64::from(*v) * cos, sum[1] - f64::from(*v) * sin];
        }
        #[expect(clippy::cast_possible_truncation, reason = "compared as f32")]
        let power = (sum[0] * sum[0] + sum[1] * sum[1]) as f32;
        power
    }

    #[test]
    fn powers_are_those_of_the_definition_and_add_up() {
        let n = 8;
        let made = |seed: u32| -> Vec<f32> {
            (0..64u16).map(|k| f32::from(u8::try_from((u32::from(k) * seed) % 251).unwrap())).collect()
        };
        let (a, b) = (made(37), made(101));
        let both = Fourier::new(n).power(&a, Some(&b));
        let one = Fourier::new(n).power(&a, None);
        for (fx, fy) in [(0, 0), (1, 0), (3, 5), (7, 2), (4, 4)] {
            let (of_a, of_b) = (slow(&a, n, fx, fy), slow(&b, n, fx, fy));
            assert!((one[fy * n + fx] - of_a).abs() < 1e-3 * of_a.max(1.0), "({fx}, {fy})");
            assert!((both[fy * n + fx] - of_a - of_b).abs() < 1e-3 * (of_a + of_b).max(1.0), "({fx}, {fy})");
        }
    }
}
