//! The ratio of two estimates, with an interval that stays right when the denominator is small.
//!
//! Fieller's argument (Fieller, J. R. Statist. Soc. B 16 (1954) 175): theta is in the set exactly
//! where a − theta·b does not differ from nothing. What comes out is an interval around a/b, all
//! numbers outside an interval, or every number: a ratio of estimates whose denominator may be
//! nothing is bounded by nothing.
//!
//! Assumed: both are normal about their expectation and independent of each other. Their errors may
//! have unlike degrees of freedom: each part counts with its own t factor, and the parts are added as
//! squares, (a − theta·b)² <= T_a² + theta²·T_b² with the half-widths T (the recovery of variance
//! estimates: Donner and Zou, Stat. Methods Med. Res. 21 (2012) 347). With equal degrees of freedom
//! this is Fieller's set to the letter; it holds 0 exactly where the interval of a does, and is
//! bounded exactly where the interval of b excludes 0. Degrees of freedom by Welch-Satterthwaite
//! instead covered 93.6 % where 95 were due (three degrees of freedom beside a known error: when the
//! scatter comes out small by luck, it takes the error for well known).

use super::distributions::t_quantile;

/// An estimate by the parts of its error: standard uncertainty and degrees of freedom of each.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    pub value: f64,
    pub parts: Vec<(f64, f64)>,
}

impl Term {
    /// Half-width of the two-sided interval at `level`; `None` where a part is not a number.
    fn half_width(&self, level: f64) -> Option<f64> {
        let sound = |(u, df): &(f64, f64)| u.is_finite() && *u >= 0.0 && *df > 0.0;
        (self.value.is_finite() && self.parts.iter().all(sound)).then(|| {
            self.parts
                .iter()
                .map(|(u, df)| (t_quantile(0.5 + 0.5 * level, *df) * u).powi(2))
                .sum::<f64>()
                .sqrt()
        })
    }
}

/// The ratios that the estimates do not rule out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RatioSet {
    Bounded {
        low: f64,
        high: f64,
    },
    /// Everything up to `below` and everything from `above`: the denominator may be nothing.
    Outside {
        below: f64,
        above: f64,
    },
    /// Every number.
    Everything,
}

/// A ratio with what its interval says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// numerator / denominator; infinite where the denominator is 0.
    pub value: f64,
    pub set: RatioSet,
}

/// Set of the ratio `numerator` / `denominator` at `level`; `None` where a value or an error is not
/// a number, nothing has an error, or both values are 0.
pub fn ratio(numerator: &Term, denominator: &Term, level: f64) -> Option<Ratio> {
    let (ta, tb) = (numerator.half_width(level)?, denominator.half_width(level)?);
    let (a, b) = (numerator.value, denominator.value);
    if (a == 0.0 && b == 0.0) || (ta == 0.0 && tb == 0.0) {
        return None;
    }
    // p·theta² − 2q·theta + r <= 0.
    let (p, q, r) = (b * b - tb * tb, a * b, a * a - ta * ta);
    let root = (q * q - p * r).max(0.0).sqrt();
    let (first, last) = ((q - root) / p, (q + root) / p);
    let set = if p > 0.0 {
        RatioSet::Bounded {
            low: first,
            high: last,
        }
    } else if root > 0.0 && p < 0.0 {
        RatioSet::Outside {
            below: first.min(last),
            above: first.max(last),
        }
    } else {
        RatioSet::Everything
    };
    Some(Ratio { value: a / b, set })
}
