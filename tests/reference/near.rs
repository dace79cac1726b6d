//! Comparison of a figure with its published value.

/// Relative comparison without an absolute floor, so that small p-values are held to their digits.
#[track_caller]
pub(crate) fn assert_near(got: f64, want: f64, relative: f64, source: &str) {
    let off = (got - want).abs();
    assert!(
        off <= relative * want.abs(),
        "{source}: got {got:e}, published {want:e} (relative {:.1e})",
        off / want.abs()
    );
}
