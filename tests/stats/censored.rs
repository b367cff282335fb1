//! Censored normal samples. Values from scipy (CensoredData) and a direct maximum [C].

use benchborne::stats::censored::{
    NoFit, Seen, log_likelihood, normal_fit, profile_log_likelihood,
};
use benchborne::stats::normal_quantile;
use benchborne::stats::tolerance::{FEWEST_EXACT, censored_lower_limit, one_sided_deviance, worth};
use benchborne::stats::{mean, sd};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::close;

fn exact(values: &[f64]) -> Vec<Seen> {
    values.iter().map(|v| Seen::Exact(*v)).collect()
}

#[test]
fn right_censored_sample() {
    let mut seen = exact(&[9.2, 10.1, 10.8, 11.5, 9.7]);
    seen.extend([Seen::Above(12.0); 3]);
    let fit = normal_fit(&seen).unwrap();
    close(fit.mean, 11.298532513, 1e-6);
    close(fit.sd, 1.570174058, 1e-6);
    close(fit.log_likelihood, -11.96044909, 1e-6);
    assert_eq!((fit.exact, fit.censored), (5, 3));
    close(
        log_likelihood(&seen, fit.mean, fit.sd),
        fit.log_likelihood,
        1e-9,
    );
}

#[test]
fn left_censored_sample() {
    let mut seen = exact(&[2.3, 1.4, 3.1, 2.0, 2.8]);
    seen.extend([Seen::Below(1.0); 3]);
    let fit = normal_fit(&seen).unwrap();
    close(fit.mean, 1.535727728, 1e-6);
    close(fit.sd, 1.180186177, 1e-6);
}

/// Without censoring it is the plain mean with n below the squares, and the textbook variances.
#[test]
fn uncensored_sample() {
    let values = [9.2, 10.1, 10.8, 11.5, 9.7];
    let fit = normal_fit(&exact(&values)).unwrap();
    close(fit.mean, mean(&values), 1e-12);
    close(fit.sd, sd(&values) * 0.8_f64.sqrt(), 1e-10);
    close(fit.covariance[0][0], fit.sd.powi(2) / 5.0, 1e-9);
    close(fit.covariance[1][1], fit.sd.powi(2) / 10.0, 1e-9);
    close(1.0 + fit.covariance[0][1], 1.0, 1e-9);
}

/// A narrow interval says what its middle says.
#[test]
fn narrow_intervals_are_exact_values() {
    let mut seen = exact(&[9.2, 10.1]);
    seen.extend([10.8, 11.5, 9.7].map(|x| Seen::Between(x - 1e-4, x + 1e-4)));
    let fit = normal_fit(&seen).unwrap();
    let plain = normal_fit(&exact(&[9.2, 10.1, 10.8, 11.5, 9.7])).unwrap();
    close(fit.mean, plain.mean, 1e-7);
    close(fit.sd, plain.sd, 1e-7);
}

#[test]
fn without_two_exact_values_there_is_no_spread() {
    for seen in [
        vec![],
        vec![Seen::Above(12.0); 5],
        vec![Seen::Exact(9.0), Seen::Above(12.0)],
        vec![Seen::Exact(9.0), Seen::Exact(9.0), Seen::Above(12.0)],
    ] {
        assert_eq!(normal_fit(&seen), Err(NoFit::TooFewExact));
    }
    let bad = [Seen::Exact(1.0), Seen::Exact(2.0), Seen::Above(f64::NAN)];
    assert_eq!(normal_fit(&bad), Err(NoFit::BadValue));
    let turned = [Seen::Exact(1.0), Seen::Exact(2.0), Seen::Between(3.0, 2.0)];
    assert_eq!(normal_fit(&turned), Err(NoFit::BadValue));
}

fn any_seen() -> impl Strategy<Value = Seen> {
    (0..4_u8, -50.0..50.0_f64, 0.1..20.0_f64).prop_map(|(kind, x, width)| match kind {
        0 => Seen::Above(x),
        1 => Seen::Below(x),
        2 => Seen::Between(x, x + width),
        _ => Seen::Exact(x),
    })
}

proptest! {
    /// It is the top: no small step in any direction is better.
    #[test]
    fn the_fit_is_the_maximum(mut seen in prop::collection::vec(any_seen(), 0..20), a in -50.0..0.0_f64, b in 1.0..50.0_f64) {
        seen.extend([Seen::Exact(a), Seen::Exact(b)]);
        let fit = normal_fit(&seen).unwrap();
        prop_assert!(fit.sd > 0.0 && fit.mean.is_finite());
        for (m, s) in [(0.01, 0.0), (-0.01, 0.0), (0.0, 0.01), (0.0, -0.01)] {
            let aside = log_likelihood(&seen, fit.mean + m * fit.sd, fit.sd * (1.0 + s));
            prop_assert!(aside <= fit.log_likelihood + 1e-9, "{aside} beside {}", fit.log_likelihood);
        }
    }

    /// Units do not matter.
    #[test]
    fn the_fit_scales(mut seen in prop::collection::vec(any_seen(), 0..20), a in -50.0..0.0_f64, b in 1.0..50.0_f64, shift in -1e4..1e4_f64) {
        seen.extend([Seen::Exact(a), Seen::Exact(b)]);
        let of = |x: f64| 60.0 * (x + shift);
        let moved: Vec<Seen> = seen.iter().map(|s| match *s {
            Seen::Exact(x) => Seen::Exact(of(x)),
            Seen::Above(x) => Seen::Above(of(x)),
            Seen::Below(x) => Seen::Below(of(x)),
            Seen::Between(x, y) => Seen::Between(of(x), of(y)),
        }).collect();
        let (fit, other) = (normal_fit(&seen).unwrap(), normal_fit(&moved).unwrap());
        prop_assert!((of(fit.mean) - other.mean).abs() < 1e-5 * other.sd);
        prop_assert!((60.0 * fit.sd - other.sd).abs() < 1e-5 * other.sd);
    }
}

