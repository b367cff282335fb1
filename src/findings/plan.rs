//! Flights that would settle a question, from the season's own scatter.

use crate::findings::evidence::{counted, percent};
use crate::stats::estimate::Estimate;
use crate::stats::planning::{Layout, plan};
use crate::stats::power::{Sides, two_sample_size};

/// Days and flights of a fan a day that a plan may ask for.
const MOST: (usize, usize) = (12, 6);

/// The smallest plan (both sides, fans or airframes, on every day) whose 95 % interval has a half-width of the margin:
/// the words and the flights a fan. `scatter` is the standard deviation of log level speed between
/// flights of a day.
pub fn flights_needed(scatter: f64, margin: f64, side: &str) -> (String, Option<Estimate>) {
    // Both fans on each day: the scatter between days drops out.
    let chance = two_sample_size(margin / scatter, 0.05, 0.8, Sides::Two)
        .filter(|n| scatter > 0.0 && n.is_finite())
        .map_or_else(String::new, |n| {
            format!(
                " A true difference of {} itself would show in four seasons of five with {} flights \
                 of each on one day.",
                percent(margin),
                n.ceil()
            )
        });
    match plan(Layout::BothEachDay, scatter, 0.0, margin, 0.95, MOST) {
        Some(plan) => {
            let n = plan.flights_a_fan();
            let text = format!(
                "{n} flights with each {side} in all, on {} with {} of each a day, in turn \
                 (the one, the other, the one, …), would narrow the interval to ±{} at a scatter \
                 of {} between flights.",
                counted(plan.days, "day"),
                plan.flights_a_day,
                percent(margin),
                percent(scatter)
            );
            let estimate = Estimate {
                low: None,
                high: None,
                ..Estimate::plus_minus(
                    n as f64,
                    0.0,
                    "1",
                    "flights a fan for a 95 % half-width of the margin, both fans on every day",
                )
            }
            .at("scatter", scatter, "1")
            .at("margin", margin, "1")
            .count("days", plan.days);
            (text + &chance, Some(estimate))
        }
        None => (
            format!(
                "At a scatter of {} between flights no plan of {} days and {} flights of each {side} a \
                 day narrows the interval to ±{}: fly longer and more alike passes, or take a larger \
                 difference that matters.",
                percent(scatter),
                MOST.0,
                MOST.1,
                percent(margin)
            ),
            None,
        ),
    }
}
