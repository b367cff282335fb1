//! The order of a day's flights that no slow drift can be mistaken for a fan's effect.
//!
//! Wind rises, air warms, packs and pilot tire over a day. In first order that is a straight line
//! over the day's flights; a fan whose flights have the same mean place as the other's is orthogonal
//! to it (Cox, Biometrika 38 (1951) 312).

/// More flights a day than this are not dealt out one by one.
pub const MOST_A_DAY: usize = 12;

/// Whether the candidate flies, for each flight of a day in order, `baseline` and `candidate` flights
/// of the two (at most [`MOST_A_DAY`] together). `mirrored` turns the order round, for every other
/// day: where a day's own numbers leave a lean (one flight each, three each), two days have none.
///
/// Of all orders the one with the least linear lean, of those the least quadratic one, of those the
/// fewest changes of fan, the baseline first where all is equal: A B B A for two each.
pub fn order(baseline: usize, candidate: usize, mirrored: bool) -> Vec<bool> {
    let n = (baseline + candidate).min(MOST_A_DAY);
    let candidate = candidate.min(n);
    let of = |bits: u32| -> Vec<bool> { (0..n).map(|i| bits >> i & 1 == 1).collect() };
    let rank = |order: &[bool]| {
        let changes = order.windows(2).filter(|w| w[0] != w[1]).count();
        // Thousandths: leans that differ by rounding alone are equal.
        let steps = |lean: f64| (1e3 * lean.abs()).round() as u64;
        (steps(lean(order, 1)), steps(lean(order, 2)), changes)
    };
    let mut best = (0..1_u32 << n)
        .filter(|bits| bits.count_ones() as usize == candidate)
        .map(of)
        .min_by_key(|order| (rank(order), order.clone()))
        .unwrap_or_default();
    if mirrored {
        best.reverse();
        // What reads the same from both ends has no lean to cancel; there the other fan begins.
        let back: Vec<bool> = best.iter().rev().copied().collect();
        if best == back && 2 * candidate == n {
            best.iter_mut().for_each(|is| *is = !*is);
        }
    }
    best
}

/// How far a drift of the given degree (1: straight, 2: bent), one unit over one flight, shifts the
/// candidate's mean against the baseline's; 0 where a fan does not fly.
pub fn lean(order: &[bool], degree: i32) -> f64 {
    let middle = 0.5 * (order.len() as f64 - 1.0);
    let mean = |is: bool| {
        let at: Vec<f64> = (0..order.len())
            .filter(|i| order[*i] == is)
            .map(|i| (i as f64 - middle).powi(degree))
            .collect();
        (!at.is_empty()).then(|| at.iter().sum::<f64>() / at.len() as f64)
    };
    mean(true).zip(mean(false)).map_or(0.0, |(t, f)| t - f)
}
