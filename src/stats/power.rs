//! How many flights: power of a t test, and the width that a plan of flights will give.

use super::distributions::t_quantile;
use super::noncentral_t;

/// Two-sided or one-sided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    One,
    Two,
}

/// Power of a t test with `df` degrees of freedom and noncentrality `delta`, at level `alpha`.
pub fn t_test_power(delta: f64, df: f64, alpha: f64, sides: Sides) -> f64 {
    match sides {
        Sides::One => 1.0 - noncentral_t::cdf(t_quantile(1.0 - alpha, df), df, delta),
        Sides::Two => {
            let critical = t_quantile(1.0 - 0.5 * alpha, df);
            1.0 - noncentral_t::cdf(critical, df, delta) + noncentral_t::cdf(-critical, df, delta)
        }
    }
}

/// Flights in each of two groups (a real number, to be rounded up) for a difference of `effect`
/// standard deviations; `None` where it would take fewer than two or more than a million.
///
/// Source: Cohen, Statistical Power Analysis (1988), chapter 2, with the exact noncentral t.
pub fn two_sample_size(effect: f64, alpha: f64, power: f64, sides: Sides) -> Option<f64> {
    size(power, |n| {
        t_test_power(effect * (0.5 * n).sqrt(), 2.0 * n - 2.0, alpha, sides)
    })
}

/// Pairs (a real number) for a mean difference of `effect` standard deviations of the difference.
pub fn paired_size(effect: f64, alpha: f64, power: f64, sides: Sides) -> Option<f64> {
    size(power, |n| {
        t_test_power(effect * n.sqrt(), n - 1.0, alpha, sides)
    })
}

fn size(power: f64, at: impl Fn(f64) -> f64) -> Option<f64> {
    let mut high = 2.0;
    while at(high) < power {
        high *= 2.0;
        if high > 1e6 {
            return None;
        }
    }
    let mut low = 0.5 * high;
    if high <= 2.0 {
        return None;
    }
    while high - low > 1e-9 * high {
        let middle = 0.5 * (low + high);
        if at(middle) < power {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

/// How the two fans are spread over flying days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// Both fans on every day.
    BothEachDay,
    /// One fan a day.
    OneADay,
}

/// A plan of flights.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    pub layout: Layout,
    /// Flying days; with one fan a day half of them (or nearly) for each.
    pub days: usize,
    /// Flights of one fan on a day on which it flies.
    pub flights_a_day: usize,
}

impl Plan {
    /// Flights of one fan, the fewer if they differ.
    pub fn flights_a_fan(&self) -> usize {
        match self.layout {
            Layout::BothEachDay => self.days * self.flights_a_day,
            Layout::OneADay => self.days / 2 * self.flights_a_day,
        }
    }

    /// Half-width at `level` of the interval of the fan effect that the plan will give, from the
    /// scatter (standard deviations, any one unit) between flights of a day and between days; a
    /// half-width in expectation of the residual variance. `None` without degrees of freedom.
    pub fn half_width(&self, flight_sd: f64, day_sd: f64, level: f64) -> Option<f64> {
        let per_day = self.flights_a_day as f64;
        let (variance, df) = match self.layout {
            Layout::BothEachDay => {
                let n = self.flights_a_fan();
                (
                    2.0 * flight_sd * flight_sd / n as f64,
                    (2 * n).checked_sub(self.days + 1)?,
                )
            }
            Layout::OneADay => {
                let of_a_day = day_sd * day_sd + flight_sd * flight_sd / per_day;
                let (a, b) = (self.days / 2, self.days - self.days / 2);
                (
                    of_a_day * (1.0 / a as f64 + 1.0 / b as f64),
                    self.days.checked_sub(2)?,
                )
            }
        };
        let half = t_quantile(0.5 + 0.5 * level, df as f64) * variance.sqrt();
        half.is_finite().then_some(half)
    }
}

/// The plan of `layout` with the fewest flights, at most `most_days` days and `most_a_day` flights
/// of a fan a day, whose half-width is `wanted` or less; of equal plans the one with fewer days.
pub fn plan(
    layout: Layout,
    flight_sd: f64,
    day_sd: f64,
    wanted: f64,
    level: f64,
    (most_days, most_a_day): (usize, usize),
) -> Option<Plan> {
    let mut best: Option<Plan> = None;
    for days in 1..=most_days {
        for flights_a_day in 1..=most_a_day {
            let plan = Plan {
                layout,
                days,
                flights_a_day,
            };
            let fits = plan
                .half_width(flight_sd, day_sd, level)
                .is_some_and(|h| h <= wanted);
            if fits && best.is_none_or(|b| plan.flights() < b.flights()) {
                best = Some(plan);
            }
        }
    }
    best
}

impl Plan {
    /// All flights of both fans.
    pub fn flights(&self) -> usize {
        match self.layout {
            Layout::BothEachDay => 2 * self.days * self.flights_a_day,
            Layout::OneADay => self.days * self.flights_a_day,
        }
    }
}
