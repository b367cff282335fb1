//! The ratio of two estimates, with an interval that stays right when the denominator is small.
//!
//! Fieller's argument (Fieller, J. R. Statist. Soc. B 16 (1954) 175): theta is in the set exactly
//! where a − theta·b does not differ from nothing, (a − theta·b)² <= t²·Var(a − theta·b). What comes
//! out is an interval around a/b, all numbers outside an interval, or every number: a ratio of
//! estimates whose denominator may be nothing is bounded by nothing.
//!
//! Assumed: both are normal about their expectation and independent of each other. Their errors may
//! have unlike degrees of freedom: those of a − theta·b are Welch-Satterthwaite's at each theta. With
//! equal degrees of freedom this is Fieller's set; at theta = 0 it is the numerator's own t test and
//! far out the denominator's, so the set holds 0 exactly where the interval of a does, and is
//! bounded exactly where the interval of b excludes 0.

use super::distributions::{normal_quantile, t_quantile};
use super::gum::welch_satterthwaite;

/// An estimate by the parts of its error: standard uncertainty and degrees of freedom of each.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    pub value: f64,
    pub parts: Vec<(f64, f64)>,
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

/// Directions looked at on either side of the estimate.
const STEPS: usize = 720;

/// Set of the ratio `numerator` / `denominator` at `level`; `None` where a value or an error is not
/// a number, or nothing has an error.
pub fn ratio(numerator: &Term, denominator: &Term, level: f64) -> Option<Ratio> {
    let terms = [numerator, denominator];
    let finite = |t: &&Term| {
        t.value.is_finite()
            && t.parts
                .iter()
                .all(|(u, df)| u.is_finite() && *u >= 0.0 && *df > 0.0)
    };
    let (a, b) = (numerator.value, denominator.value);
    if !terms.iter().all(finite) || (a == 0.0 && b == 0.0) {
        return None;
    }
    if terms.iter().all(|t| t.parts.iter().all(|(u, _)| *u == 0.0)) {
        return None;
    }
    // Whatever the direction, t lies between the normal's quantile and that of the least degrees of
    // freedom: most directions need no more.
    let p = 0.5 + 0.5 * level;
    let least = terms
        .iter()
        .flat_map(|t| &t.parts)
        .map(|(_, df)| *df)
        .fold(f64::INFINITY, f64::min);
    let (narrow, wide) = (normal_quantile(p), t_quantile(p, least));
    // Ratios are directions: theta = tan(angle), the same after half a turn.
    let outside = |angle: f64| {
        let (sin, cos) = angle.sin_cos();
        let parts = || {
            let of = |t: &Term, scale: f64| -> Vec<(f64, f64)> {
                t.parts.iter().map(|(u, df)| (u * scale, *df)).collect()
            };
            of(numerator, cos).into_iter().chain(of(denominator, sin))
        };
        let u = parts().map(|(u, _)| u * u).sum::<f64>().sqrt();
        let distance = (a * cos - b * sin).abs();
        if distance <= narrow * u {
            return false;
        }
        distance > wide * u || distance > t_quantile(p, welch_satterthwaite(u, parts())) * u
    };
    let centre = a.atan2(b);
    let edge = |direction: f64| {
        let step = direction * std::f64::consts::PI / STEPS as f64;
        let first = (1..STEPS).find(|i| outside(centre + step * *i as f64))?;
        let (mut inner, mut outer) = (
            centre + step * (first - 1) as f64,
            centre + step * first as f64,
        );
        for _ in 0..60 {
            let middle = 0.5 * (inner + outer);
            if outside(middle) {
                outer = middle;
            } else {
                inner = middle;
            }
        }
        Some(0.5 * (inner + outer))
    };
    let set = match (edge(-1.0), edge(1.0)) {
        (Some(first), Some(last)) => {
            // Whether a vertical direction (denominator 0) lies between the edges.
            let turn = |angle: f64| ((angle / std::f64::consts::PI) + 0.5).floor();
            if turn(first) == turn(last) {
                RatioSet::Bounded {
                    low: first.tan(),
                    high: last.tan(),
                }
            } else {
                RatioSet::Outside {
                    below: last.tan(),
                    above: first.tan(),
                }
            }
        }
        _ => RatioSet::Everything,
    };
    Some(Ratio { value: a / b, set })
}
