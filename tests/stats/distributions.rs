use benchborne::stats::distributions::{f_upper_p, t_two_sided_p};
use benchborne::stats::{noncentral_t, normal_cdf, normal_quantile, t_cdf, t_quantile};

use super::close;

/// Student's t: two-sided 95 % points of the usual table, five digits [M]; 19 degrees of freedom
/// from GUM G.4.1 [C].
#[test]
fn t_table() {
    for (df, t) in [
        (1.0, 12.7062),
        (2.0, 4.30265),
        (4.0, 2.77645),
        (10.0, 2.22814),
        (30.0, 2.04227),
        (120.0, 1.97993),
        (f64::INFINITY, 1.95996),
    ] {
        close(t_quantile(0.975, df), t, 3e-6);
        close(t_quantile(0.025, df), -t, 3e-6);
    }
    close(t_quantile(0.975, 19.0), 2.0930240544, 1e-10);
    // One degree of freedom is the Cauchy distribution: tan(π·(p − ½)).
    close(
        t_quantile(0.9, 1.0),
        (0.4 * std::f64::consts::PI).tan(),
        1e-12,
    );
    close(t_cdf(1.0, 1.0), 0.75, 1e-12);
    // Two: t/(2·sqrt(2 + t²)) + ½.
    close(t_cdf(2.0, 2.0), 0.5 + 1.0 / 6.0_f64.sqrt(), 1e-12);
    assert!(t_quantile(1.5, 3.0).is_nan() && t_quantile(0.5, 0.0).is_nan());
    assert_eq!(t_quantile(0.5, 3.0), 0.0);
}

/// Quantile and distribution function undo each other, also where the formula changes.
#[test]
fn t_there_and_back() {
    for df in [1.0, 2.5, 7.0, 99.0, 9_999.0, 10_001.0, 1e7] {
        for p in [1e-6, 0.01, 0.2, 0.5, 0.77, 0.999] {
            close(t_cdf(t_quantile(p, df), df), p, 1e-11);
        }
    }
    close(
        t_two_sided_p(2.0, 9_999.999),
        t_two_sided_p(2.0, 10_000.001),
        1e-7,
    );
    close(
        t_two_sided_p(5.0, 9_999.999),
        t_two_sided_p(5.0, 10_000.001),
        1e-6,
    );
}

/// Standard normal, table values [M].
#[test]
fn normal() {
    close(normal_quantile(0.975), 1.959963984540054, 1e-9);
    close(normal_quantile(0.95), 1.6448536269514722, 1e-9);
    // The erfc underneath is good to 2e-11.
    close(normal_cdf(1.0), 0.8413447460685429, 1e-10);
    close(normal_cdf(-8.0), 6.220960574271785e-16, 1e-9);
}

/// F: the square of t with one numerator degree of freedom.
#[test]
fn f_is_the_square_of_t() {
    close(
        f_upper_p(2.5_f64.powi(2), 1.0, 12.0),
        t_two_sided_p(2.5, 12.0),
        1e-12,
    );
    // 95 % point of F(3, 10), table [M].
    close(f_upper_p(3.7083, 3.0, 10.0), 0.05, 1e-4);
}

/// With no offset the noncentral t is Student's t.
#[test]
fn noncentral_t_without_offset() {
    for df in [1.0, 2.0, 5.0, 30.0, 300.0] {
        for t in [-3.0, -0.4, 0.0, 1.7, 6.0] {
            close(noncentral_t::cdf(t, df, 0.0), t_cdf(t, df), 1e-9);
        }
    }
    close(
        noncentral_t::quantile(0.9, 4.0, 0.0),
        t_quantile(0.9, 4.0),
        1e-9,
    );
}
