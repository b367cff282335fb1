//! Variance components, the chance that a verdict is settled, the order of flights, and the planner's
//! promise against simulated seasons with fixed seeds.

use benchborne::stats::chance::{Precision, Rule, airframes_chance, chance};
use benchborne::stats::components::{USUAL_FLIGHT_SD, components};
use benchborne::stats::distributions::{chi_square_quantile, f_quantile};
use benchborne::stats::flying_order::{lean, order};
use benchborne::stats::mover::Bounds;
use benchborne::stats::observed::{FlightSpeed, Model, observed_gain};
use benchborne::stats::planning::{Most, Plan, Scatter, Slot, Target, Way, precision, smallest};
use benchborne::stats::power::{Sides, t_test_power};
use benchborne::stats::t_quantile;
use benchborne::stats::verdict::{Evidence, Verdict, verdict};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::close;

const SCATTER: Scatter = Scatter {
    flight: 0.006,
    day: 0.010,
};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

fn slot(day: usize, candidate: bool, airframe: usize) -> Slot {
    Slot {
        day,
        candidate,
        airframe,
    }
}

/// Flights of an arrangement; the airframe effect is 3 %.
fn fly(slots: &[Slot], log_gain: f64, scatter: Scatter, rng: &mut ChaCha8Rng) -> Vec<FlightSpeed> {
    let days: Vec<f64> = (0..40).map(|_| scatter.day * normal(rng)).collect();
    slots
        .iter()
        .map(|s| FlightSpeed {
            log_speed: 4.0
                + days[s.day]
                + 0.03 * s.airframe as f64
                + log_gain * f64::from(s.candidate)
                + scatter.flight * normal(rng),
            se: None,
            day: s.day,
            candidate: s.candidate,
            airframe: s.airframe,
        })
        .collect()
}

/// [C]
#[test]
fn quantiles() {
    close(chi_square_quantile(0.025, 3.0), 0.21579528262389785, 1e-9);
    close(chi_square_quantile(0.975, 3.0), 9.348403604496148, 1e-9);
    close(chi_square_quantile(0.5, 20.0), 19.337429229428256, 1e-9);
    close(f_quantile(0.025, 4.0, 20.0), 0.11682320526524602, 1e-9);
    close(f_quantile(0.975, 4.0, 20.0), 3.51469516225841, 1e-9);
    close(f_quantile(0.95, 1.0, 3.0), 10.127964486013925, 1e-9);
}

/// NIST StRD SiRstv with the instruments as days: variance within 1.0831828e-2, between 3.9094748e-4
/// [C]; the interval of the first from chi-square by hand [D].
#[test]
fn components_of_nist_data() {
    let flights: Vec<FlightSpeed> = super::regression::silicon_resistivity()
        .iter()
        .enumerate()
        .flat_map(|(day, values)| {
            values.iter().map(move |v| FlightSpeed {
                log_speed: *v,
                se: Some(0.02),
                day,
                candidate: false,
                airframe: 0,
            })
        })
        .collect();
    let found = components(&flights, &[4; 25]);
    close(found.flight.sd.powi(2), 1.0831828e-2, 1e-7);
    close(found.day.sd.powi(2), 3.9094748e-4, 1e-6);
    assert_eq!((found.flight.df, found.day.df), (20, 4));
    close(
        found.flight.high.unwrap(),
        found.flight.sd * (20.0 / chi_square_quantile(0.025, 20.0)).sqrt(),
        1e-9,
    );
    // Williams and Tukey's limits by hand: 0 below, since F is 1.18 only.
    assert_eq!(found.day.low, Some(0.0));
    let (between, within) = (5.11462616e-2 / 4.0, 2.1663656e-1 / 20.0);
    let upper = 4.0 * (between - within * f_quantile(0.025, 4.0, 20.0))
        / (5.0 * chi_square_quantile(0.025, 4.0));
    close(found.day.high.unwrap(), upper.sqrt(), 1e-6);
    // A pass scatters by twice the standard error of a mean of four.
    close(found.pass_sd.unwrap(), 0.04, 1e-12);
    // Twice the passes halve their part of the variance.
    let with_eight = found.flight_sd_with(8.0, 4.0).powi(2);
    close(found.flight.sd.powi(2) - with_eight, 0.0002, 1e-9);
}

