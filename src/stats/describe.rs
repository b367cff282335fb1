//! Summaries of a sample.

/// Arithmetic mean; NaN of an empty sample.
///
/// Two passes: the second takes out the rounding of the first, so that values that agree in their
/// leading digits keep their trailing ones (NIST StRD NumAcc sets).
pub fn mean(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let first = x.iter().sum::<f64>() / n;
    first + x.iter().map(|v| v - first).sum::<f64>() / n
}

/// Standard deviation with n − 1; NaN below two values.
///
/// Corrected two-pass algorithm (Chan, Golub, LeVeque, The American Statistician 37 (1983) 242).
pub fn sd(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    if x.len() < 2 {
        return f64::NAN;
    }
    let m = mean(x);
    let squares: f64 = x.iter().map(|v| (v - m).powi(2)).sum();
    let rest: f64 = x.iter().map(|v| v - m).sum();
    ((squares - rest * rest / n) / (n - 1.0)).sqrt()
}

/// Median; NaN of an empty sample.
pub fn median(x: &[f64]) -> f64 {
    quantile(x, 0.5)
}

/// Quantile at `p` in 0..1, linear between order statistics; NaN of an empty sample.
///
/// Source: type 7 of Hyndman and Fan, The American Statistician 50 (1996) 361.
pub fn quantile(x: &[f64], p: f64) -> f64 {
    let Some(last) = x.len().checked_sub(1) else {
        return f64::NAN;
    };
    let (below, share) = place(last, p);
    let mut rest = x.to_vec();
    // The two neighbours are those of the sorted sample; the rest need not be in order.
    let (_, &mut low, above) = rest.select_nth_unstable_by(below, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    low + share * (high - low)
}

/// Rank below the quantile, and the share of the way to the next.
fn place(last: usize, p: f64) -> (usize, f64) {
    let place = p.clamp(0.0, 1.0) * last as f64;
    (place.floor() as usize, place - place.floor())
}

/// Median of the intervals' half-widths, each relative to its value, of (low, value, high); 0 where no
/// interval has both ends and a width that can be told.
pub fn median_relative_half_width(
    intervals: impl IntoIterator<Item = (Option<f64>, Option<f64>, Option<f64>)>,
) -> f64 {
    let widths: Vec<f64> = intervals
        .into_iter()
        .filter_map(|(low, value, high)| Some((high? - low?) / (2.0 * value?)))
        .filter(|w| w.is_finite())
        .collect();
    if widths.is_empty() {
        0.0
    } else {
        median(&widths)
    }
}

/// [`quantile`] of a sample already in ascending order.
pub fn quantile_of_sorted(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let (below, share) = place(last, p);
    let above = (below + 1).min(last);
    sorted[below] + share * (sorted[above] - sorted[below])
}
