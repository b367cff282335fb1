//! Why there is no gain to give, and the flights that would separate it.

use super::design::Design;
use super::{Confounded, FlightSpeed, NotEstimable};

pub(super) fn diagnose(
    flights: &[FlightSpeed],
    within: &Design,
    between: &Design,
    covariates: &[Vec<f64>],
) -> NotEstimable {
    let because = |confounded, why: &str, cross_over: &str| NotEstimable {
        confounded,
        why: why.to_owned(),
        cross_over: cross_over.to_owned(),
    };
    let flew = |candidate: bool| flights.iter().any(|f| f.candidate == candidate);
    if !flew(true) || !flew(false) {
        let (missing, verb) = match (flew(false), flew(true)) {
            (false, false) => ("neither fan", "has"),
            (true, _) => ("the candidate", "has not"),
            (false, true) => ("the baseline", "has not"),
        };
        return because(
            Confounded::OneFanOnly,
            &format!("In the flights with a level speed {missing} {verb} flown."),
            "Fly both fans on one day, two flights each or more, in turn.",
        );
    }
    if within.is_without_scatter() || between.is_without_scatter() {
        return because(
            Confounded::NoScatter,
            "The flights agree to the last digit and none has an error of its own, so nothing tells \
             how far the gain can be trusted.",
            "Check whether speeds were copied or rounded; enter each pass with its own time or speed.",
        );
    }
    let alone = [
        Design::within_days(flights, &[]),
        Design::day_means(flights, &[]),
    ];
    if !covariates.is_empty() && alone.iter().any(|design| design.effect().is_some()) {
        return because(
            Confounded::FanAndCovariate,
            "The fan cannot be told apart from what is declared as a covariate, or too few flights \
             are left to tell its error.",
            "Fly both fans over the same range of what the covariate tells, or declare fewer \
             covariates.",
        );
    }
    let one_day: Vec<FlightSpeed> = flights
        .iter()
        .map(|f| FlightSpeed { day: 0, ..*f })
        .collect();
    if Design::within_days(&one_day, &[]).fan().is_none() {
        return because(
            Confounded::FanAndAirframe,
            "Each fan has flown on airframes of its own: a difference between the fans and one \
             between the airframes look the same.",
            "Swap the fans between the airframes (or fly both fans in one of them) and fly each \
             combination at least twice, on one day if it can be done.",
        );
    }
    if within.fan().is_some() {
        return because(
            Confounded::NothingRepeated,
            "The flights give a gain but no repetition from which to tell its error.",
            "Fly each fan once more on a day on which both fly.",
        );
    }
    let one_airframe: Vec<FlightSpeed> = flights
        .iter()
        .map(|f| FlightSpeed { airframe: 0, ..*f })
        .collect();
    if !Design::day_means(&one_airframe, &[]).is_estimable() {
        return because(
            Confounded::FanAndDay,
            "Each fan has flown on one day only: a difference between the fans and one between the \
             days look the same.",
            "Fly both fans on one day, two flights each or more, in turn; or each fan on a further \
             day.",
        );
    }
    if between.fan().is_some() {
        return because(
            Confounded::NothingRepeated,
            "With fan and airframe told apart, no day is left from which to tell the error.",
            "Fly both fans on one day with the same airframe, two flights each or more.",
        );
    }
    because(
        Confounded::FanAndAirframeAndDay,
        "Fan, airframe and day change together: their differences cannot be told apart.",
        "Fly both fans on one day with the same airframe, two flights each or more.",
    )
}
