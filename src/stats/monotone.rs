//! A curve through points that never swings beyond its neighbours.

/// Piecewise cubic Hermite interpolant, monotone wherever the points are.
///
/// Source of the condition: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238. Slopes: the
/// weighted harmonic means of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, which
/// meet that condition without a second pass and move only two pieces when one point moves; end
/// slopes by the shape-preserving three-point formula (Moler, Numerical Computing with MATLAB,
/// 2004, section 3.4). These are the slopes known as PCHIP.
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneCubic {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl MonotoneCubic {
    /// `None` unless there are at least two finite points with `x` strictly increasing.
    pub fn new(x: &[f64], y: &[f64]) -> Option<Self> {
        are_knots(x, y).then(|| Self {
            x: x.to_vec(),
            y: y.to_vec(),
            slope: (0..x.len()).map(|i| slope(x, y, i)).collect(),
        })
    }

    /// Value at `x`; `None` outside the knots (and for NaN): it does not extrapolate.
    pub fn at(&self, x: f64) -> Option<f64> {
        let i = piece(&self.x, x)?;
        Some(on_piece(&self.x, &self.y, i, x, |k| self.slope[k]))
    }

    /// First and last knot.
    pub fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// Slopes at the knots.
    pub fn slopes(&self) -> &[f64] {
        &self.slope
    }
}

/// The interpolant's value at one place, for a curve that is asked once: the same as
/// [`MonotoneCubic::at`] without making the slopes of the other pieces.
pub fn monotone_at(x: &[f64], y: &[f64], at: f64) -> Option<f64> {
    if !are_knots(x, y) {
        return None;
    }
    let i = piece(x, at)?;
    Some(on_piece(x, y, i, at, |k| slope(x, y, k)))
}

fn are_knots(x: &[f64], y: &[f64]) -> bool {
    let finite = |v: &[f64]| v.iter().all(|a| a.is_finite());
    let increasing = || x.windows(2).all(|w| w[0] < w[1]);
    x.len() >= 2 && x.len() == y.len() && increasing() && finite(x) && finite(y)
}

/// The piece that holds a place, by its left knot.
fn piece(knots: &[f64], x: f64) -> Option<usize> {
    let last = knots.len() - 1;
    (knots[0]..=knots[last])
        .contains(&x)
        .then(|| knots.partition_point(|knot| *knot <= x).clamp(1, last) - 1)
}

fn on_piece(x: &[f64], y: &[f64], i: usize, at: f64, slope: impl Fn(usize) -> f64) -> f64 {
    let h = x[i + 1] - x[i];
    let s = (at - x[i]) / h;
    let (s2, s3) = (s * s, s * s * s);
    y[i] * (2.0 * s3 - 3.0 * s2 + 1.0)
        + h * slope(i) * (s3 - 2.0 * s2 + s)
        + y[i + 1] * (3.0 * s2 - 2.0 * s3)
        + h * slope(i + 1) * (s3 - s2)
}

/// Slope at a knot.
fn slope(x: &[f64], y: &[f64], i: usize) -> f64 {
    let last = x.len() - 1;
    let h = |k: usize| x[k + 1] - x[k];
    let secant = |k: usize| (y[k + 1] - y[k]) / h(k);
    if last == 1 {
        return secant(0);
    }
    if i == 0 {
        return end_slope(h(0), h(1), secant(0), secant(1));
    }
    if i == last {
        return end_slope(h(last - 1), h(last - 2), secant(last - 1), secant(last - 2));
    }
    let (left, right) = (secant(i - 1), secant(i));
    if left * right > 0.0 {
        let (w1, w2) = (2.0 * h(i) + h(i - 1), h(i) + 2.0 * h(i - 1));
        (w1 + w2) / (w1 / left + w2 / right)
    } else {
        0.0
    }
}

/// Slope at an end from the two nearest pieces, kept to the sign of the nearer one.
fn end_slope(h0: f64, h1: f64, near: f64, far: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * near - h0 * far) / (h0 + h1);
    if slope * near <= 0.0 {
        0.0
    } else if near * far <= 0.0 && slope.abs() > 3.0 * near.abs() {
        3.0 * near
    } else {
        slope
    }
}