/// Without censoring the limit is the exact one of ISO 16269-6: mean − 4.2026807·sd at five [C].
#[test]
fn uncensored_limit_is_the_exact_one() {
    let values = [9.2, 10.1, 10.8, 11.5, 9.7];
    let limit = censored_lower_limit(&exact(&values), 0.95, 0.95).unwrap();
    close(limit.limit, mean(&values) - 4.2026807 * sd(&values), 1e-7);
}

/// A bound far below says nothing, one above the rest lifts the limit.
#[test]
fn what_lasted_longer_lifts_the_limit() {
    let values = [300.0, 310.0, 290.0, 305.0, 297.0];
    let plain = censored_lower_limit(&exact(&values), 0.95, 0.95).unwrap();
    let with = |bound: f64| {
        let mut seen = exact(&values);
        seen.push(Seen::Above(bound));
        censored_lower_limit(&seen, 0.95, 0.95).unwrap()
    };
    close(with(100.0).fit.mean, plain.fit.mean, 1e-6);
    assert!(
        with(100.0).limit >= plain.limit,
        "it never lowers what the others say"
    );
    assert!(with(315.0).fit.mean > plain.fit.mean);
    let taken_as_exact = censored_lower_limit(
        &exact(&[300.0, 310.0, 290.0, 305.0, 297.0, 250.0]),
        0.95,
        0.95,
    )
    .unwrap();
    assert!(
        with(250.0).limit > taken_as_exact.limit,
        "a flight landed early is not a flight that emptied its pack early"
    );
}

#[test]
fn a_limit_needs_three_exact_values() {
    let mut seen = exact(&[300.0, 310.0]);
    seen.extend([Seen::Above(280.0); 6]);
    assert_eq!(
        censored_lower_limit(&seen, 0.95, 0.95),
        Err(NoFit::TooFewExact)
    );
}

/// The trial behind the threshold: in at least 95 % of samples (less three standard errors of the
/// trial and one point) the limit lies below the true quantile, whatever cut the values short; and without
/// censoring in no more than that. The limit lies below a place exactly where the place is above the
/// likeliest quantile or loses more likelihood than allowed.
#[test]
fn the_censored_limit_holds() {
    const SAMPLES: usize = 2500;
    let z = -normal_quantile(0.95);
    let allowed: Vec<f64> = (0..=20)
        .map(|n| one_sided_deviance(n.max(2), 0.95, 0.95))
        .collect();
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_125);
    let mut normal = || normal_quantile(rng.random_range(1e-12..1.0));
    for n in [5, 8, 12, 20] {
        for cut_at in ["one bound", "bounds of their own", "once"] {
            for share in [0.0, 0.2, 0.4, 0.6, 0.8] {
                let cut = normal_quantile(1.0 - share);
                let (mut held, mut limits) = (0, 0);
                for sample in 0..SAMPLES {
                    let seen: Vec<Seen> = (0..n)
                        .map(|_| {
                            let value = normal();
                            let other = normal();
                            let bound = match cut_at {
                                "one bound" => cut,
                                "once" if other > cut => -6.0,
                                "once" => 99.0,
                                _ => std::f64::consts::SQRT_2 * cut + other,
                            };
                            if share > 0.0 && value > bound {
                                Seen::Above(bound)
                            } else {
                                Seen::Exact(value)
                            }
                        })
                        .collect();
                    let exact = seen.iter().filter(|s| s.is_exact()).count();
                    if exact < FEWEST_EXACT {
                        continue;
                    }
                    let fit = normal_fit(&seen).unwrap();
                    let lost =
                        2.0 * (fit.log_likelihood - profile_log_likelihood(&seen, z, z).unwrap());
                    let holds = fit.mean + z * fit.sd <= z || lost <= allowed[worth(&seen, &fit)];
                    limits += 1;
                    held += usize::from(holds);
                    // The function itself says the same.
                    if sample % 1000 == 0 {
                        let limit = censored_lower_limit(&seen, 0.95, 0.95).unwrap().limit;
                        assert_eq!(limit <= z, holds, "{limit} {lost}");
                    }
                }
                let got = held as f64 / limits as f64;
                let error = (0.95_f64 * 0.05 / limits as f64).sqrt();
                let case = format!("{n} values, {share} censored at {cut_at}");
                assert!(
                    got >= 0.94 - 3.0 * error,
                    "{case}: held in {got:.3} of {limits}"
                );
                if share == 0.0 {
                    assert!(got <= 0.95 + 3.0 * error, "{case}: held in {got:.3}");
                }
            }
        }
    }
}
