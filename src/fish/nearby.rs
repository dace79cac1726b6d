//! The largest value within a square about every pixel: what growing and shrinking a set of pixels are made of.

/// For every pixel the largest value at most `reach` pixels across and down from it, as far as the picture goes.
///
/// A square's largest is the largest of its rows', and whole rows are compared at once, many values at a time.
pub(super) fn largest_nearby<T: Ord + Copy>(values: &[T], width: usize, reach: usize) -> Vec<T> {
    let width = width.max(1);
    let mut across = values.to_vec();
    for (row, out) in values.chunks(width).zip(across.chunks_mut(width)) {
        raise(out, row, 1, reach);
    }
    let mut out = across.clone();
    raise(&mut out, &across, width, reach);
    out
}

/// Raises every value to the largest of those up to `reach` times `apart` before and behind it.
fn raise<T: Ord + Copy>(to: &mut [T], from: &[T], apart: usize, reach: usize) {
    let raise = |to: &mut [T], from: &[T]| to.iter_mut().zip(from).for_each(|(t, f)| *t = (*t).max(*f));
    for by in (1..=reach).map(|i| i * apart).take_while(|by| *by < from.len()) {
        raise(&mut to[by..], from);
        raise(to, &from[by..]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// The second, slower route: every pixel of every square.
        #[test]
        fn the_largest_of_each_square(values in proptest::collection::vec(0u8..9, 7 * 5), reach in 0usize..9) {
            let slow = |k: usize| {
                let near = |a: usize, b: usize| a.abs_diff(b) <= reach;
                (0..35).filter(|q| near(q % 7, k % 7) && near(q / 7, k / 7)).map(|q| values[q]).max()
            };
            let quick = largest_nearby(&values, 7, reach);
            proptest::prop_assert!((0..35).all(|k| Some(quick[k]) == slow(k)));
        }
    }
}
