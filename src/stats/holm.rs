//! Several tests at once.

/// Holm's adjusted p values, in the order given. Source: Holm, Scand. J. Statist. 6 (1979) 65.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*a].total_cmp(&p[*b]));
    let mut adjusted = vec![0.0; p.len()];
    let mut largest = 0.0_f64;
    for (rank, index) in order.iter().enumerate() {
        largest = largest.max((p.len() - rank) as f64 * p[*index]).min(1.0);
        adjusted[*index] = largest;
    }
    adjusted
}
