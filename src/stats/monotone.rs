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
        let finite = |v: &[f64]| v.iter().all(|a| a.is_finite());
        let increasing = x.windows(2).all(|w| w[0] < w[1]);
        if x.len() < 2 || x.len() != y.len() || !increasing || !finite(x) || !finite(y) {
            return None;
        }
        Some(Self {
            x: x.to_vec(),
            y: y.to_vec(),
            slope: slopes(x, y),
        })
    }

    /// Value at `x`; `None` outside the knots (and for NaN): it does not extrapolate.
    pub fn at(&self, x: f64) -> Option<f64> {
        let last = self.x.len() - 1;
        if !(self.x[0]..=self.x[last]).contains(&x) {
            return None;
        }
        let i = self.x.partition_point(|knot| *knot <= x).clamp(1, last) - 1;
        let h = self.x[i + 1] - self.x[i];
        let s = (x - self.x[i]) / h;
        let (s2, s3) = (s * s, s * s * s);
        Some(
            self.y[i] * (2.0 * s3 - 3.0 * s2 + 1.0)
                + h * self.slope[i] * (s3 - 2.0 * s2 + s)
                + self.y[i + 1] * (3.0 * s2 - 2.0 * s3)
                + h * self.slope[i + 1] * (s3 - s2),
        )
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

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let secant: Vec<f64> = y
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    if n == 2 {
        return vec![secant[0]; 2];
    }
    let mut slope = vec![0.0; n];
    for i in 1..n - 1 {
        let (left, right) = (secant[i - 1], secant[i]);
        if left * right > 0.0 {
            let (w1, w2) = (2.0 * h[i] + h[i - 1], h[i] + 2.0 * h[i - 1]);
            slope[i] = (w1 + w2) / (w1 / left + w2 / right);
        }
    }
    slope[0] = end_slope(h[0], h[1], secant[0], secant[1]);
    slope[n - 1] = end_slope(h[n - 2], h[n - 3], secant[n - 2], secant[n - 3]);
    slope
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