/// Unbalanced seasons with both fans and two airframes: the components are right on average, their
/// intervals hold the truth.
#[test]
fn components_of_simulated_seasons() {
    let mut slots = Vec::new();
    for day in 0..8 {
        for i in 0..(2 + day % 3) {
            slots.push(slot(day, (i + day) % 2 == 0, (i + day / 2) % 2));
        }
    }
    let (mut flight, mut day, mut held) = (0.0, 0.0, [0, 0]);
    const SEASONS: u64 = 1000;
    for seed in 0..SEASONS {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let found = components(&fly(&slots, 0.02, SCATTER, &mut rng), &[]);
        assert!(!found.flight.assumed && !found.day.assumed);
        flight += found.flight.sd.powi(2) / SEASONS as f64;
        day += found.day.sd.powi(2) / SEASONS as f64;
        for (i, (spread, truth)) in [(found.flight, SCATTER.flight), (found.day, SCATTER.day)]
            .into_iter()
            .enumerate()
        {
            let (low, high) = (spread.low.unwrap(), spread.high.unwrap());
            held[i] += usize::from((low..=high).contains(&truth));
        }
    }
    // Standard errors of the means: 1.2 and 1.8 %; cutting at 0 adds less than 1 %.
    close(flight, SCATTER.flight.powi(2), 0.04);
    close(day, SCATTER.day.powi(2), 0.06);
    // Binomial at 95 %: below 930 or above 970 once in 270.
    assert!(held.iter().all(|h| (930..=970).contains(h)), "{held:?}");
}

#[test]
fn too_few_flights_have_no_scatter_of_their_own() {
    let slots = [slot(0, false, 0), slot(0, true, 0), slot(1, true, 0)];
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let found = components(&fly(&slots, 0.0, SCATTER, &mut rng), &[]);
    assert!(found.flight.assumed && found.day.assumed && found.flight.high.is_none());
    assert_eq!(found.flight.sd, USUAL_FLIGHT_SD);
    assert!(components(&[], &[]).flight.assumed);
}

/// The chance of a two-sided t test is the noncentral t's: 20 a group, half a standard deviation,
/// 0.33793903 [C]; 64 a group, 0.8 (Cohen 1992 [M]).
#[test]
fn chance_of_a_t_test() {
    for (n, expected) in [(20, 0.33793903), (64, 0.8014596)] {
        let df = 2 * n - 2;
        let at = Precision::new((2.0 / n as f64).sqrt(), df as f64);
        let critical = t_quantile(0.975, df as f64);
        let found = chance(at, 0.5, &[], |b, se| b.abs() > critical * se);
        close(found, expected, 1e-4);
        let t = t_test_power(0.5 / at.se, df as f64, 0.05, Sides::Two);
        close(found, t, 1e-4);
    }
    let nothing = Precision::new(0.01, 0.0);
    assert_eq!(chance(nothing, 0.0, &[], |_, _| true), 0.0);
    let one = Precision::new(0.01, 1.0);
    close(chance(one, 0.0, &[], |_, _| true), 1.0, 1e-4);
}

/// Two one-sided tests: power of the published sample sizes for a cross-over of two treatments, limits
/// 0.80 to 1.25, true ratio 0.95 (20 subjects at a coefficient of variation of 20 %, 28 at 25 %, 40 at
/// 30 %) [M]; digits by integration over the scatter [C].
#[test]
fn chance_of_two_one_sided_tests() {
    for (cv, n, expected) in [
        (0.20_f64, 20_usize, 0.8346802),
        (0.25, 28, 0.8074395),
        (0.30, 40, 0.8158453),
    ] {
        let within = (cv * cv).ln_1p().sqrt();
        let at = Precision::new(within * (2.0 / n as f64).sqrt(), n as f64 - 2.0);
        let t = t_quantile(0.95, at.df);
        let (low, high) = (0.8_f64.ln(), 1.25_f64.ln());
        let says = |b: f64, se: f64| b - t * se > low && b + t * se < high;
        close(chance(at, 0.95_f64.ln(), &[0.0], says), expected, 1e-4);
    }
    // The rule's margins are of the ratio, so not symmetric in its logarithm [C].
    for (se, df, truth, expected) in [
        (0.006, 5.0, 0.0, 0.7733433),
        (0.008, 3.0, 0.003, 0.3440767),
        (0.004, 12.0, 0.005, 0.9668330),
    ] {
        let rule = plain(0.02);
        let found = rule.chance(Precision::new(se, df), truth);
        assert!((found - expected).abs() < 1e-3, "{found} for {expected}");
    }
}

