//! Counting loads and events, against references from outside.

use benchborne::physics::gust::{Wing, lift_slope};
use benchborne::stats::clopper_pearson::{clopper_pearson, share};
use benchborne::stats::prediction::{prediction_interval, upper_prediction_bound};
use benchborne::stats::rainflow::{Cycle, crossings, damage, rainflow, reversals};

fn close(a: f64, b: f64, relative: f64) {
    assert!(
        (a - b).abs() <= relative * b.abs().max(1e-300),
        "{a} against {b}"
    );
}

/// ASTM E1049-85, 5.4.4, figure 6: ranges, means and counts in the order in which they close.
#[test]
fn rainflow_of_the_example_in_astm_e1049() {
    let history = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0];
    let expected = [
        (3.0, -0.5, 0.5),
        (4.0, -1.0, 0.5),
        (4.0, 1.0, 1.0),
        (8.0, 1.0, 0.5),
        (9.0, 0.5, 0.5),
        (8.0, 0.0, 0.5),
        (6.0, 1.0, 0.5),
    ];
    let found: Vec<_> = rainflow(history)
        .iter()
        .map(|c| (c.range, c.mean, c.count))
        .collect();
    assert_eq!(found, expected);
    // 0.5·27 + 2·... by hand: 0.5·3³ + 1.5·4³ + 0.5·6³ + 1·8³ + 0.5·9³.
    close(
        damage(&rainflow(history), 3),
        13.5 + 96.0 + 108.0 + 512.0 + 364.5,
        1e-12,
    );
}

/// Random sequences counted by the Python library rainflow 3.2.0 (`tests/data/rainflow/random.txt`).
#[test]
fn rainflow_agrees_with_a_library_on_random_sequences() {
    let text = include_str!("../data/rainflow/random.txt");
    let mut sequences: Vec<Vec<f64>> = Vec::new();
    let mut expected: Vec<Vec<Cycle>> = Vec::new();
    for line in text.lines().filter(|l| !l.starts_with('#')) {
        if let Some(rest) = line.strip_prefix("sequence ") {
            let (_, values) = rest.split_once(": ").unwrap();
            sequences.push(values.split(' ').map(|v| v.parse().unwrap()).collect());
            expected.push(Vec::new());
        } else {
            let v: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            expected[v[0] as usize].push(Cycle {
                range: v[1],
                mean: v[2],
                count: v[3],
            });
        }
    }
    assert_eq!(sequences.len(), 3);
    for (sequence, expected) in sequences.into_iter().zip(expected) {
        let found = rainflow(sequence);
        assert_eq!(found.len(), expected.len());
        for (a, b) in found.iter().zip(&expected) {
            // The file keeps four decimals.
            assert!((a.range - b.range).abs() < 6e-5 && (a.mean - b.mean).abs() < 6e-5);
            assert_eq!(a.count, b.count);
        }
    }
}

#[test]
fn reversals_leave_out_plateaus_slopes_and_gaps() {
    let series = [1.0, 1.0, 2.0, 3.0, f64::NAN, 3.0, 2.0, 2.5];
    assert_eq!(reversals(series), [1.0, 3.0, 2.0, 2.5]);
    assert!(rainflow([1.0, 1.0]).is_empty());
    assert!(rainflow([]).is_empty());
}

/// Upward crossings of half levels in the history of ASTM E1049, by hand.
#[test]
fn crossings_of_levels() {
    let history = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0];
    let levels: Vec<f64> = (0..9).map(|k| -3.5 + f64::from(k)).collect();
    let upward = crossings(&history, &levels, -10.0, 0.0);
    assert_eq!(upward, [1, 2, 3, 4, 4, 3, 3, 2, 1]);
    let downward = crossings(&history, &levels, 10.0, 0.0);
    assert_eq!(downward, upward);
}

/// A load that trembles about a level counts once until it has come half of the way back.
#[test]
fn a_tremble_about_a_level_counts_once() {
    let trembling = [1.0, 3.1, 2.9, 3.1, 2.9, 3.1, 1.9, 3.1, 1.0];
    assert_eq!(crossings(&trembling, &[3.0], 1.0, 0.0), [4]);
    assert_eq!(crossings(&trembling, &[3.0], 1.0, 0.5), [2]);
    assert_eq!(
        crossings(&[1.0, -0.5, 0.4, -0.5, 1.0], &[0.0], 1.0, 0.5),
        [1]
    );
}

