//! The rising sequence nearest to a noisy one.

/// Weighted least-squares non-decreasing fit to `y`. Weights must be positive and as many as `y`,
/// else `None`.
///
/// Pool adjacent violators: Barlow, Bartholomew, Bremner, Brunk, Statistical Inference under Order
/// Restrictions (1972), section 1.2.
pub fn isotonic(y: &[f64], weights: &[f64]) -> Option<Vec<f64>> {
    if y.len() != weights.len() || weights.iter().any(|w| w.is_nan() || *w <= 0.0) {
        return None;
    }
    // Blocks of (mean, weight, length).
    let mut blocks: Vec<(f64, f64, usize)> = Vec::with_capacity(y.len());
    for (value, weight) in y.iter().zip(weights) {
        let mut block = (*value, *weight, 1);
        while let Some(last) = blocks.last().filter(|b| b.0 >= block.0).copied() {
            blocks.pop();
            let weight = last.1 + block.1;
            block = (
                (last.0 * last.1 + block.0 * block.1) / weight,
                weight,
                last.2 + block.2,
            );
        }
        blocks.push(block);
    }
    Some(
        blocks
            .iter()
            .flat_map(|b| std::iter::repeat_n(b.0, b.2))
            .collect(),
    )
}