fn plain(margin: f64) -> Rule {
    Rule {
        margin,
        band: None,
        common_pack: 0.0,
        common_compared: 0.0,
        compared_less_pack: None,
    }
}

/// A band of 4 ± 0.6 to 5 ± 0.6 %, as the bench gives it.
fn with_band() -> Rule {
    let end = |value: f64| Bounds::from_u(value, 0.003, f64::INFINITY);
    Rule {
        band: Some((end(0.04), end(0.05))),
        compared_less_pack: Some(0.004),
        common_pack: 0.002,
        common_compared: 0.001,
        ..plain(0.02)
    }
}

/// The whole rule against counting: draws of the coefficient and its standard error.
#[test]
fn chance_of_the_verdict_rule() {
    const DRAWS: usize = 20_000;
    let rule = with_band();
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    for (df, se) in [(3, 0.006), (8, 0.005), (15, 0.003)] {
        let (t95, t90) = (t_quantile(0.975, df as f64), t_quantile(0.95, df as f64));
        for truth in [0.0_f64, 0.02, 0.036] {
            let mut right = 0;
            for _ in 0..DRAWS {
                let b = truth + se * normal(&mut rng);
                let chi: f64 = (0..df).map(|_| normal(&mut rng).powi(2)).sum();
                let shown = se * (chi / df as f64).sqrt();
                let bounds = |b: f64, common: f64| {
                    let h95 = (t95 * shown).hypot(1.959963985 * common);
                    let h90 = (t90 * shown).hypot(1.644853627 * common);
                    Bounds {
                        value: b.exp_m1(),
                        low: (b - h95).exp_m1(),
                        high: (b + h95).exp_m1(),
                        low90: (b - h90).exp_m1(),
                        high90: (b + h90).exp_m1(),
                    }
                };
                let v = verdict(&Evidence {
                    same_pack: Some(bounds(b, 0.002)),
                    compared: Some(bounds(b + 0.004, 0.001)),
                    margin: 0.02,
                    band: rule.band,
                    static_gain: None,
                });
                let compared = (truth + 0.004).exp_m1();
                right += usize::from(match v {
                    Verdict::NoDifferenceThatMatters { .. } => truth.exp_m1() < 0.02,
                    Verdict::CarriedOver => compared >= 0.02,
                    Verdict::PartlyCarriedOver => compared < 0.04,
                    Verdict::MoreThanTheReferenceCases => compared > 0.05,
                    Verdict::Worse => truth < 0.0,
                    _ => false,
                });
            }
            let counted = right as f64 / DRAWS as f64;
            let found = rule.chance(Precision::new(se, df as f64), truth);
            // Three and a half standard errors of the count, and the integration's own error.
            let allowed = 3.5 * (0.25 / DRAWS as f64).sqrt() + 0.001;
            assert!(
                (found - counted).abs() < allowed,
                "df {df}, truth {truth}: {found} against {counted}"
            );
        }
    }
}

/// The planner's precision is that of the model which the analysis takes for the same flights.
#[test]
fn precision_is_that_of_the_analysis() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let (mut within, mut between, mut none) = (0, 0, 0);
    for _ in 0..300 {
        let n = rng.random_range(2..12);
        let (days, airframes) = (rng.random_range(1..7), rng.random_range(1..3));
        let slots: Vec<Slot> = (0..n)
            .map(|_| {
                let day = rng.random_range(0..days);
                // Some seasons have a fan a day.
                let candidate = if days > 3 { day % 2 == 0 } else { rng.random() };
                slot(day, candidate, rng.random_range(0..airframes))
            })
            .collect();
        let flights = fly(&slots, 0.02, SCATTER, &mut rng);
        let analysed = observed_gain(&flights, 1);
        let planned = precision(&slots, Target::Fan, SCATTER);
        match (analysed.effect, planned) {
            (Some(effect), Some(planned)) => {
                match analysed.model {
                    // Those found are never above the design's, which the planner's scatter has.
                    Model::WithinDays => {
                        assert!(effect.df <= planned.df + 1e-9);
                        let may_be = |df: &f64| (1.0..=planned.df + 1e-9).contains(df);
                        assert!(planned.limits.iter().all(may_be), "{planned:?}");
                    }
                    _ => close(planned.limits[0], effect.df, 1e-9),
                }
                let of_day = |day: usize| -> f64 {
                    slots
                        .iter()
                        .zip(&effect.influence)
                        .filter(|(s, _)| s.day == day)
                        .map(|(_, share)| share)
                        .sum()
                };
                let days: f64 = (0..7).map(|d| (SCATTER.day * of_day(d)).powi(2)).sum();
                let flights: f64 = effect
                    .influence
                    .iter()
                    .map(|share| (SCATTER.flight * share).powi(2))
                    .sum();
                close(planned.se, (days + flights).sqrt(), 1e-6);
                match analysed.model {
                    Model::WithinDays => within += 1,
                    _ => between += 1,
                }
            }
            (None, None) => none += 1,
            (analysed, planned) => panic!("{slots:?}: {analysed:?} {planned:?}"),
        }
    }
    assert!(
        within > 50 && between > 20 && none > 20,
        "{within} {between} {none}"
    );
}

