//! JCGM 100:2008 (the GUM), examples as quoted by public implementations [V] and evaluated without
//! rounding [C].

use benchborne::stats::gum::{
    Input, combine, covariance, propagate, rectangular, resolution, sensitivities,
    welch_satterthwaite,
};
use benchborne::stats::{mean, sd, t_quantile, to_its_uncertainty};

use super::close;

#[test]
fn power_from_volts_and_amps() {
    close(resolution(0.1), 0.0288675135, 2e-9);
    let inputs = [
        Input::known(22.2, rectangular(0.05)),
        Input::known(90.0, 1.8),
    ];
    let power = propagate(|x| x[0] * x[1], &inputs, &[]);
    close(power.value, 1998.0, 1e-12);
    close(power.u, 40.04437039, 1e-9);
    let given = combine(1998.0, vec![90.0, 22.2], &inputs, &[]);
    close(given.u, power.u, 1e-9);
    assert_eq!(given.df, f64::INFINITY);
}

/// G.4.1 [inputs M, C].
#[test]
fn effective_degrees_of_freedom() {
    let parts = [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)];
    let u = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
    close(u, 1.0294659, 1e-7);
    let df = welch_satterthwaite(u, parts.into_iter());
    close(df, 18.99874, 1e-6);
    close(t_quantile(0.975, 19.0), 2.0930240544, 1e-10);
}

/// H.1, end gauge: u_c 32 nm, 16 degrees of freedom, U99 93 nm.
#[test]
fn end_gauge() {
    let inputs = [
        Input {
            value: 50_000_623.0,
            u: 25.0,
            df: 18.0,
        },
        Input {
            value: 215.0,
            u: 9.7,
            df: 25.6,
        },
        Input {
            value: 0.0,
            u: 0.58e-6,
            df: 50.0,
        },
        Input::known(-0.1, 0.41),
        Input::known(11.5e-6, 1.2e-6),
        Input {
            value: 0.0,
            u: 0.029,
            df: 2.0,
        },
    ];
    let model = |x: &[f64]| x[0] + x[1] - x[0] * (x[2] * x[3] + x[4] * x[5]);
    let length = propagate(model, &inputs, &[]);
    close(length.value, 50_000_838.0, 1e-12);
    let contribution = |i: usize| (length.sensitivities[i] * inputs[i].u).abs();
    for (i, nm, digit) in [
        (0, 25.0, 0.05),
        (1, 9.7, 0.05),
        (2, 2.9, 0.05),
        (5, 16.7, 0.05),
    ] {
        assert!(
            (contribution(i) - nm).abs() <= digit,
            "input {i}: {}",
            contribution(i)
        );
    }
    assert!(contribution(3) < 1e-3 && contribution(4) < 1e-3);
    assert_eq!(length.u.round(), 32.0);
    assert_eq!(length.df.floor(), 16.0);
    // Before rounding [C].
    close(length.u, 31.71060964, 1e-9);
    close(length.df, 16.65606, 1e-6);
    let k = t_quantile(0.995, 16.0);
    close(k, 2.92078162, 1e-8);
    assert_eq!((k * length.u).ceil(), 93.0);
}

