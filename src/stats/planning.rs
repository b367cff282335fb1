//! How narrow an interval a plan of flights will give.

use super::distributions::t_quantile;

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
    /// All flights of both fans.
    pub fn flights(&self) -> usize {
        match self.layout {
            Layout::BothEachDay => 2 * self.days * self.flights_a_day,
            Layout::OneADay => self.days * self.flights_a_day,
        }
    }

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