/// A straight drift over the day cannot be told from nothing by the fans: no lean on any day with
/// even numbers, none over two days with odd ones.
#[test]
fn order_is_orthogonal_to_drift() {
    for (a, b) in [(2, 2), (4, 4), (2, 4), (4, 2), (1, 2), (2, 1), (6, 6)] {
        for mirrored in [false, true] {
            let day = order(a, b, mirrored);
            assert_eq!(day.iter().filter(|c| **c).count(), b);
            assert_eq!(day.len(), a + b);
            close(lean(&day, 1), 0.0, 1e-12);
        }
    }
    for (a, b) in [(1, 1), (3, 3), (5, 5), (3, 2), (2, 3)] {
        let (one, other) = (order(a, b, false), order(a, b, true));
        close(lean(&one, 1) + lean(&other, 1), 0.0, 1e-12);
        assert!(lean(&one, 1).abs() <= 1.0);
    }
    let words =
        |order: Vec<bool>| -> String { order.iter().map(|c| if *c { 'B' } else { 'A' }).collect() };
    assert_eq!(words(order(2, 2, false)), "ABBA");
    assert_eq!(words(order(2, 2, true)), "BAAB");
    // No bend either with four each (Thue and Morse's order).
    let eight = order(4, 4, false);
    close(lean(&eight, 2), 0.0, 1e-12);
    assert!(order(0, 0, false).is_empty());
}

/// The same through the analysis: a drift of half a percent from flight to flight leaves the planned
/// seasons' gain where it is; flown A A B B it would not.
#[test]
fn drift_does_not_reach_the_gain() {
    let drifting = |slots: &[Slot]| -> f64 {
        let mut place = std::collections::BTreeMap::new();
        let flights: Vec<FlightSpeed> = slots
            .iter()
            .map(|s| {
                let i: &mut usize = place.entry(s.day).or_default();
                *i += 1;
                FlightSpeed {
                    log_speed: 4.0 + 0.04 * f64::from(s.candidate) + 0.005 * *i as f64,
                    se: None,
                    day: s.day,
                    candidate: s.candidate,
                    airframe: s.airframe,
                }
            })
            .collect();
        observed_gain(&flights, 1).effect.unwrap().coefficient
    };
    let most = Most {
        days: 8,
        flights_a_day: 6,
    };
    for way in [Way::ChangedAtTheField, Way::CrossedOver] {
        for se in [0.008, 0.005, 0.003] {
            let plan = smallest(&[], way, (0, 1), Target::Fan, SCATTER, most, |p| p.se < se);
            let plan = plan.unwrap();
            close(drifting(&plan.flights), 0.04, 1e-9);
        }
    }
    let careless = [false, false, true, true].map(|c| slot(0, c, 0));
    close(drifting(&careless), 0.05, 1e-9);
}

/// Where fan and airframe are confounded the plan crosses them over; then the gain is estimable.
#[test]
fn plans_cross_over_what_is_confounded() {
    let flown: Vec<Slot> = (0..2)
        .flat_map(|day| [slot(day, false, 0), slot(day, true, 1)])
        .collect();
    assert!(precision(&flown, Target::Fan, SCATTER).is_none());
    let most = Most {
        days: 12,
        flights_a_day: 4,
    };
    for target in [Target::Fan, Target::Airframe] {
        let plan = smallest(
            &flown,
            Way::CrossedOver,
            (0, 1),
            target,
            SCATTER,
            most,
            |p| p.df > 2.9 && p.se < 0.008,
        )
        .unwrap();
        // At once the other way round than flown so far.
        assert!(plan.flights.iter().any(|s| s.candidate && s.airframe == 0));
        assert!(plan.flights.len() <= 6, "{plan:?}");
    }
    // No further flight of one airframe tells the airframes apart.
    let same = smallest(
        &[],
        Way::ChangedAtTheField,
        (0, 0),
        Target::Airframe,
        SCATTER,
        most,
        |_| true,
    );
    assert_eq!(same, None);
}

