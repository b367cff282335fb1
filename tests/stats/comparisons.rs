use benchborne::stats::holm::holm;
use benchborne::stats::power::{Sides, paired_size, t_test_power, two_sample_size};
use benchborne::stats::tolerance::{distribution_free_size, one_sided_factor};
use benchborne::stats::tost::tost;
use benchborne::stats::welch::{Difference, welch};

use super::close;

/// A set found in many test suites (Rosetta Code, Welch's t-test) [V; C].
fn difference() -> Difference {
    let a = [
        27.5, 21.0, 19.0, 23.6, 17.0, 17.9, 16.9, 20.1, 21.9, 22.6, 23.1, 19.6, 19.0, 21.7, 21.4,
    ];
    let b = [
        27.1, 22.0, 20.8, 23.4, 23.4, 23.5, 25.8, 22.0, 24.8, 20.2, 21.9, 22.1, 22.9, 20.5, 24.4,
    ];
    welch(&a, &b).unwrap()
}

#[test]
fn welch_t_test() {
    let d = difference();
    close(d.t(), -2.455356398286, 1e-11);
    close(d.df, 24.98852929, 1e-9);
    close(d.p(), 0.021378001462867, 1e-10);
    let (low, high) = d.interval(0.95);
    close(low, -3.984096, 1e-6);
    close(high, -0.349237, 1e-5);
    assert!(welch(&[1.0], &[1.0, 2.0]).is_none());
    assert!(welch(&[1.0, 1.0], &[2.0, 2.0]).is_none());
}

/// Two one-sided tests on the same data [C].
#[test]
fn equivalence() {
    let d = difference();
    close(d.se, 0.8824245100, 1e-9);
    let three = tost(d, 3.0);
    close(three.p_lower, 0.17701198, 1e-7);
    close(three.p_upper, 2.084e-6, 1e-3);
    let four = tost(d, 4.0);
    close(four.p(), 0.02408717, 1e-6);
    let (low, high) = d.interval(0.90);
    close(low, -3.67399855, 1e-8);
    close(high, -0.65933478, 1e-7);
    assert!(low > -4.0 && four.p() < 0.05);
    assert!(low < -3.0 && three.p() > 0.05);
}

/// R's help example p.adjust-like: 0.01, 0.04, 0.03, 0.005 (worked by hand [D]).
#[test]
fn holm_adjusts_in_order() {
    let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
    for (got, expected) in adjusted.iter().zip([0.03, 0.06, 0.06, 0.02]) {
        close(*got, expected, 1e-12);
    }
    assert_eq!(holm(&[0.9, 0.8]), [1.0, 1.0]);
}

/// Sample sizes of the two-sample t test at 5 % and power 0.8 [C]; whole numbers as in Cohen 1992,
/// table 2 [M].
#[test]
fn sample_sizes() {
    let two = |d: f64| two_sample_size(d, 0.05, 0.8, Sides::Two).unwrap();
    close(two(0.2), 393.4057, 1e-6);
    close(two(0.5), 63.76561, 1e-6);
    close(two(0.8), 25.52457, 1e-6);
    close(two(1.0), 16.71472, 1e-6);
    close(
        two_sample_size(0.5, 0.05, 0.8, Sides::One).unwrap(),
        50.1508,
        1e-6,
    );
    close(
        paired_size(0.5, 0.05, 0.8, Sides::Two).unwrap(),
        33.3671,
        1e-5,
    );
    close(
        t_test_power(0.5 * 10.0_f64.sqrt(), 38.0, 0.05, Sides::Two),
        0.33793903,
        1e-7,
    );
    assert!(two_sample_size(0.0, 0.05, 0.8, Sides::Two).is_none());
}

/// One-sided tolerance factors: exact values [C; as in ISO 16269-6 tables, M].
#[test]
fn tolerance_factors() {
    for (n, k) in [
        (3, 7.6559001),
        (5, 4.2026807),
        (10, 2.9109634),
        (20, 2.3960017),
        (30, 2.2198375),
    ] {
        close(one_sided_factor(n, 0.95, 0.95), k, 1e-7);
    }
    close(one_sided_factor(10, 0.90, 0.95), 2.3546401, 1e-7);
    close(one_sided_factor(10, 0.99, 0.95), 3.9811178, 1e-7);
    close(one_sided_factor(40, 0.90, 0.99), 1.9017259, 1e-7);
    // NIST handbook 7.2.6.3 prints 1.8752, Natrella's approximation [V]; exact is 1.8739536 [C].
    close(one_sided_factor(43, 0.90, 0.99), 1.8739536, 1e-7);
    // Two values, from the table's first row [M].
    close(one_sided_factor(2, 0.95, 0.95), 26.260, 1e-4);
    assert!(one_sided_factor(1, 0.95, 0.95).is_nan());
}

/// [C]
#[test]
fn distribution_free() {
    assert_eq!(distribution_free_size(0.95, 0.95), Some(59));
    assert_eq!(distribution_free_size(0.90, 0.95), Some(29));
    assert_eq!(distribution_free_size(1.0, 0.95), None);
}