/// scipy 1.17.1, `binomtest(k, n).proportion_ci(0.95, "exact")`.
#[test]
fn exact_binomial_intervals() {
    for (k, n, low, high) in [
        (0, 8, 0.0, 0.3694166475528192),
        (1, 8, 0.003159723531252275, 0.5265096708751638),
        (3, 10, 0.06673951117773447, 0.652452850060008),
        (10, 10, 0.6915028921812371, 1.0),
        (5, 59, 0.028091256721013407, 0.18679433547169577),
        (7, 7, 0.5903836027749514, 1.0),
        (2, 3, 0.09429932405071303, 0.9915962413403874),
    ] {
        let found = clopper_pearson(k, n, 0.95).unwrap();
        close(found.low, low, 1e-9);
        close(found.high, high, 1e-9);
    }
    assert!(clopper_pearson(0, 0, 0.95).is_none());
    assert!(clopper_pearson(3, 2, 0.95).is_none());
}

/// None of n: at most about 3/n (the rule of three, since ln 0.05 = -2.996), never 0 %.
#[test]
fn none_of_n_is_an_upper_bound() {
    for n in [5, 20, 59, 300] {
        let found = share(0, n, 0.95).unwrap();
        assert_eq!(found.low, 0.0);
        close(found.high, 1.0 - 0.05_f64.powf(1.0 / n as f64), 1e-12);
        let rule = 3.0 / n as f64;
        assert!(
            found.high < rule && found.high > rule * (0.9985 - 1.6 / n as f64),
            "{n}"
        );
    }
    // 59 flights without an event: the 95/95 limit of distribution-free tolerance.
    assert!(share(0, 59, 0.95).unwrap().high < 0.05);
    assert!(share(0, 58, 0.95).unwrap().high > 0.05);
    assert_eq!(share(4, 4, 0.95).unwrap().high, 1.0);
}

/// 14 CFR 23.341(c) by hand in its own units: W/S 17 psf, chord 4.9 ft, slope 4.5/rad at sea level.
#[test]
fn gust_load_factor_after_the_rule() {
    let wing = Wing {
        wing_loading_pa: 17.0 * 47.880_258_98,
        mean_chord_m: 4.9 * 0.3048,
        lift_slope: 4.5,
    };
    let density = 0.0023769 * 515.378_818;
    close(wing.mass_ratio(density), 20.16296309, 1e-4);
    close(wing.alleviation(density), 0.69683200, 1e-4);
    for (feet, knots, rule) in [(50.0, 110.0, 3.037159464), (25.0, 140.0, 2.296374204)] {
        let increment = wing.gust_increment(feet * 0.3048, knots * 1852.0 / 3600.0, density);
        // The rule's 498 is 498.535 rounded: 0.107 % more of the increment.
        close(increment, (rule - 1.0) / (498.535 / 498.0), 2e-4);
        close(1.0 + increment, rule, 1.1e-3);
    }
}

/// 2·pi for an infinite wing; 4.19 for an aspect ratio of 4.
#[test]
fn lift_slope_of_a_wing() {
    close(
        lift_slope(2.0, 1.0),
        std::f64::consts::TAU * 4.0 / 6.0,
        1e-12,
    );
    close(lift_slope(1e6, 1.0), std::f64::consts::TAU, 1e-9);
}

/// Hahn and Meeker's factor for n = 5, 95 % two-sided: t(0.975, 4)·sqrt(1.2) = 3.0414 (t of any table).
#[test]
fn prediction_of_one_further_value() {
    let x = [51.4, 49.5, 48.7, 49.3, 51.6];
    let (low, high) = prediction_interval(&x, 0.95).unwrap();
    let (mean, sd) = (benchborne::stats::mean(&x), benchborne::stats::sd(&x));
    close((high - low) / (2.0 * sd), 2.776_445 * 1.2_f64.sqrt(), 1e-6);
    close(0.5 * (high + low), mean, 1e-12);
    let bound = upper_prediction_bound(&x, 0.95).unwrap();
    close((bound - mean) / sd, 2.131_847 * 1.2_f64.sqrt(), 1e-6);
    assert!(upper_prediction_bound(&[1.0], 0.95).is_none());
}