fn planned(rule: &Rule, way: Way, flown: &[Slot], scatter: Scatter, power: f64) -> Plan {
    let most = Most {
        days: 12,
        flights_a_day: 6,
    };
    smallest(flown, way, (0, 1), Target::Fan, scatter, most, |p| {
        let all = (0.04_f64).ln_1p() - 0.004;
        rule.chance(p, 0.0) >= power && rule.chance(p, all) >= power
    })
    .unwrap()
}

/// Seasons flown by the plan and judged by the analysis settle as often as the plan promises.
#[test]
fn plans_keep_their_promise() {
    const SEASONS: u64 = 1000;
    let rule = with_band();
    let flown = [slot(0, false, 0), slot(0, true, 0), slot(1, true, 0)];
    // One fan a day needs calmer days to be worth planning at all.
    let calm = Scatter {
        flight: 0.006,
        day: 0.004,
    };
    for (way, flown, scatter) in [
        (Way::ChangedAtTheField, &flown[..], SCATTER),
        (Way::ChangedAtTheField, &[], SCATTER),
        (Way::CrossedOver, &[], SCATTER),
        (Way::OneFanADay, &[], calm),
    ] {
        let plan = planned(&rule, way, flown, scatter, 0.8);
        let surer = planned(&rule, way, flown, scatter, 0.9);
        assert!(surer.flights.len() >= plan.flights.len());
        let mut all = flown.to_vec();
        all.extend(&plan.flights);
        for log_gain in [0.0, 0.04_f64.ln_1p() - 0.004] {
            let promised = rule.chance(plan.precision, log_gain);
            assert!(promised >= 0.8);
            let mut right = 0;
            for seed in 0..SEASONS {
                let mut rng = ChaCha8Rng::seed_from_u64(31);
                rng.set_stream(seed);
                // Errors in common: the same for all flights of a season.
                let common = 0.002 * normal(&mut rng);
                let flights = fly(&all, log_gain + common, scatter, &mut rng);
                let effect = observed_gain(&flights, 1).effect.unwrap();
                let pack = effect.bounds(rule.common_pack);
                let shifted = benchborne::stats::observed::Effect {
                    low: ((effect.low.ln_1p()) + 0.004).exp_m1(),
                    high: ((effect.high.ln_1p()) + 0.004).exp_m1(),
                    low90: ((effect.low90.ln_1p()) + 0.004).exp_m1(),
                    high90: ((effect.high90.ln_1p()) + 0.004).exp_m1(),
                    coefficient: effect.coefficient + 0.004,
                    gain: (effect.coefficient + 0.004).exp_m1(),
                    ..effect
                };
                let v = verdict(&Evidence {
                    same_pack: Some(pack),
                    compared: Some(shifted.bounds(rule.common_compared)),
                    margin: rule.margin,
                    band: rule.band,
                    static_gain: None,
                });
                right += usize::from(match v {
                    Verdict::NoDifferenceThatMatters { .. } => log_gain == 0.0,
                    Verdict::CarriedOver => log_gain > 0.0,
                    _ => false,
                });
            }
            let counted = right as f64 / SEASONS as f64;
            // Three standard errors of a share of 0.8; the errors in common, which the chance does not
            // scatter the gain by, take up to two points more.
            assert!(
                counted > promised - 0.058 && counted < promised + 0.058,
                "{way:?}, gain {log_gain}: {counted} for {promised}"
            );
        }
    }
}

/// Alike airframes, and ones that differ by the margin.
#[test]
fn chance_of_the_airframes_rule() {
    let at = Precision::new(0.006, 5.0);
    // Two one-sided tests alone [C], and a difference shown though there is none is not right.
    close(airframes_chance(at, 0.02, 0.0, 0.0), 0.7733433, 1e-3);
    let small = Precision::new(0.002, 20.0);
    assert!(airframes_chance(small, 0.02, 0.0, 0.02_f64.ln_1p()) > 0.9);
    assert!(airframes_chance(small, 0.02, 0.02, 0.0) < 0.01);
}
