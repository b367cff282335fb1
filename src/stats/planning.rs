//! The fewest flights that settle a question, beside those flown already.

use super::chance::Precision;
use super::distributions::t_quantile;
use super::flying_order::{lean, order};
use super::linear::{Contrast, Fit, fit};
use super::unequal::{Forms, Freedom};

/// One flight of an arrangement, flown or planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Slot {
    pub day: usize,
    pub candidate: bool,
    pub airframe: usize,
}

/// What is asked of the flights.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// Candidate against baseline.
    Fan,
    /// The second airframe against the first.
    Airframe,
}

/// How the two fans share airframes and days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Both fans on each day in one airframe, changed at the field.
    ChangedAtTheField,
    /// Two airframes, a fan in each, both on each day; fans changed over between the days.
    CrossedOver,
    /// One fan a day, changed at home.
    OneFanADay,
}

/// Standard deviations of log speed between flights of a day and between days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    pub flight: f64,
    pub day: f64,
}

/// Most days, and most flights a day, that a plan may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Most {
    pub days: usize,
    pub flights_a_day: usize,
}

/// Flights to add, day by day in the order to fly them.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub way: Way,
    /// Days are numbered on from those flown.
    pub flights: Vec<Slot>,
    /// With the flights flown already.
    pub precision: Precision,
}

impl Plan {
    pub fn days(&self) -> usize {
        let mut days: Vec<usize> = self.flights.iter().map(|f| f.day).collect();
        days.dedup();
        days.len()
    }

    /// Added flights of the baseline and of the candidate.
    pub fn of_each(&self) -> (usize, usize) {
        let candidate = self.flights.iter().filter(|f| f.candidate).count();
        (self.flights.len() - candidate, candidate)
    }
}

/// The effect's standard error and degrees of freedom, by the model that `stats::observed` takes for
/// the same flights: within days where their rank allows, else means of days. `None` where it is not
/// estimable or nothing is repeated.
pub fn precision(slots: &[Slot], target: Target, scatter: Scatter) -> Option<Precision> {
    Some(Rows::new(slots, target, scatter)?.precision())
}

/// The linear model of an arrangement.
struct Rows {
    fit: Fit,
    contrast: Contrast,
    /// Share of the candidate, and true variance, of each row.
    candidate: Vec<f64>,
    variances: Vec<f64>,
    freedom: Freedom,
}

impl Rows {
    fn new(slots: &[Slot], target: Target, scatter: Scatter) -> Option<Self> {
        let by_flight: Vec<Vec<Slot>> = slots.iter().map(|s| vec![*s]).collect();
        let mut days: Vec<usize> = slots.iter().map(|s| s.day).collect();
        days.sort_unstable();
        days.dedup();
        let of_day = |day: &usize| slots.iter().filter(|s| s.day == *day).copied().collect();
        let by_day: Vec<Vec<Slot>> = days.iter().map(of_day).collect();
        let within = scatter.flight.powi(2);
        let variances = vec![within; slots.len()];
        Self::of(&by_flight, &days, target, variances, Freedom::Scatter).or_else(|| {
            let of_mean = |rows: &Vec<Slot>| scatter.day.powi(2) + within / rows.len() as f64;
            let variances = by_day.iter().map(of_mean).collect();
            Self::of(&by_day, &[], target, variances, Freedom::Design)
        })
    }

    /// Each row is the mean of some flights.
    fn of(
        rows: &[Vec<Slot>],
        days: &[usize],
        target: Target,
        variances: Vec<f64>,
        freedom: Freedom,
    ) -> Option<Self> {
        let mut airframes: Vec<usize> = rows.iter().flatten().map(|s| s.airframe).collect();
        airframes.sort_unstable();
        airframes.dedup();
        let share = |is: &dyn Fn(&Slot) -> bool| -> Vec<f64> {
            let of =
                |row: &Vec<Slot>| row.iter().filter(|s| is(s)).count() as f64 / row.len() as f64;
            rows.iter().map(of).collect()
        };
        let after_first = |values: &[usize]| values.get(1..).unwrap_or_default().to_vec();
        let mut columns: Vec<Vec<f64>> = after_first(days)
            .iter()
            .map(|day| share(&|s| s.day == *day))
            .collect();
        let candidate = share(&|s| s.candidate);
        let others: Vec<Vec<f64>> = after_first(&airframes)
            .iter()
            .map(|a| share(&|s| s.airframe == *a))
            .collect();
        match (target, others.as_slice()) {
            (Target::Fan, _) => {
                columns.extend(others);
                columns.push(candidate.clone());
            }
            (Target::Airframe, [second]) => {
                columns.push(candidate.clone());
                columns.push(second.clone());
            }
            (Target::Airframe, _) => return None,
        }
        let fit = fit(&columns, &vec![0.0; rows.len()])?;
        let contrast = fit.coefficient(columns.len())?;
        (fit.df > 0).then_some(Self {
            fit,
            contrast,
            candidate,
            variances,
            freedom,
        })
    }