/// H.2: resistance, reactance and impedance from correlated readings.
#[test]
fn correlated_readings() {
    let v = [5.007, 4.994, 5.005, 4.990, 4.999];
    let i = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3];
    let phi = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let input = |x: &[f64]| Input::known(mean(x), sd(x) / 5.0_f64.sqrt());
    let correlation = |x: &[f64], y: &[f64]| {
        let (mx, my) = (mean(x), mean(y));
        let sum: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
        sum / (4.0 * sd(x) * sd(y))
    };
    let inputs = [input(&v), input(&i), input(&phi)];
    close(inputs[0].u, 3.20936131e-3, 1e-8);
    close(inputs[1].u, 9.47100839e-6, 1e-8);
    close(inputs[2].u, 7.52063827e-4, 1e-8);
    let r = [
        (0, 1, correlation(&v, &i)),
        (0, 2, correlation(&v, &phi)),
        (1, 2, correlation(&i, &phi)),
    ];
    close(r[0].2, -0.35531122, 1e-7);
    close(r[1].2, 0.85762421, 1e-7);
    // Published −0.65; digits from exact fractions.
    close(r[2].2, -0.6451112177, 1e-9);
    let models: [fn(&[f64]) -> f64; 3] = [
        |x| x[0] / x[1] * x[2].cos(),
        |x| x[0] / x[1] * x[2].sin(),
        |x| x[0] / x[1],
    ];
    let expected = [
        (127.73216993, 0.07107141),
        (219.84651191, 0.29558168),
        (254.25970195, 0.23633613),
    ];
    let results: Vec<_> = models.iter().map(|f| propagate(f, &inputs, &r)).collect();
    for (result, (value, u)) in results.iter().zip(expected) {
        close(result.value, value, 1e-10);
        close(result.u, u, 1e-6);
    }
    let between = |a: usize, b: usize| {
        let (x, y) = (&results[a], &results[b]);
        covariance(&x.sensitivities, &y.sensitivities, &inputs, &r) / (x.u * y.u)
    };
    close(between(0, 1), -0.58842978, 1e-5);
    close(between(0, 2), -0.48525922, 1e-5);
    close(between(1, 2), 0.99251165, 1e-6);
    // Without the correlations the uncertainty of R would be several times too large.
    assert!(propagate(models[0], &inputs, &[]).u > 2.0 * results[0].u);
}

#[test]
fn a_certain_input_has_no_part() {
    let inputs = [Input::known(2.0, 0.0), Input::known(3.0, 0.1)];
    assert_eq!(sensitivities(|x| x[0] * x[1], &inputs)[0], 0.0);
    close(propagate(|x| x[0] * x[1], &inputs, &[]).u, 0.2, 1e-9);
}

/// Two results 3 apart with a joint standard uncertainty of 1: the expected square of their difference
/// is 2·between² + 1, so between = 2 (arithmetic). Within twice the joint uncertainty nothing is said.
#[test]
fn what_two_methods_differ_by() {
    use benchborne::stats::disagreement::between_methods;
    assert!((between_methods(3.0, 1.0) - 2.0).abs() < 1e-12);
    assert!((between_methods(-3.0, 1.0) - 2.0).abs() < 1e-12);
    assert_eq!(between_methods(2.0, 1.0), 0.0);
    assert_eq!(between_methods(0.0, 0.0), 0.0);
}

/// 7.2.6: a resistance of 10.057 62 ohm known to 27 milliohm is no more than 10.058 ohm. Here in binary
/// digits: what is left out is less than a quarter of the uncertainty, and stands in it.
#[test]
fn values_have_the_digits_that_they_are_worth() {
    let (value, u) = to_its_uncertainty(10.057_62, 0.027);
    close(value, 10.0546875, 1e-15);
    assert!(
        u >= 0.027_f64.hypot(rectangular(0.5 / 128.0)) && u < 1.0625 * 0.0271,
        "{u}"
    );
    for k in 1..2_000 {
        let (exact, own) = (1.0 + 1e-3 * f64::from(k), 1e-4 * f64::from(k % 97 + 1));
        let (value, u) = to_its_uncertainty(exact, own);
        assert!(
            (value - exact).abs() <= 0.25 * own * (1.0 + 1e-12),
            "{exact} {own}"
        );
        assert!(u >= own && u <= 1.08 * own, "{own} {u}");
    }
    // A little learned moves neither, mostly.
    let same = |k: &i32| {
        let moved = 0.01 * 0.02 * f64::from(*k);
        to_its_uncertainty(2.5 + moved, 0.02) == to_its_uncertainty(2.5, 0.02)
    };
    assert!((0..20).all(|k| same(&k)) && !same(&60));
    assert_eq!(to_its_uncertainty(2.5, 0.0), (2.5, 0.0));
    assert!(to_its_uncertainty(f64::NAN, 1.0).0.is_nan());
}