    /// With both fans' scatter in one: to choose between arrangements.
    fn pooled(&self) -> Precision {
        let shares = self.contrast.influence.iter().zip(&self.variances);
        let variance: f64 = shares.map(|(share, v)| share * share * v).sum();
        Precision::new(variance.sqrt(), self.fit.df as f64)
    }

    fn precision(&self) -> Precision {
        let pooled = self.pooled();
        match Forms::new(&self.fit, &self.contrast, &self.candidate) {
            Some(forms) => Precision {
                df: forms.freedom(&self.variances),
                limits: forms.thirds(self.freedom),
                ..pooled
            },
            None => pooled,
        }
    }
}

/// The plan with the fewest flights that is `enough`; of plans with as many flights the one that
/// gives the narrowest interval. `airframes`: the one to fly, or the two to cross over.
///
/// `enough` must not turn from true to false where an interval gets narrower.
pub fn smallest(
    flown: &[Slot],
    way: Way,
    airframes: (usize, usize),
    target: Target,
    scatter: Scatter,
    most: Most,
    enough: impl Fn(Precision) -> bool,
) -> Option<Plan> {
    let mut by_count: Vec<Option<(f64, Plan)>> = vec![None; most.days * most.flights_a_day + 1];
    for flights in arrangements(flown, way, airframes, most) {
        let mut all = flown.to_vec();
        all.extend(&flights);
        let Some(rows) = Rows::new(&all, target, scatter) else {
            continue;
        };
        let precision = rows.pooled();
        let width = t_quantile(0.975, precision.df) * precision.se;
        let Some(best) = by_count.get_mut(flights.len()) else {
            continue;
        };
        if best.as_ref().is_none_or(|(w, _)| width < *w) {
            *best = Some((
                width,
                Plan {
                    way,
                    flights,
                    precision,
                },
            ));
        }
    }
    // More flights are worth asking for only where they narrow the interval.
    let mut useful: Vec<Plan> = Vec::new();
    let (mut pooled, mut narrowest) = (f64::INFINITY, f64::INFINITY);
    for (width, plan) in by_count.into_iter().flatten() {
        if width >= pooled {
            continue;
        }
        pooled = width;
        let mut all = flown.to_vec();
        all.extend(&plan.flights);
        let Some(precision) = precision(&all, target, scatter) else {
            continue;
        };
        let width = t_quantile(0.975, precision.limits[1]) * precision.se;
        if width < narrowest {
            narrowest = width;
            useful.push(Plan { precision, ..plan });
        }
    }
    let first = useful.partition_point(|plan| !enough(plan.precision));
    useful.into_iter().nth(first)
}

/// Every arrangement of further days of one kind; with both fans on a day only such as no straight
/// drift over the days can touch.
fn arrangements(
    flown: &[Slot],
    way: Way,
    (first, second): (usize, usize),
    most: Most,
) -> Vec<Vec<Slot>> {
    let next_day = flown.iter().map(|s| s.day + 1).max().unwrap_or(0);
    let mut out = Vec::new();
    let limit = most.flights_a_day;
    match way {
        Way::OneFanADay => {
            let days_of = |candidate: bool| {
                let mut days: Vec<usize> = flown
                    .iter()
                    .filter(|s| s.candidate == candidate)
                    .map(|s| s.day)
                    .collect();
                days.sort_unstable();
                days.dedup();
                days.len()
            };
            let begin = days_of(true) < days_of(false);
            for days in 1..=most.days {
                for a_day in 1..=limit {
                    let slots = (0..days).flat_map(|d| {
                        let slot = Slot {
                            day: next_day + d,
                            candidate: (d % 2 == 1) != begin,
                            airframe: first,
                        };
                        std::iter::repeat_n(slot, a_day)
                    });
                    out.push(slots.collect());
                }
            }
        }
        Way::ChangedAtTheField | Way::CrossedOver => {
            let turns = if way == Way::CrossedOver { 2 } else { 1 };
            for (baseline, candidate) in shares_of_a_day(limit) {
                let orders = [false, true].map(|turned| order(baseline, candidate, turned));
                // A lean is cancelled by the turned order of a second day.
                let step = if lean(&orders[0], 1).abs() > 1e-9 {
                    2
                } else {
                    1
                };
                for days in (step..=most.days).step_by(step) {
                    for turn in 0..turns {
                        let slots = (0..days).flat_map(|d| {
                            // The candidate is in the second airframe on every other day.
                            let crossed = (d + turn) % 2 == 1;
                            let airframe = move |candidate: bool| match way {
                                Way::CrossedOver if candidate != crossed => second,
                                _ => first,
                            };
                            orders[d % 2].iter().map(move |candidate| Slot {
                                day: next_day + d,
                                candidate: *candidate,
                                airframe: airframe(*candidate),
                            })
                        });
                        out.push(slots.collect());
                    }
                }
            }
        }
    }
    out
}

/// Flights of the baseline and of the candidate on one day; far from even only wastes flights.
fn shares_of_a_day(limit: usize) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    for baseline in 1..limit {
        for candidate in 1..=(limit - baseline) {
            if baseline.abs_diff(candidate) <= 2 {
                out.push((baseline, candidate));
            }
        }
    }
    out
}
